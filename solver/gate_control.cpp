#include "solver/gate_control.hpp"

#include "solver/tolerance.hpp"

#include <algorithm>
#include <limits>
#include <numeric>

namespace tidemark {

namespace {

bool has_moment(const Moment& moment) {
  return moment.time || moment.reached;
}

} // namespace

bool is_reached(const FillProblem& problem, const FlowSystem& system, const PortRef& port,
                const std::function<bool(std::int32_t)>& is_full) {
  const auto& nodes = port.kind == PortRef::Kind::gate ? problem.gates[port.index].nodes
                                                       : problem.vents[port.index].nodes;
  return std::ranges::all_of(nodes, [&](NodeId node) {
    const std::int32_t unknown = system.unknown[node];
    return unknown < 0 || is_full(unknown);
  });
}

GateControl::GateControl(const FillProblem& problem, const FlowNetwork& network)
    : problem_(problem), network_(network), opened_(problem.gates.size()),
      closed_(problem.gates.size()), root_(problem.gates.size()),
      volume_(problem.gates.size(), 0.0), room_(problem.gates.size(), 0.0) {
  std::iota(root_.begin(), root_.end(), 0);
  for (std::size_t g = 0; g < volume_.size(); ++g) {
    for (const NodeId node : problem.gates[g].nodes) {
      volume_[g] += network.pore_volume[node];
    }
  }
}

bool GateControl::is_due(const Moment& moment, const FlowSystem& system,
                         std::span<const double> fill, double time) const {
  if (moment.time) {
    return time >= nearly * *moment.time;
  }
  const auto is_full = [&](std::int32_t unknown) {
    return fill[static_cast<std::size_t>(unknown)] >= full_fraction;
  };
  return moment.reached && is_reached(problem_, system, *moment.reached, is_full);
}

bool GateControl::update(FlowSystem& system, std::span<double> fill, double time) {
  bool changed = false;
  for (std::size_t g = 0; g < root_.size(); ++g) {
    const Gate& gate = problem_.gates[g];
    if (!opened_[g] && (!has_moment(gate.opens) || is_due(gate.opens, system, fill, time))) {
      opened_[g] = time;
      changed = true;
    }
    if (opened_[g] && !closed_[g] && is_due(gate.closes, system, fill, time)) {
      closed_[g] = time;
      changed = true;
    }
  }
  if (changed) {
    tie(system, fill);
  }
  return changed;
}

void GateControl::tie(FlowSystem& system, std::span<double> fill) {
  std::vector<std::int32_t> roots(root_.size());
  std::int32_t first = -1; // open gate of the shared pump
  for (std::size_t g = 0; g < roots.size(); ++g) {
    roots[g] = static_cast<std::int32_t>(g);
    if (is_open(g) && !problem_.gates[g].own_injector) {
      first = first < 0 ? roots[g] : first;
      roots[g] = first;
    }
  }
  std::vector<double> resin(roots.size(), 0.0);
  std::vector<double> volume(roots.size(), 0.0);
  for (std::size_t g = 0; g < roots.size(); ++g) {
    const auto to = static_cast<std::size_t>(roots[g]);
    const double full = fill[static_cast<std::size_t>(root_[g])];
    room_[g] = (1 - full) * volume_[g];
    resin[to] += full * volume_[g];
    volume[to] += volume_[g];
  }
  for (std::size_t g = 0; g < roots.size(); ++g) {
    fill[g] = volume[g] > 0 ? resin[g] / volume[g] : 1;
  }
  if (roots != root_) {
    root_ = std::move(roots);
    tie_gates(system, network_, problem_.gates, root_);
  }
}

double GateControl::next_time(double time) const {
  double next = std::numeric_limits<double>::infinity();
  const auto consider = [&](const Moment& moment) {
    if (moment.time && time < nearly * *moment.time) {
      next = std::min(next, *moment.time);
    }
  };
  for (std::size_t g = 0; g < root_.size(); ++g) {
    if (!opened_[g]) {
      consider(problem_.gates[g].opens);
    }
    if (!closed_[g]) {
      consider(problem_.gates[g].closes);
    }
  }
  return next;
}

std::vector<PortRef> GateControl::awaited() const {
  std::vector<PortRef> ports;
  for (std::size_t g = 0; g < root_.size(); ++g) {
    if (!opened_[g] && problem_.gates[g].opens.reached) {
      ports.push_back(*problem_.gates[g].opens.reached);
    }
    if (!closed_[g] && problem_.gates[g].closes.reached) {
      ports.push_back(*problem_.gates[g].closes.reached);
    }
  }
  return ports;
}

double GateControl::share_of_cells(std::size_t gate, std::span<const std::size_t> gates) const {
  double room = 0;
  double volume = 0;
  for (const std::size_t g : gates) {
    room += is_open(g) ? room_[g] : 0;
    volume += is_open(g) ? volume_[g] : 0;
  }
  return room > 0 ? room_[gate] / room : volume_[gate] / volume;
}

std::int32_t GateControl::root(std::span<const std::size_t> gates) const {
  for (const std::size_t gate : gates) {
    if (is_open(gate)) {
      return root_[gate];
    }
  }
  return -1;
}

} // namespace tidemark
