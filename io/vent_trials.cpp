#include "io/vent_trials.hpp"

#include "io/json_values.hpp"
#include "io/summary.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"
#include "solver/waiting_gates.hpp"

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

} // namespace

void refuse_awaited_vents(const Case& input, const std::string& command,
                          const std::string& expected) {
  const FillProblem& problem = input.problem;
  for (std::size_t v = 0; v < problem.vents.size(); ++v) {
    const PortRef vent{PortRef::Kind::vent, v};
    for (const std::size_t g : gates_waiting_for(problem, vent)) {
      const Gate& gate = problem.gates[g];
      throw InputError(input.file.string() + ": gate[" + gate.name + "]." +
                       (gate.opens.reached == vent ? "opens" : "closes") + ": found " +
                       quoted_text("when " + problem.vents[v].name + " is reached") +
                       ", expected " + expected + ": " + command +
                       " seeks vents in place of the case's, and the gate would wait for one "
                       "that is no longer there");
    }
  }
}

VentTrial vent_trial_from(const Json& json, std::size_t nodes) {
  VentTrial trial{{}, reason_named(json.at("reason").get<std::string>()), {}};
  for (const Json& node : json.at("vents")) {
    trial.vents.push_back(node_from(node, nodes));
  }
  if (!json.at("next").is_null()) {
    trial.next = node_from(json.at("next"), nodes);
  }
  return trial;
}

bool is_vent_trial(const Json& json) {
  return json.contains("next");
}

VentTrialBook trial_book(RunRecord& record, std::size_t first, std::size_t nodes) {
  std::map<std::size_t, VentTrial> found;
  for (auto run = record.runs().lower_bound(first);
       run != record.runs().end() && run->first < first + most_vent_trials; ++run) {
    if (is_vent_trial(run->second)) {
      found.emplace(run->first - first, record.told(run->first, [nodes](const Json& json) {
        return vent_trial_from(json, nodes);
      }));
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
