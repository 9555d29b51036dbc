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

double mean_height_of_nodes(const FillProblem& problem, std::span<const NodeId> nodes) {
  const Vector3 weight = -problem.resin.density.value_or(0) * *problem.gravity;
  double sum = 0;
  for (const NodeId node : nodes) {
    sum += weight.dot(problem.mesh.positions[node]);
  }
  return sum / static_cast<double>(nodes.size());
}

double mean_height(const FillProblem& problem, std::span<const std::size_t> gates) {
  double sum = 0;
  for (const std::size_t g : gates) {
    sum += mean_height_of_nodes(problem, problem.gates[g].nodes);
  }
  return sum / static_cast<double>(gates.size());
}

GateControl::GateControl(const FillProblem& problem, const FlowNetwork& network,
                         const FlowSystem& system)
    : problem_(problem), network_(network), opened_(problem.gates.size()),
      closed_(problem.gates.size()), root_(system.seats.size()), room_(system.seats.size(), 0.0) {
  std::iota(root_.begin(), root_.end(), 0);
  for (const Seat& seat : system.seats) {
    double volume = 0;
    for (const NodeId node : seat.nodes) {
      volume += network.pore_volume[node];
    }
    gate_of_.push_back(seat.gate);
    volume_.push_back(volume);
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
  for (std::size_t g = 0; g < opened_.size(); ++g) {
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
  std::vector<std::int32_t> first(problem_.gates.size(), -1); // open seat of a gate's own pump
  std::int32_t shared = -1;                                   // of the shared one
  for (std::size_t s = 0; s < roots.size(); ++s) {
    const std::size_t g = gate_of_[s];
    roots[s] = static_cast<std::int32_t>(s);
    if (is_open(g)) {
      std::int32_t& root = problem_.gates[g].own_injector ? first[g] : shared;
      root = root < 0 ? roots[s] : root;
      roots[s] = root;
    }
  }
  std::vector<double> resin(roots.size(), 0.0);
  std::vector<double> volume(roots.size(), 0.0);
  for (std::size_t s = 0; s < roots.size(); ++s) {
    const std::size_t to = position(roots[s]);
    const double full = fill[position(root_[s])];
    room_[s] = (1 - full) * volume_[s];
    resin[to] += full * volume_[s];
    volume[to] += volume_[s];
  }
  for (std::size_t s = 0; s < roots.size(); ++s) {
    fill[s] = volume[s] > 0 ? resin[s] / volume[s] : 1;
  }
  if (roots != root_) {
    root_ = std::move(roots);
    tie_seats(system, network_, root_);
  }
}

double GateControl::next_time(double time) const {
  double next = std::numeric_limits<double>::infinity();
  const auto consider = [&](const Moment& moment) {
    if (moment.time && time < nearly * *moment.time) {
      next = std::min(next, *moment.time);
    }
  };
  for (std::size_t g = 0; g < opened_.size(); ++g) {
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
  for (std::size_t g = 0; g < opened_.size(); ++g) {
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
  double own_room = 0;
  double own_volume = 0;
  for (std::size_t s = 0; s < root_.size(); ++s) {
    const std::size_t g = gate_of_[s];
    if (is_open(g) && std::ranges::find(gates, g) != gates.end()) {
      room += room_[s];
      volume += volume_[s];
      own_room += g == gate ? room_[s] : 0;
      own_volume += g == gate ? volume_[s] : 0;
    }
  }
  return room > 0 ? own_room / room : own_volume / volume;
}

std::int32_t GateControl::root(std::span<const std::size_t> gates) const {
  for (std::size_t s = 0; s < root_.size(); ++s) {
    if (is_open(gate_of_[s]) && std::ranges::find(gates, gate_of_[s]) != gates.end()) {
      return root_[s];
    }
  }
  return -1;
}

} // namespace tidemark
