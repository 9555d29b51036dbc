// The set-up and the loop over time.
#include "solver/beside_channels.hpp"
#include "solver/border_points.hpp"
#include "solver/filling_run.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

namespace tidemark {

double HistoryRow::highest_head() const {
  std::optional<double> highest;
  for (const GateSample& gate : gates) {
    if (gate.head && gate.flow_rate > 0) {
      highest = std::max(highest.value_or(*gate.head), *gate.head);
    }
  }
  return highest.value_or(head_pressure);
}

namespace {

/// The gate each unknown has the strongest link to, -1 if it has none.
std::vector<std::int32_t> gates_beside(const FlowNetwork& network, const FlowSystem& system,
                                       const FillProblem& problem) {
  std::vector<std::int32_t> beside(system.size(), -1);
  std::vector<double> strongest(system.size(), 0.0);
  for (std::size_t g = 0; g < problem.gates.size(); ++g) {
    for (const NodeId node : problem.gates[g].nodes) {
      for (std::size_t k = network.first[node.position()]; k < network.first[node.position() + 1];
           ++k) {
        const auto i = position(system.unknown[network.neighbour[k]]);
        if (network.conductance[k] > strongest[i]) {
          strongest[i] = network.conductance[k];
          beside[i] = static_cast<std::int32_t>(g);
        }
      }
    }
  }
  return beside;
}

/// Nodes of the mesh as it was given, over those of the one that is filled [-].
double share_of_users_nodes(const FillProblem& problem, const FillOptions& options) {
  const std::size_t nodes = problem.mesh.positions.size();
  return static_cast<double>(options.divided_from.value_or(nodes)) / static_cast<double>(nodes);
}

} // namespace

Filling::Filling(FlowNetwork network, const FillProblem& problem, const FillOptions& options)
    : problem_(problem), options_(options), network_(std::move(network)),
      system_(flow_system(network_, problem.gates)),
      pressure_step_(system_, {.fill_tolerance = options.fill_tolerance}),
      arrivals_(system_.size(), gates_beside(network_, system_, problem)),
      gate_control_(problem, network_, system_),
      air_(problem, system_, share_of_users_nodes(problem, options)), fill_(system_.size(), 0.0),
      bled_(problem.vents.size(), 0.0), reference_(front_pressure(problem)),
      standstill_age_(standstill_age(problem.resin)) {
  result_.network = network_.quality;
  result_.pore_volume =
      std::accumulate(network_.pore_volume.begin(), network_.pore_volume.end(), 0.0);
  room_ = std::accumulate(system_.volume.begin(), system_.volume.end(), 0.0);
  reachable_volume_ = room_;
  last_bled_.assign(problem_.vents.size(), 0.0);
  for (const Vent& vent : problem_.vents) {
    vent_hoses_.emplace_back(vent.nodes.size());
  }
  collect_pumps();
  collect_gates();
  collect_heights();
  if (has_unequal_temperatures(problem)) {
    heat_.emplace(problem_, system_);
  }
  if (heat_ || ages_by_parcel(problem.resin)) {
    ages_.emplace(problem_.resin, system_, options_.age_parts, heat_ ? &*heat_ : nullptr);
    for (const Pump& pump : pumps_) {
      const auto& own = problem.gates[pump.gates.front()].own_injector;
      hoses_.emplace_back(own ? own->line : problem.injector.line);
    }
  }
}

/// The shared pump first, if any gate hangs on it, then the gates' own.
void Filling::collect_pumps() {
  std::vector<std::size_t> shared;
  for (std::size_t g = 0; g < problem_.gates.size(); ++g) {
    if (!problem_.gates[g].own_injector) {
      shared.push_back(g);
    }
  }
  if (!shared.empty()) {
    pumps_.emplace_back(problem_.injector, std::move(shared));
  }
  for (std::size_t g = 0; g < problem_.gates.size(); ++g) {
    if (problem_.gates[g].own_injector) {
      pumps_.emplace_back(*problem_.gates[g].own_injector, std::vector{g});
    }
  }
  for (Pump& pump : pumps_) {
    const bool may_block = problem_.sealed_air || thickens(problem_.resin);
    pump.cap = may_block ? std::min(pump.cap, beyond_any_pump) : pump.cap;
  }
  at_cap_.resize(pumps_.size());
}

void Filling::collect_gates() {
  for (std::size_t g = 0; g < problem_.gates.size(); ++g) {
    const Gate& gate = problem_.gates[g];
    std::vector<GateLink> links;
    for (const NodeId node : gate.nodes) {
      for (std::size_t k = network_.first[node.position()]; k < network_.first[node.position() + 1];
           ++k) {
        const NodeId other = network_.neighbour[k];
        if (!std::ranges::binary_search(gate.nodes, other)) {
          links.push_back({other, network_.conductance[k]});
        }
      }
    }
    gate_links_.push_back(std::move(links));
    result_.gates.push_back({gate.name, 0, reference_, std::nullopt, std::nullopt});
  }
}

/// Seats tied to one pump stand at the mean height of all its gates, so does the hose of a vent at
/// that of its nodes.
void Filling::collect_heights() {
  height_.assign(system_.size(), 0.0);
  vent_height_.assign(problem_.vents.size(), 0.0);
  if (!problem_.gravity) {
    return;
  }
  const Vector3 weight = -problem_.resin.density.value_or(0) * *problem_.gravity;
  std::vector<double> count(system_.size(), 0.0);
  for (const NodeId node : system_.order) {
    const auto i = position(system_.unknown[node]);
    height_[i] += weight.dot(problem_.mesh.positions[node]);
    count[i] += 1;
  }
  for (std::size_t i = 0; i < height_.size(); ++i) {
    height_[i] /= std::max(1.0, count[i]);
  }
  for (const Pump& pump : pumps_) {
    if (const std::int32_t root = gate_control_.root(pump.gates); root >= 0) {
      height_[position(root)] = mean_height(problem_, pump.gates);
    }
  }
  for (std::size_t v = 0; v < vent_height_.size(); ++v) {
    vent_height_[v] = mean_height_of_nodes(problem_, problem_.vents[v].nodes);
  }
}

void Filling::open_gates() {
  result_.peak_head_pressure = reference_;
  switch_gates();
  put_pressures(idle_step(0));
  if (problem_.mould) {
    mould_load_.emplace(problem_, pressure_);
  }
  if (room_ <= rounding * reachable_volume_) {
    room_ = 0;
    begin_bleeding();
  } else if (!has_active_pump() && !std::isfinite(time_to_next_switch())) {
    stop(reason_to_stall());
  }
}

namespace {

FillResult fill_on(FlowNetwork network, const FillProblem& problem, const FillOptions& options,
                   const FillWatcher& watcher) {
  Filling filling(std::move(network), problem, options);
  filling.open_gates();
  while (filling.goes_on()) {
    const Step step = filling.next_step();
    filling.advance(step);
    filling.record(step, watcher);
  }
  return filling.finish();
}

} // namespace

FillResult fill(const FillProblem& problem, const FillOptions& options,
                const FillWatcher& watcher) {
  if (options.finer_channels) {
    if (const auto finer = refined_beside_channels(problem)) {
      FillOptions rest = options;
      rest.finer_channels = false;
      rest.divided_from = problem.mesh.positions.size();
      return on_users_nodes(fill(finer->problem, rest, on_users_nodes(watcher, *finer)), *finer);
    }
  }
  FlowNetwork network = flow_network(problem);
  if (const auto refined = refined_at_borders(problem, network)) {
    FillOptions rest = options;
    rest.divided_from = options.divided_from.value_or(problem.mesh.positions.size());
    return on_users_nodes(
        fill_on(std::move(network), refined->problem, rest, on_users_nodes(watcher, *refined)),
        *refined);
  }
  return fill_on(std::move(network), problem, options, watcher);
}

} // namespace tidemark
