#include "io/vent_trials.hpp"

#include "io/summary.hpp"

#include <map>
#include <optional>
#include <string>
#include <utility>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

Json trial_json(const VentTrial& trial) {
  Json vents = Json::array();
  for (const NodeId node : trial.vents) {
    vents.push_back(node.value());
  }
  return {{"vents", vents},
          {"reason", reason_word(trial.reason)},
          {"next", trial.next.valid() ? Json(trial.next.value()) : Json()}};
}

VentTrial trial_from(const Json& json) {
  VentTrial trial{{}, reason_named(json.at("reason").get<std::string>()), {}};
  for (const Json& node : json.at("vents")) {
    trial.vents.push_back(NodeId(node.get<std::int32_t>()));
  }
  if (!json.at("next").is_null()) {
    trial.next = NodeId(json.at("next").get<std::int32_t>());
  }
  return trial;
}

} // namespace

VentTrialBook trial_book(RunRecord& record, std::size_t first) {
  std::map<std::size_t, VentTrial> found;
  for (auto run = record.runs().lower_bound(first);
       run != record.runs().end() && run->first < first + most_vent_trials; ++run) {
    if (run->second.contains("next")) {
      found.emplace(run->first - first, record.told(run->first, trial_from));
    }
  }
  const auto known = [found = std::move(found)](std::size_t number) -> std::optional<VentTrial> {
    const auto trial = found.find(number);
    return trial != found.end() ? std::optional(trial->second) : std::nullopt;
  };
  return {known, [&record, first](std::size_t number, const VentTrial& trial) {
            record.append(first + number, trial_json(trial));
          }};
}

} // namespace tidemark
