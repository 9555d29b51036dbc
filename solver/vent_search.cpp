#include "solver/vent_search.hpp"

#include "solver/tolerance.hpp"

#include <cmath>
#include <string>
#include <utility>

namespace tidemark {

namespace {

using GoesOn = std::function<bool()>;

FillResult fill_with(FillProblem& problem, const std::vector<NodeId>& vents, double pressure,
                     const FillOptions& options, const GoesOn& goes_on) {
  problem.vents.clear();
  problem.cavity_pressure = pressure;
  for (std::size_t i = 0; i < vents.size(); ++i) {
    problem.vents.push_back(vent_at(problem, vents[i], i));
  }
  return fill(problem, options, [&](const StepReport&) { return goes_on(); });
}

/// Of the nodes that are not full the one that is when all air is let out.
NodeId last_of_dry(const FillResult& vented, const FillResult& sealed) {
  NodeId last;
  for (const NodeId node : sealed.fill_fraction.ids()) {
    const double time = vented.fill_time_field[node];
    if (sealed.fill_fraction[node] < full_fraction && !std::isnan(time) &&
        (!last.valid() || time > vented.fill_time_field[last])) {
      last = node;
    }
  }
  return last;
}

} // namespace

Vent vent_at(const FillProblem& problem, NodeId node, std::size_t number) {
  return {"V" + std::to_string(number + 1), {node}, front_pressure(problem)};
}

VentedFill sought_vents(FillProblem problem, const FillOptions& options, const GoesOn& goes_on) {
  constexpr std::size_t most_vents = 12;
  const double pressure = front_pressure(problem);
  problem.sealed_air = false;
  const FillResult vented = fill_with(problem, {}, pressure, options, goes_on);
  if (vented.verdict != Verdict::filled || vented.last_filled.empty()) {
    return {};
  }
  problem.sealed_air = true;
  VentedFill found{{vented.last_filled.front().node}, std::nullopt};
  found.result = fill_with(problem, found.vents, pressure, options, goes_on);
  while (found.result->reason == ShortReason::trapped_air && found.vents.size() < most_vents) {
    const NodeId next = last_of_dry(vented, *found.result);
    if (!next.valid()) {
      break;
    }
    found.vents.push_back(next);
    found.result = fill_with(problem, found.vents, pressure, options, goes_on);
  }
  for (std::size_t i = found.vents.size(); i-- > 0 && found.vents.size() > 1;) {
    if (i + 1 == found.vents.size() || found.result->verdict != Verdict::filled) {
      continue; // without the last it did not fill
    }
    std::vector<NodeId> fewer = found.vents;
    fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(i));
    FillResult result = fill_with(problem, fewer, pressure, options, goes_on);
    if (result.verdict == Verdict::filled) {
      found = {std::move(fewer), std::move(result)};
    }
  }
  return found;
}

} // namespace tidemark
