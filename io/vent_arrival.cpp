#include "io/vent_arrival.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

VentArrival vent_arrival(const FillProblem& problem, const FillResult& result, std::size_t vent) {
  const std::optional<double>& first = result.vents[vent].reached_at;
  const std::vector<NodeId>& nodes = problem.vents[vent].nodes;
  if (!first || nodes.size() == 1) {
    return {first, first};
  }
  double last = *first;
  for (const NodeId node : nodes) {
    const double time = result.fill_time_field[node];
    if (std::isnan(time)) {
      return {first, std::nullopt};
    }
    last = std::max(last, time);
  }
  return {first, last};
}

bool comes_bit_by_bit(const VentArrival& arrival) {
  constexpr double short_while =
      0.02; // own choice: arrivals are known to a step, 1 % of the volume
  return arrival.first &&
         (!arrival.all || *arrival.all - *arrival.first > short_while * *arrival.all);
}

bool is_of_several_places(const FillProblem& problem, const PortRef& port) {
  if (port.kind == PortRef::Kind::vent) {
    return problem.vents[port.index].nodes.size() > 1;
  }
  const Gate& gate = problem.gates[port.index];
  return !gate.radius && gate.nodes.size() > 1;
}

} // namespace tidemark
