#include "solver/filling.hpp"

#include "mesh/error.hpp"
#include "mesh/triangulation.hpp"
#include "solver/air.hpp"
#include "solver/arrival.hpp"
#include "solver/channel_law.hpp"
#include "solver/flow_network.hpp"
#include "solver/flow_system.hpp"
#include "solver/gate_control.hpp"
#include "solver/last_filled.hpp"
#include "solver/mould_load.hpp"
#include "solver/pressure_step.hpp"
#include "solver/pump.hpp"
#include "solver/resin_age.hpp"
#include "solver/resin_heat.hpp"
#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numeric>
#include <span>
#include <string>
#include <utility>

namespace tidemark {

namespace {

constexpr double never = std::numeric_limits<double>::infinity();
constexpr double rounding = 1e-12; // of a volume, as a fraction
/// No pump goes beyond [Pa gauge]; one without a cap stops there when air keeps the resin out.
constexpr double beyond_any_pump = 1e8;

/// A step that has been solved: what it does and what it leads to.
struct Step {
  Interval interval;
  std::vector<Stroke> strokes; // of each pump
  double volume = 0;           // injected [m3]
  std::vector<double> bled;    // out of each vent [m3]
  std::vector<double> impulse; // u of each unknown [-]; empty if nothing flows
  bool completes = false;      // everything reachable is full at its end
  double viscosity = 0;        // that u is taken at: mean over the step of a batch [Pa s]
  /// What left through the vents [m3].
  [[nodiscard]] double volume_bled() const {
    return std::accumulate(bled.begin(), bled.end(), 0.0);
  }
};

/// A link of a gate to a node outside it.
struct GateLink {
  NodeId node;
  double conductance;
};

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

/// Shares of the gel time at the inlet that steps need not be shorter than with heat: own choice. A
/// hundredth of what resin takes that ages so many times faster, and where it runs away no less
/// than a ten-thousandth.
double shortest_share(double ageing) {
  return std::max(1e-2 / std::max(ageing, 1.0), 1e-4);
}

class Filling {
public:
  Filling(const FillProblem& problem, const FillOptions& options);

  void open_gates();
  [[nodiscard]] bool goes_on() const { return !is_over_; }
  Step next_step();
  void advance(const Step& step);
  void record(const Step& step, const FillWatcher& watcher);
  FillResult finish();

private:
  // set-up
  void collect_pumps();
  void collect_gates();
  void collect_heights();
  // the state between steps
  /// Unknowns that are joined, full or not.
  struct Body {
    double room = 0; // [m3]
    bool bleeds = false;
  };
  [[nodiscard]] Body& body_of(std::size_t unknown);
  [[nodiscard]] const Body& body_of(const Pump& pump) const;
  [[nodiscard]] std::vector<double> air_in_gates() const;
  void share_air_of_gates(const std::vector<double>& amount);
  void switch_gates();
  void fill_cells_at_cap();
  [[nodiscard]] bool has_bled(std::size_t vent) const;
  void collect_bodies();
  [[nodiscard]] bool is_active(const Pump& pump) const;
  [[nodiscard]] double lowest_air_pressure() const; // of what is dry, gauge [Pa]
  [[nodiscard]] double highest_cap() const;         // pressure the pumps can bring, gauge [Pa]
  [[nodiscard]] bool has_active_pump() const;
  [[nodiscard]] bool is_level() const;
  [[nodiscard]] double time_left() const;
  [[nodiscard]] double time_to_next_switch() const;
  [[nodiscard]] double set_flow() const;
  [[nodiscard]] bool any_at_cap() const;
  // the resin's age
  [[nodiscard]] bool is_batch_that_thickens() const;
  [[nodiscard]] double batch_age() const;
  [[nodiscard]] double viscosity(double duration) const;
  [[nodiscard]] double viscosity_ratio(std::int32_t unknown) const;
  [[nodiscard]] double longest_for_age() const;
  [[nodiscard]] bool is_thick() const;
  /// What the gates' cells hold before gates are tied or untied.
  struct GateResin {
    std::vector<ResinAge::Share> ages;
    std::vector<ResinHeat::GateContent> heat;
  };
  [[nodiscard]] GateResin resin_in_gates() const;
  void regroup_resin(GateResin resin);
  void carry_resin(const Step& step, std::span<const double> before);
  [[nodiscard]] double mixed_at_head(double time) const;
  [[nodiscard]] double time_to_front_gel() const;
  void judge_ages();
  void put_ages();
  // how long a step may be
  [[nodiscard]] double planned_volume() const;
  [[nodiscard]] double planned_duration(double volume) const;
  [[nodiscard]] double rate_into_cells(const Pump& pump) const;
  [[nodiscard]] double longest_for_bodies() const;
  [[nodiscard]] double longest_for_cells() const;
  [[nodiscard]] double longest_for_pockets() const;
  [[nodiscard]] bool is_large(const AirPiece& piece) const;
  // one step
  void collect_ports(double duration);
  void collect_air(double duration);
  [[nodiscard]] StepInput step_input(double duration);
  double solve_pressures(double duration);
  double solve_to_next_full_cell(double duration);
  [[nodiscard]] double head_pressure(const Pump& pump, double volume, std::size_t root,
                                     double impulse, double duration) const;
  Step trial(double duration);
  Step complementary_step(double duration);
  [[nodiscard]] Pump* pump_over_set_flow(const Step& step, std::vector<std::uint8_t>& keeps_flow);
  Step step_to_switch(Step step);
  [[nodiscard]] double share_until_switch(const Step& step) const;
  Step idle_step(double duration) const;
  [[nodiscard]] std::vector<double> rooms() const;
  std::optional<Step> completing_step(double longest);
  std::optional<Step> completion_of_one_pump();
  std::optional<Step> completion_of_several();
  /// When all is full [s from now], and u of each unknown till then [-].
  struct End {
    double duration;
    std::vector<double> impulse;
  };
  std::optional<End> end_by_flow(const std::vector<double>& room, std::vector<double> given);
  std::optional<End> end_by_pressure(const std::vector<double>& room,
                                     const std::vector<double>& given, std::vector<Port> anchors);
  [[nodiscard]] std::optional<Step> step_to_end(End end, const std::vector<double>& room) const;
  [[nodiscard]] bool is_anchored(std::span<const Port> ports) const;
  [[nodiscard]] double floor_rate(std::size_t i) const;
  [[nodiscard]] bool has_room(std::size_t i) const;
  [[nodiscard]] double net_outflow(std::span<const double> u, std::int32_t unknown) const;
  // bookkeeping
  void end_within_rounding();
  void mark_last_cell(const Step& step, std::span<const double> before);
  void credit_gates(const Step& step, HistoryRow& row);
  void put_pressures(const Step& step);
  [[nodiscard]] double end_pressure(const Pump& pump, const Step& step) const;
  void look_for_stall(const Step& step);
  [[nodiscard]] bool will_close(const Step& step) const;
  void stop(ShortReason reason);
  [[nodiscard]] ShortReason reason_to_stall() const;
  template <class T> PerNode<T> on_nodes(const std::vector<T>& values, T elsewhere) const;
  template <class T> PerNode<T> each_on_nodes(const std::vector<T>& values, T elsewhere) const;
  [[nodiscard]] PerNode<double> fill_times() const;
  void judge();
  void collect_regions();
  void collect_places();
  void collect_age_facts();
  void put_heat();
  void collect_heat_facts();

  const FillProblem& problem_;
  const FillOptions& options_;
  FlowNetwork network_;
  FlowSystem system_;
  PressureStep pressure_step_;
  ArrivalTracker arrivals_;
  GateControl gate_control_;
  Air air_;
  std::vector<Pump> pumps_;
  std::vector<double> fill_;                      // F of each unknown
  std::vector<double> height_;                    // rho g z of each unknown [Pa]
  std::vector<std::vector<GateLink>> gate_links_; // of each gate
  std::vector<Body> bodies_;
  std::vector<double> bled_;    // out of each vent so far [m3]
  double reference_ = 0;        // gauge pressure at which u is zero [Pa]
  double reachable_volume_ = 0; // [m3]
  double room_ = 0;             // still empty and reachable [m3]
  double time_ = 0;             // [s]
  int slow_steps_ = 0;          // in a row
  bool was_cut_ = false;        // the step was shortened to end where something switches
  bool rests_ = false;          // nothing moves until something switches
  bool is_over_ = false;
  bool rate_is_known_ = false; // the last step's flow says what to expect of the next
  Interval last_interval_;     // of the step before
  double last_volume_ = 0;     // injected in it [m3]
  double last_stay_ = 0;       // of that, what did not leave through vents [m3]
  // of the step being solved
  std::vector<Port> ports_;
  std::vector<std::int32_t> port_of_pump_;                      // index in ports_, or -1
  std::vector<std::pair<std::size_t, std::size_t>> vent_ports_; // index in ports_, vent
  std::vector<double> floor_;
  std::vector<AirPocket> pockets_;
  PerNode<double> pressure_;        // gauge, mean over the last step [Pa]
  double standstill_age_;           // of the resin [s]
  std::optional<ResinHeat> heat_;   // if temperatures differ
  std::optional<ResinAge> ages_;    // if parcels of different age must be told apart
  std::vector<HoseContents> hoses_; // of each pump, if so
  PerNode<double> age_field_, viscosity_field_, temperature_field_, conversion_field_;
  std::optional<MouldLoadMeter> mould_load_;
  FillResult result_;
};

// --- set-up ------------------------------------------------------------------------------------

Filling::Filling(const FillProblem& problem, const FillOptions& options)
    : problem_(problem), options_(options), network_(flow_network(problem)),
      system_(flow_system(network_, problem.gates)),
      pressure_step_(system_, {.fill_tolerance = options.fill_tolerance}),
      arrivals_(system_.size(), gates_beside(network_, system_, problem)),
      gate_control_(problem, network_), air_(problem, system_), fill_(system_.size(), 0.0),
      bled_(problem.vents.size(), 0.0), reference_(front_pressure(problem)),
      standstill_age_(standstill_age(problem.resin)) {
  result_.network = network_.quality;
  result_.pore_volume =
      std::accumulate(network_.pore_volume.begin(), network_.pore_volume.end(), 0.0);
  room_ = std::accumulate(system_.volume.begin(), system_.volume.end(), 0.0);
  reachable_volume_ = room_;
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

/// A gate stands at the mean height of its nodes, gates tied to one pump at that of all of them.
void Filling::collect_heights() {
  height_.assign(system_.size(), 0.0);
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
    is_over_ = true;
  } else if (!has_active_pump() && !std::isfinite(time_to_next_switch())) {
    stop(reason_to_stall());
  }
}

// --- the state between steps -------------------------------------------------------------------

/// Amount of air in the cells of each gate: absolute pressure times volume [J].
std::vector<double> Filling::air_in_gates() const {
  std::vector<double> amount(problem_.gates.size());
  for (std::size_t g = 0; g < amount.size(); ++g) {
    const std::size_t i = position(gate_control_.unknown(g));
    const double empty = (1 - fill_[i]) * gate_control_.volume(g);
    amount[g] = (air_.pressure()[i] + problem_.ambient) * empty;
  }
  return amount;
}

/// Gates that are one unknown now share the air there was in them.
void Filling::share_air_of_gates(const std::vector<double>& amount) {
  std::vector<double> sum(amount.size(), 0.0);
  for (std::size_t g = 0; g < amount.size(); ++g) {
    sum[position(gate_control_.unknown(g))] += amount[g];
  }
  std::vector<double> pressure(air_.pressure().begin(),
                               air_.pressure().begin() + static_cast<std::ptrdiff_t>(sum.size()));
  for (std::size_t g = 0; g < sum.size(); ++g) {
    const double empty = (1 - fill_[g]) * system_.volume[g];
    pressure[g] = empty > 0 ? sum[g] / empty - problem_.ambient : pressure[g];
  }
  air_.regroup(pressure, fill_);
}

/// Opens and closes gates, puts stages in force and finds the pieces of air as they are now.
void Filling::switch_gates() {
  air_.update(fill_, time_);
  const std::vector<double> amount = air_in_gates();
  const GateResin resin = resin_in_gates();
  if (gate_control_.update(system_, fill_, time_)) {
    regroup_resin(resin);
    pressure_step_.network_changed();
    share_air_of_gates(amount);
    collect_heights();
    rate_is_known_ = false;
    for (Pump& pump : pumps_) {
      pump.forget();
    }
    for (std::size_t g = 0; g < problem_.gates.size(); ++g) {
      if (gate_control_.is_open(g)) {
        arrivals_.open_gate(g, time_);
      }
    }
  }
  for (Pump& pump : pumps_) {
    if (pump.take_over_stages(time_)) {
      pump.forget();
      rate_is_known_ = false;
    }
  }
  collect_bodies();
  fill_cells_at_cap();
  judge_ages();
}

/// At a held pressure the cells at a gate fill at once; at a flow rate or behind a hose they fill
/// first.
void Filling::fill_cells_at_cap() {
  bool any_filled = false;
  for (Pump& pump : pumps_) {
    const std::int32_t root = gate_control_.root(pump.gates);
    if (!pump.at_cap || pump.resistance > 0 || !is_active(pump) ||
        fill_[position(root)] >= full_fraction || pump.cap <= air_.pressure()[position(root)]) {
      continue;
    }
    double& fill = fill_[position(root)];
    const double empty = (1 - fill) * system_.volume[position(root)];
    pump.injected += empty;
    if (ages_) {
      ages_->top_up(root, fill, mixed_at_head(time_));
    }
    if (heat_) {
      heat_->top_up(root, fill, time_ - mixed_at_head(time_));
    }
    for (const std::size_t g : pump.gates) {
      if (gate_control_.is_open(g)) {
        const double volume = empty * gate_control_.share_of_cells(g, pump.gates);
        result_.gates[g].injected += volume;
        result_.injected += volume;
        room_ -= volume;
        result_.gates[g].peak_pressure = std::max(result_.gates[g].peak_pressure, pump.cap);
      }
    }
    fill = 1;
    any_filled = true;
    result_.peak_head_pressure = std::max(result_.peak_head_pressure, pump.cap);
    result_.time_cap_reached = result_.time_cap_reached.value_or(time_);
  }
  if (any_filled) {
    air_.update(fill_, time_);
    collect_bodies();
  }
}

/// Whether a vent has let out what it may, within what can be told.
bool Filling::has_bled(std::size_t vent) const {
  const double bleed = problem_.vents[vent].bleed;
  return bled_[vent] >= nearly * bleed || bleed - bled_[vent] < 1e-9 * reachable_volume_;
}

/// Finds what each body of the network has room for, and whether it has a vent that bleeds.
void Filling::collect_bodies() {
  bodies_.assign(pressure_step_.bodies(), {});
  for (std::size_t i = 0; i < fill_.size(); ++i) {
    if (has_room(i)) {
      body_of(i).room += (1 - fill_[i]) * system_.volume[i];
    }
  }
  for (std::size_t v = 0; v < problem_.vents.size(); ++v) {
    for (const NodeId node : problem_.vents[v].nodes) {
      if (const std::int32_t i = system_.unknown[node]; i >= 0 && !has_room(position(i))) {
        Body& body = body_of(position(i));
        body.bleeds = body.bleeds || !has_bled(v);
      }
    }
  }
}

Filling::Body& Filling::body_of(std::size_t unknown) {
  return bodies_[position(pressure_step_.body_of()[unknown])];
}

const Filling::Body& Filling::body_of(const Pump& pump) const {
  const std::size_t root = position(gate_control_.root(pump.gates));
  return bodies_[position(pressure_step_.body_of()[root])];
}

bool Filling::is_active(const Pump& pump) const {
  if (gate_control_.root(pump.gates) < 0) {
    return false;
  }
  if (const Body& body = body_of(pump); !(body.room > 0) && !body.bleeds) {
    return false; // there is nowhere to go
  }
  return problem_.gravity || pump.cap > lowest_air_pressure();
}

double Filling::lowest_air_pressure() const {
  double lowest = air_.pieces().empty() ? reference_ : never;
  for (const AirPiece& piece : air_.pieces()) {
    lowest = std::min(lowest, piece.pressure);
  }
  return lowest;
}

double Filling::highest_cap() const {
  double highest = -never;
  for (const Pump& pump : pumps_) {
    highest = is_active(pump) ? std::max(highest, pump.cap) : highest;
  }
  return highest;
}

bool Filling::has_active_pump() const {
  return std::ranges::any_of(pumps_, [&](const Pump& pump) { return is_active(pump); });
}

bool Filling::is_level() const {
  return !problem_.gravity && air_.is_uniform();
}

bool Filling::any_at_cap() const {
  return std::ranges::any_of(pumps_,
                             [&](const Pump& pump) { return is_active(pump) && pump.at_cap; });
}

double Filling::time_left() const {
  const double gel = ages_ ? never : standstill_age_ - problem_.resin.mixed_before;
  return std::min(options_.time_limit.value_or(never), gel) - time_;
}

double Filling::time_to_next_switch() const {
  double next = gate_control_.next_time(time_);
  for (const Pump& pump : pumps_) {
    next = std::min(next, pump.next_stage_time());
  }
  return next - time_;
}

/// Of the pumps not at their cap [m3/s].
double Filling::set_flow() const {
  double sum = 0;
  for (const Pump& pump : pumps_) {
    sum += is_active(pump) && !pump.at_cap ? pump.flow_rate : 0;
  }
  return sum;
}

// --- the resin's age ---------------------------------------------------------------------------

bool Filling::is_batch_that_thickens() const {
  return !ages_ && thickens(problem_.resin);
}

/// Of resin that is all of one age [s].
double Filling::batch_age() const {
  return problem_.resin.mixed_before + time_;
}

/// The viscosity that u is taken at over a step from now on [Pa s]. All of one age: such that
/// duration / mu is the integral of dt / mu, in which the filling at a pressure is exact. Else that
/// of the fresh resin; the links are scaled to the viscosities there.
double Filling::viscosity(double duration) const {
  if (!is_batch_that_thickens()) {
    return problem_.resin.viscosity;
  }
  return duration > 0
             ? duration / fluidity_time(problem_.resin, batch_age(), batch_age() + duration)
             : viscosity_at(problem_.resin, batch_age());
}

double Filling::viscosity_ratio(std::int32_t unknown) const {
  return ages_ ? ages_->ratio()[position(unknown)] : 1;
}

/// Steps in which the viscosity of the oldest resin grows by a tenth, but no shorter than a
/// thousandth of its gel time.
double Filling::longest_for_age() const {
  if (heat_) {
    const auto [thickening, ageing] = heat_->pace(fill_, ages_->mixed_at(), time_);
    const double longest = thickening > 0 ? 0.1 / thickening : never;
    const double gel = gel_age(problem_.resin);
    return std::isfinite(gel) ? std::max(longest, gel * shortest_share(ageing)) : longest;
  }
  if (!thickens(problem_.resin)) {
    return never;
  }
  const double shortest =
      std::isfinite(gel_age(problem_.resin)) ? 1e-3 * gel_age(problem_.resin) : 0;
  return std::max(0.1 / thickening_rate(problem_.resin, batch_age()), shortest);
}

/// Until resin at the front gels [s], at its temperature now; no shorter than steps need be.
double Filling::time_to_front_gel() const {
  const double to_gel = ages_ ? ages_->next_front_gel() - time_ : never;
  if (!heat_ || !std::isfinite(to_gel)) {
    return to_gel;
  }
  const double ageing = heat_->pace(fill_, ages_->mixed_at(), time_).ageing;
  return std::max(to_gel, standstill_age_ * shortest_share(ageing));
}

/// Whether resin has gelled, or has become so thick that this is what holds it up.
bool Filling::is_thick() const {
  constexpr double thick = 10; // times the fresh resin's viscosity: own choice
  if (!ages_) {
    return viscosity(0) > thick * problem_.resin.viscosity;
  }
  for (std::size_t i = 0; i < fill_.size(); ++i) {
    if (fill_[i] > 0 && ages_->ratio()[i] > thick) {
      return true;
    }
  }
  return false;
}

/// The resin in the cells of each gate, with the unknown it belongs to.
Filling::GateResin Filling::resin_in_gates() const {
  GateResin resin;
  std::vector<double> volumes;
  for (std::size_t g = 0; ages_ && g < problem_.gates.size(); ++g) {
    const std::int32_t root = gate_control_.unknown(g);
    volumes.push_back(gate_control_.volume(g));
    resin.ages.push_back({root, root, fill_[position(root)] * volumes.back()});
  }
  if (heat_) {
    resin.heat = heat_->gate_contents(fill_, volumes);
  }
  return resin;
}

/// Gates were tied or untied: their resin is now that of other unknowns.
void Filling::regroup_resin(GateResin resin) {
  for (std::size_t g = 0; g < resin.ages.size(); ++g) {
    resin.ages[g].to = gate_control_.unknown(g);
  }
  if (ages_) {
    ages_->regroup(resin.ages, time_);
  }
  if (heat_) {
    heat_->regroup(resin.heat, fill_);
  }
}

/// When resin that passes the head at a time was mixed [s]: a batch all at once.
double Filling::mixed_at_head(double time) const {
  return problem_.resin.mixing == Mixing::batch ? -problem_.resin.mixed_before : time;
}

/// Carries age and heat with the flow. Heat goes on also where nothing flows.
void Filling::carry_resin(const Step& step, std::span<const double> before) {
  if (!ages_ || (step.impulse.empty() && !heat_)) {
    return;
  }
  std::vector<Inlet> inlets;
  std::vector<ResinHeat::Source> sources;
  const double end = step.interval.end();
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    const std::int32_t root = gate_control_.root(pumps_[p].gates);
    if (const double volume = step.strokes[p].volume; volume > 0 && root >= 0) {
      const auto [mixed_at, oldest] =
          hoses_[p].push(volume, mixed_at_head(time_), mixed_at_head(end));
      inlets.push_back({root, volume, mixed_at, oldest});
      sources.push_back({root, volume, end - mixed_at, end - oldest});
    }
  }
  const auto flow = [&](std::int32_t i, std::int32_t j, double c) {
    return step.completes ? c * (step.impulse[position(i)] - step.impulse[position(j)])
                          : pressure_step_.link_flow(i, j, c);
  };
  if (heat_) {
    heat_->carry({before, fill_, step.impulse, flow, sources, time_, step.interval.duration},
                 options_.age_parts);
  }
  if (!step.impulse.empty()) {
    ages_->carry(before, fill_, step.impulse, flow, inlets);
  }
}

/// Viscosities for the next step, taken to be as long as the last.
void Filling::judge_ages() {
  if (!ages_) {
    return;
  }
  ages_->judge(fill_, time_, 0.5 * last_interval_.duration);
  scale_links(system_, [&](std::int32_t i, std::int32_t j) { return ages_->link_factor(i, j); });
  pressure_step_.network_changed();
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    if (pumps_[p].injected == 0) {
      hoses_[p].fill(mixed_at_head(time_)); // just before its gates open
    }
    if (hoses_[p].is_hose()) {
      pumps_[p].resistance = hoses_[p].resistance(problem_.resin, time_);
    }
  }
}

/// Age and viscosity at the nodes as they are now.
void Filling::put_ages() {
  const bool counts = ages_ || thickens(problem_.resin) || problem_.resin.mixed_before > 0;
  if (!counts) {
    return;
  }
  const double none = std::numeric_limits<double>::quiet_NaN();
  std::vector<double> age(fill_.size(), none);
  std::vector<double> mu(fill_.size(), none);
  for (std::size_t i = 0; i < fill_.size(); ++i) {
    const double mixed_at = ages_ ? ages_->mixed_at()[i] : -problem_.resin.mixed_before;
    if (fill_[i] > 0 && !std::isnan(mixed_at)) {
      age[i] = time_ - mixed_at;
      mu[i] = heat_ ? problem_.resin.viscosity *
                          heat_->viscosity_ratio(static_cast<std::int32_t>(i), age[i])
                    : viscosity_at(problem_.resin, age[i]);
    }
  }
  age_field_ = on_nodes(age, none);
  viscosity_field_ = on_nodes(mu, none);
}

/// Temperature and conversion at the nodes as they are now.
void Filling::put_heat() {
  if (!problem_.heat) {
    return;
  }
  const double none = std::numeric_limits<double>::quiet_NaN();
  const bool has_kinetics = heat_ && heat_->has_kinetics();
  std::vector<double> temperature(fill_.size(), none);
  std::vector<double> conversion(has_kinetics ? fill_.size() : 0, none);
  for (std::size_t i = 0; i < fill_.size(); ++i) {
    const auto unknown = static_cast<std::int32_t>(i);
    if (fill_[i] > 0) {
      temperature[i] = heat_ ? heat_->temperature(unknown) : problem_.heat->inlet_temperature;
    }
    if (fill_[i] > 0 && has_kinetics) {
      conversion[i] = heat_->conversion(unknown);
    }
  }
  temperature_field_ = on_nodes(temperature, none);
  if (has_kinetics) {
    conversion_field_ = on_nodes(conversion, none);
  }
}

void Filling::collect_heat_facts() {
  if (!problem_.heat || !(result_.resin_in_part > 0)) {
    return;
  }
  const double inlet = problem_.heat->inlet_temperature;
  HeatFacts facts{problem_.gates.front().nodes.front(), inlet, 0, inlet, {}, {}, 0, {}};
  const double age = result_.age ? result_.age->oldest : time_ + problem_.resin.mixed_before;
  facts.gel_share = std::min(1.0, age / standstill_age_);
  if (heat_) {
    facts.hottest_node = node_of_unknown(system_, problem_.gates, heat_->peak().unknown);
    facts.highest = heat_->peak().temperature;
    facts.highest_at = heat_->peak().time;
    facts.balance = heat_->balance(fill_);
    facts.gel_share = heat_->largest_gel_share(fill_, ages_->mixed_at(), time_);
    facts.mean = 0;
    for (std::size_t i = 0; i < fill_.size(); ++i) {
      if (fill_[i] > 0 && system_.volume[i] > 0) {
        const auto unknown = static_cast<std::int32_t>(i);
        facts.mean +=
            fill_[i] * system_.volume[i] * heat_->temperature(unknown) / result_.resin_in_part;
        if (heat_->has_kinetics()) {
          facts.highest_conversion =
              std::max(facts.highest_conversion.value_or(0), heat_->conversion(unknown));
        }
      }
    }
  }
  if (!result_.last_filled.empty()) {
    facts.at_last_place = result_.temperature[result_.last_filled.front().node];
  }
  result_.heat = facts;
}

void Filling::collect_age_facts() {
  if (age_field_.empty() || !(result_.resin_in_part > 0)) {
    return;
  }
  AgeFacts facts{0, 0};
  for (std::size_t i = 0; i < fill_.size(); ++i) {
    const double mixed_at = ages_ ? ages_->mixed_at()[i] : -problem_.resin.mixed_before;
    if (fill_[i] > 0 && system_.volume[i] > 0 && !std::isnan(mixed_at)) {
      const double first = ages_ ? ages_->front_mixed_at()[i] : mixed_at;
      facts.mean += fill_[i] * system_.volume[i] * (time_ - mixed_at) / result_.resin_in_part;
      facts.oldest = std::max({facts.oldest, time_ - mixed_at, time_ - first});
    }
  }
  if (ages_ && ages_->first_gel()) {
    const auto [unknown, time] = *ages_->first_gel();
    facts.first_gel = {node_of_unknown(system_, problem_.gates, unknown), time};
  }
  result_.age = facts;
}

// --- how long a step may be --------------------------------------------------------------------

/// An even share of the pore volume, less while the wet part is small or the front short, so that
/// the front crosses a few cells a step at most.
double Filling::planned_volume() const {
  const double share = reachable_volume_ / options_.steps;
  const double layer = pressure_step_.border_volume();
  const double most_layers = std::max(3.0, 300.0 / options_.steps);
  if (!(layer > 0)) { // a gate has just opened, or its cells have just filled: none is known yet
    return std::min(0.25 * share, 0.9 * room_);
  }
  const double filled = reachable_volume_ - room_;
  const double volume =
      std::min(share, std::max(layer, std::min(most_layers * layer, 0.3 * filled)));
  return std::min(volume, 0.9 * room_);
}

double Filling::planned_duration(double volume) const {
  const bool bleeds = last_stay_ < last_volume_;
  if (!any_at_cap() && !bleeds) {
    return volume / set_flow();
  }
  if (rate_is_known_ && last_stay_ > 0) {
    return std::min(volume / last_stay_, 4.0) * last_interval_.duration;
  }
  // All of the gates' neighbours still dry: the flow can only become less.
  double rate = set_flow();
  for (const Pump& pump : pumps_) {
    if (is_active(pump) && pump.at_cap) {
      const auto root = position(gate_control_.root(pump.gates));
      const double way = 1 / (pump.resistance + 1 / system_.matrix.diagonal[root]);
      const double drive = std::max(pump.cap - reference_, 1e-3 * std::abs(pump.cap));
      rate += drive * way / viscosity(0);
    }
  }
  return rate_is_known_ && last_interval_.duration > 0
             ? std::min(volume / rate, 4 * last_interval_.duration)
             : volume / rate;
}

/// What a pump gives while the cells at its gates fill [m3/s]: its set flow, or at its cap what the
/// hose lets through against the air there.
double Filling::rate_into_cells(const Pump& pump) const {
  if (!pump.at_cap) {
    return pump.flow_rate;
  }
  const auto root = position(gate_control_.root(pump.gates));
  const double drive = pump.cap - air_.pressure()[root];
  if (!(drive > 0)) {
    return 0;
  }
  return std::min(pump.flow_rate, drive / (viscosity(0) * pump.resistance));
}

/// At set flow rates a body takes no more than it has room for. (While a pump's own cells fill,
/// longest_for_cells holds.)
double Filling::longest_for_bodies() const {
  double longest = never;
  for (std::size_t b = 0; b < bodies_.size(); ++b) {
    double flow = 0;
    for (const Pump& pump : pumps_) {
      const bool counts = is_active(pump) && !pump.at_cap && &body_of(pump) == &bodies_[b] &&
                          !has_room(position(gate_control_.root(pump.gates)));
      flow += counts && !bodies_[b].bleeds ? pump.flow_rate : 0;
    }
    longest = flow > 0 ? std::min(longest, 0.9 * bodies_[b].room / flow) : longest;
  }
  return longest;
}

/// A pump at a flow rate or behind a hose fills the cells at its gates before anything flows on.
double Filling::longest_for_cells() const {
  double longest = never;
  for (const Pump& pump : pumps_) {
    if (!is_active(pump)) {
      continue;
    }
    const auto root = position(gate_control_.root(pump.gates));
    if (fill_[root] < full_fraction && rate_into_cells(pump) > 0) {
      longest = std::min(longest, (1 - fill_[root]) * system_.volume[root] / rate_into_cells(pump));
    }
  }
  return longest;
}

bool Filling::is_large(const AirPiece& piece) const {
  return piece.is_sealed && piece.volume > 2e-3 * result_.pore_volume;
}

/// Steps follow the pressure in a large pocket: a tenth of its air, and a fifth of the way to the
/// pressure at which the flow stops. (A heavy head of resin may press it beyond that: so it counts
/// up to a two-hundredth of its air only.)
double Filling::longest_for_pockets() const {
  double longest = never;
  const double highest = highest_cap();
  for (const AirPiece& piece : air_.pieces()) {
    if (!is_large(piece) || !(piece.intake_rate > 0)) {
      continue;
    }
    const double pressure_rate =
        (piece.pressure + problem_.ambient) * piece.intake_rate / piece.volume;
    const double turnover = piece.volume / piece.intake_rate;
    longest = std::min(longest, 0.1 * turnover);
    if (pressure_rate > 0 && highest > piece.pressure) {
      const double to_balance = (highest - piece.pressure) / pressure_rate;
      longest = std::min(longest, std::max(0.2 * to_balance, 5e-3 * turnover));
    }
  }
  return longest;
}

// --- one step ----------------------------------------------------------------------------------

void Filling::collect_ports(double duration) {
  const double per_pressure = duration / viscosity(duration);
  ports_.clear();
  vent_ports_.clear();
  port_of_pump_.assign(pumps_.size(), -1);
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    const Pump& pump = pumps_[p];
    if (!is_active(pump)) {
      continue;
    }
    Port port;
    port.unknown = gate_control_.root(pump.gates);
    if (pump.at_cap && fill_[position(port.unknown)] >= full_fraction) {
      const double height = height_[position(port.unknown)];
      port.impulse = (pump.cap - reference_ + height) * per_pressure;
      port.conductance = 1 / pump.resistance;
    } else {
      port.volume = rate_into_cells(pump) * duration;
    }
    port_of_pump_[p] = static_cast<std::int32_t>(ports_.size());
    ports_.push_back(port);
  }
  for (std::size_t v = 0; v < problem_.vents.size(); ++v) {
    const Vent& vent = problem_.vents[v];
    const double resistance =
        hose_resistance(vent.line) * static_cast<double>(vent.nodes.size()); // hoses side by side
    for (const NodeId node : vent.nodes) {
      const std::int32_t unknown = system_.unknown[node];
      if (has_bled(v) || unknown < 0 || fill_[position(unknown)] < full_fraction) {
        continue;
      }
      const double height = height_[position(unknown)];
      const double thicker = viscosity_ratio(unknown);
      vent_ports_.emplace_back(ports_.size(), v);
      ports_.push_back({.unknown = unknown,
                        .impulse = (vent.pressure - reference_ + height) * per_pressure,
                        .conductance = 1 / (resistance * thicker),
                        .lets_out = true});
    }
  }
}

void Filling::collect_air(double duration) {
  const double per_pressure = duration / viscosity(duration);
  floor_.clear();
  pockets_.clear();
  if (is_level()) {
    return;
  }
  // Behind the front resin may be at less than the pressure its air once had.
  const double lowest = lowest_air_pressure();
  floor_.resize(system_.size());
  for (std::size_t i = 0; i < floor_.size(); ++i) {
    const double air = fill_[i] < full_fraction ? air_.pressure()[i] : lowest;
    floor_[i] = (air - reference_ + height_[i]) * per_pressure;
  }
  for (const AirPiece& piece : air_.pieces()) {
    if (piece.is_sealed) {
      pockets_.push_back({piece.unknowns, piece.volume,
                          (piece.pressure + problem_.ambient) * per_pressure, is_large(piece)});
    }
  }
}

/// Solves a step of the duration given, or of a part of it if no sound one so long is found: air
/// that is pressed hard, or resin that falls ahead of the front, may ask for that. Returns the
/// duration [s].
double Filling::solve_pressures(double duration) {
  if (pressure_step_.try_solve(step_input(duration))) {
    return duration;
  }
  const double to_next = solve_to_next_full_cell(duration);
  for (double part = duration / 4; part > std::max(to_next, duration / 100); part /= 4) {
    if (pressure_step_.try_solve(step_input(part))) {
      return part;
    }
  }
  was_cut_ = true;
  return to_next < duration / 4 ? solve_to_next_full_cell(to_next) : to_next;
}

/// The step up to the moment the next cell is full: it can always be taken.
double Filling::solve_to_next_full_cell(double duration) {
  constexpr int most_cuts = 50; // the air makes the inflow uneven; else one is enough
  double longer = 0;            // the duration before, and its share
  double more = 0;
  for (int cut = 0; cut < most_cuts; ++cut) {
    const double share = pressure_step_.solve_on_full(step_input(duration));
    if (share <= 1 + 2e-10) {
      return duration;
    }
    const bool falls = cut > 0 && more > share && longer > duration;
    const double secant = falls ? duration - (share - 1) * (longer - duration) / (more - share) : 0;
    longer = duration;
    more = share;
    duration = (secant > 0 ? secant : duration / share) * (1 - (cut < 5 ? 1e-11 : 1e-6));
  }
  throw SolveError("no step as short as " + std::to_string(duration) + " s was found");
}

StepInput Filling::step_input(double duration) {
  collect_ports(duration);
  collect_air(duration);
  double scale = 1;
  if (last_interval_.duration > 0 && last_volume_ > 0) {
    scale =
        any_at_cap() ? duration / last_interval_.duration : set_flow() * duration / last_volume_;
  }
  return {fill_, ports_, floor_, pockets_, scale};
}

/// Mean pressure at a pump's head over a step in which it gives a volume [m3] and u at its gates'
/// unknown, its root, is impulse: that at the gates and what the hose takes [Pa gauge].
double Filling::head_pressure(const Pump& pump, double volume, std::size_t root, double impulse,
                              double duration) const {
  const double mu = viscosity(duration);
  const double at_gate = reference_ + mu * impulse / duration - height_[root];
  return at_gate + mu * pump.resistance * volume / duration;
}

/// A step with each pump at its set flow or its cap, as they stand.
Step Filling::trial(double duration) {
  duration = solve_pressures(duration);
  const auto u = pressure_step_.impulse();
  Step step;
  step.interval = {time_, duration};
  step.viscosity = viscosity(duration);
  step.impulse.assign(u.begin(), u.end());
  step.strokes.resize(pumps_.size());
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    if (port_of_pump_[p] < 0) {
      step.strokes[p].mean_pressure = reference_;
      continue;
    }
    const auto k = position(port_of_pump_[p]);
    const auto root = position(ports_[k].unknown);
    Stroke& stroke = step.strokes[p];
    stroke.volume = std::max(0.0, pressure_step_.inflow_of_port(k));
    stroke.at_cap = pumps_[p].at_cap;
    stroke.mean_pressure =
        stroke.at_cap ? pumps_[p].cap
                      : head_pressure(pumps_[p], stroke.volume, root, step.impulse[root], duration);
    step.volume += stroke.volume;
  }
  step.bled.assign(problem_.vents.size(), 0.0);
  for (const auto& [k, v] : vent_ports_) {
    step.bled[v] += std::max(0.0, -pressure_step_.inflow_of_port(k));
  }
  return step;
}

/// A pump at its cap that would give more than its set flow; it goes back to that.
Pump* Filling::pump_over_set_flow(const Step& step, std::vector<std::uint8_t>& keeps_flow) {
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    const double most = pumps_[p].flow_rate * step.interval.duration;
    if (pumps_[p].at_cap && step.strokes[p].volume > most * (1 + 1e-9)) {
      keeps_flow[p] = 1;
      return &pumps_[p];
    }
  }
  return nullptr;
}

/// Flow rate and cap are complementary: Q <= Q_set, p <= cap, one of them with equality. Where a
/// pump meets its cap within the step, the step ends there.
Step Filling::complementary_step(double duration) {
  std::vector<std::uint8_t> keeps_flow(pumps_.size(), 0); // the line saw the cap too early
  std::vector<std::uint8_t> was_cut(pumps_.size(), 0);
  const double layer = pressure_step_.border_volume();
  const double planned = duration;
  for (;;) {
    Step step = trial(duration);
    duration = step.interval.duration;
    if (Pump* pump = pump_over_set_flow(step, keeps_flow)) {
      pump->at_cap = false;
      continue;
    }
    bool is_done = true;
    for (std::size_t p = 0; p < pumps_.size() && is_done; ++p) {
      Pump& pump = pumps_[p];
      const Stroke& stroke = step.strokes[p];
      if (port_of_pump_[p] < 0 || stroke.at_cap || keeps_flow[p]) {
        continue;
      }
      if (was_cut[p] && stroke.mean_pressure <= pump.cap) {
        continue; // it is at the cap from the step's end on
      }
      const double end = pump.end_pressure(step.interval, stroke, layer, false);
      if (std::max(stroke.mean_pressure, end) <= pump.cap) {
        continue;
      }
      is_done = false;
      const double until = pump.duration_to_cap(step.interval, stroke, layer);
      if (!was_cut[p] && until > 0.02 * duration) {
        was_cut[p] = 1;
        duration = std::min(until, duration);
      } else {
        pump.at_cap = true;
        fill_cells_at_cap();
        was_cut[p] = 0;
        duration = planned;
      }
    }
    if (is_done) {
      for (std::size_t p = 0; p < pumps_.size(); ++p) {
        pumps_[p].at_cap = pumps_[p].at_cap || was_cut[p];
      }
      return step;
    }
  }
}

/// The part of a step [-] after which something switches that is not known beforehand: a stage or a
/// vent at a volume, a gate or the air when the front reaches a port. 1 if nothing does.
double Filling::share_until_switch(const Step& step) const {
  double share = 1;
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    const double to_go = pumps_[p].next_stage_volume() - pumps_[p].injected;
    share =
        to_go < step.strokes[p].volume ? std::min(share, to_go / step.strokes[p].volume) : share;
  }
  for (std::size_t v = 0; v < bled_.size(); ++v) {
    const double to_go = std::max(0.0, problem_.vents[v].bleed - bled_[v]);
    share = to_go < step.bled[v] ? std::min(share, to_go / step.bled[v]) : share;
  }
  const bool is_long = step.volume > reachable_volume_ / std::max(options_.steps, 100) / 16;
  std::vector<PortRef> awaited = gate_control_.awaited();
  for (std::size_t v = 0; v < problem_.vents.size(); ++v) {
    awaited.push_back({PortRef::Kind::vent, v}); // it shuts air in, or bleeds, from then on
  }
  if (is_long && !awaited.empty()) {
    std::vector<double> after = fill_;
    for (std::size_t i = 0; i < after.size(); ++i) {
      const bool fills = step.completes || pressure_step_.fills(static_cast<std::int32_t>(i));
      after[i] = fills ? 1 : after[i];
    }
    for (const PortRef& port : awaited) {
      const bool now = is_reached(problem_, system_, port, fill_);
      share = !now && is_reached(problem_, system_, port, after) ? std::min(share, 0.5) : share;
    }
  }
  return std::max(share, 1e-3);
}

/// Shortens a step so that it ends where something switches.
Step Filling::step_to_switch(Step step) {
  const double shortest = 1e-3 * step.interval.duration; // what comes sooner counts as now
  for (int cut = 0; cut < 8 && step.interval.duration > shortest; ++cut) {
    const double share = share_until_switch(step);
    if (share > nearly) {
      break;
    }
    // By a fifth at most: a vent may begin to bleed late in a long step, and not in a short one.
    const double part = std::max(share, 0.2);
    was_cut_ = true;
    step = complementary_step(std::max(part * step.interval.duration, shortest));
  }
  return step;
}

Step Filling::idle_step(double duration) const {
  Step step;
  step.interval = {time_, duration};
  step.viscosity = viscosity(duration);
  step.strokes.assign(pumps_.size(), Stroke{0, reference_, false});
  step.bled.assign(problem_.vents.size(), 0.0);
  return step;
}

Step Filling::next_step() {
  const double longest = std::min({time_left(), time_to_next_switch(), time_to_front_gel()});
  was_cut_ = false;
  const bool bleeds = std::ranges::any_of(bodies_, &Body::bleeds);
  if (const bool rests = std::exchange(rests_, false); rests || !has_active_pump()) {
    return rests && bleeds ? step_to_switch(complementary_step(longest)) : idle_step(longest);
  }
  if (room_ <= 1.2 * reachable_volume_ / options_.steps) {
    if (auto step = completing_step(longest)) {
      return *step;
    }
  }
  const double cells = longest_for_cells();
  const double planned = std::isfinite(cells) ? cells : planned_duration(planned_volume());
  const double duration =
      std::min({planned, longest, longest_for_bodies(), longest_for_pockets(), longest_for_age()});
  return step_to_switch(complementary_step(duration));
}

// --- the end of the filling --------------------------------------------------------------------

/// The step that fills all that is left, if it ends in time.
std::optional<Step> Filling::completing_step(double longest) {
  const auto& pieces = air_.pieces();
  if (std::ranges::any_of(pieces, &AirPiece::is_sealed) || longest_for_cells() < never) {
    return std::nullopt;
  }
  collect_ports(1);
  const auto active =
      std::ranges::count_if(pumps_, [&](const Pump& pump) { return is_active(pump); });
  const bool is_simple = active == 1 && bodies_.size() == 1 && is_level() && vent_ports_.empty();
  if (!is_simple && is_batch_that_thickens()) {
    return std::nullopt; // set flow runs in time, pressure in the integral of 1 / mu
  }
  auto step = is_simple ? completion_of_one_pump() : completion_of_several();
  if (!step || step->interval.duration > longest || share_until_switch(*step) < nearly) {
    return std::nullopt;
  }
  return step;
}

/// Room left in each cell [m3].
std::vector<double> Filling::rooms() const {
  std::vector<double> room(fill_.size());
  for (std::size_t i = 0; i < room.size(); ++i) {
    room[i] = (1 - fill_[i]) * system_.volume[i];
  }
  return room;
}

/// By the completion theorem it is over when the head's impulse reaches the largest w, where
/// A w = room left and w = 0 beyond the hose, or when the pump has given what is missing.
std::optional<Step> Filling::completion_of_one_pump() {
  const auto p = static_cast<std::size_t>(
      std::ranges::find_if(port_of_pump_, [](std::int32_t k) { return k >= 0; }) -
      port_of_pump_.begin());
  const Pump& pump = pumps_[p];
  const std::vector<double> room = rooms();
  const std::int32_t root = gate_control_.root(pump.gates);
  const Port beyond{.unknown = root, .conductance = 1 / pump.resistance};
  const auto solution = pressure_step_.solve_all_wet(room, {&beyond, 1});
  if (!solution) {
    return std::nullopt;
  }
  const std::vector<double>& w = *solution;
  const double largest = std::ranges::max(w);
  const double by_flow = std::isfinite(pump.flow_rate) ? room_ / pump.flow_rate : 0;
  double by_cap = problem_.resin.viscosity * largest / (pump.cap - reference_);
  if (is_batch_that_thickens()) {
    const auto duration =
        duration_of_fluidity(problem_.resin, batch_age(), largest / (pump.cap - reference_));
    if (!duration) {
      return std::nullopt;
    }
    by_cap = *duration;
  }
  Step step = idle_step(std::max(by_flow, by_cap));
  const double mu = step.viscosity;
  step.volume = room_;
  step.completes = true;
  step.strokes[p] = {room_, reference_ + mu * largest / step.interval.duration, by_cap >= by_flow};
  step.impulse.resize(w.size());
  std::ranges::transform(w, step.impulse.begin(), [&](double wi) { return largest - wi; });
  return step;
}

/// What flows from an unknown to its neighbours when all are wet [m3].
double Filling::net_outflow(std::span<const double> u, std::int32_t unknown) const {
  const auto i = position(unknown);
  return system_.matrix.diagonal[i] * u[i] - system_.matrix.gathered(i, u);
}

/// True if every connected body of unknowns holds one of the ports: else its pressure is open.
bool Filling::is_anchored(std::span<const Port> ports) const {
  std::vector<std::uint8_t> has_port(pressure_step_.bodies(), 0);
  for (const Port& port : ports) {
    has_port[position(pressure_step_.body_of()[position(port.unknown)])] = 1;
  }
  return std::ranges::all_of(has_port, [](std::uint8_t has) { return has != 0; });
}

/// The same with several pumps, bleeding vents, gravity or several air pressures, all at rest: with
/// y the steady (p - p_reference + rho g z) / mu of the full part, u after a time t is t y - w, and
/// the last cell is full when that reaches its floor everywhere.
std::optional<Step> Filling::completion_of_several() {
  const std::vector<double> room = rooms();
  std::vector<double> given(fill_.size(), 0.0); // per second
  std::vector<Port> anchors;                    // of y
  for (const Port& port : ports_) {
    if (port.volume) {
      given[position(port.unknown)] += *port.volume;
    } else {
      anchors.push_back(port);
    }
  }
  const auto end =
      anchors.empty() ? end_by_flow(room, given) : end_by_pressure(room, given, anchors);
  return end ? step_to_end(*end, room) : std::nullopt;
}

/// Floor of an unknown over mu [1/s].
double Filling::floor_rate(std::size_t i) const {
  return (air_.pressure()[i] - reference_ + height_[i]) / problem_.resin.viscosity;
}

bool Filling::has_room(std::size_t i) const {
  return system_.volume[i] > 0 && fill_[i] < full_fraction;
}

/// All pumps at their set flow: the end is when they have given what is missing. Pressures are
/// known up to a constant, which the last cell to fill sets.
std::optional<Filling::End> Filling::end_by_flow(const std::vector<double>& room,
                                                 std::vector<double> given) {
  const double duration = room_ / set_flow();
  for (std::size_t i = 0; i < given.size(); ++i) {
    given[i] = duration * given[i] - room[i];
  }
  const Port zero{.unknown = ports_.front().unknown};
  if (!is_anchored({&zero, 1})) {
    return std::nullopt; // pieces of the part that fill each for itself
  }
  auto solution = pressure_step_.solve_all_wet(given, {&zero, 1});
  if (!solution) {
    return std::nullopt;
  }
  std::vector<double>& u = *solution;
  double lowest = never;
  for (std::size_t i = 0; i < u.size(); ++i) {
    lowest = has_room(i) ? std::min(lowest, u[i] - duration * floor_rate(i)) : lowest;
  }
  std::ranges::for_each(u, [&](double& value) { value -= lowest; });
  return End{duration, std::move(u)};
}

std::optional<Filling::End> Filling::end_by_pressure(const std::vector<double>& room,
                                                     const std::vector<double>& given,
                                                     std::vector<Port> anchors) {
  if (!is_anchored(anchors)) {
    return std::nullopt; // as above
  }
  auto steady = pressure_step_.solve_all_wet(given, anchors);
  std::ranges::for_each(anchors, [](Port& port) { port.impulse = 0; });
  const auto storage = pressure_step_.solve_all_wet(room, anchors);
  if (!steady || !storage) {
    return std::nullopt;
  }
  std::vector<double>& u = *steady; // y so far
  const std::vector<double>& w = *storage;
  double duration = 0;
  for (std::size_t i = 0; i < u.size(); ++i) {
    if (has_room(i)) {
      const double drive = u[i] - floor_rate(i);
      if (!(drive > 0)) {
        return std::nullopt;
      }
      duration = std::max(duration, w[i] / drive);
    }
  }
  for (std::size_t i = 0; i < u.size(); ++i) {
    u[i] = duration * u[i] - w[i];
  }
  return End{duration, std::move(u)};
}

/// The step to that end, unless a pump would be beyond its cap or set flow, or a port work the
/// wrong way.
std::optional<Step> Filling::step_to_end(End end, const std::vector<double>& room) const {
  const double duration = end.duration;
  const std::vector<double>& u = end.impulse;
  Step step = idle_step(duration);
  step.completes = true;
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    if (port_of_pump_[p] < 0) {
      continue;
    }
    const Port& port = ports_[position(port_of_pump_[p])];
    const std::size_t root = position(port.unknown);
    Stroke& stroke = step.strokes[p];
    stroke.at_cap = pumps_[p].at_cap;
    if (port.volume) {
      stroke.volume = *port.volume * duration;
    } else if (std::isfinite(port.conductance)) {
      stroke.volume = port.conductance * (port.impulse * duration - u[root]);
    } else {
      stroke.volume = net_outflow(u, port.unknown) + room[root];
    }
    stroke.mean_pressure = head_pressure(pumps_[p], stroke.volume, root, u[root], duration);
    const bool is_over = stroke.mean_pressure > pumps_[p].cap * (1 + 1e-9) + 1e-6 ||
                         stroke.volume > pumps_[p].flow_rate * duration * (1 + 1e-9);
    if (is_over || stroke.volume < 0) {
      return std::nullopt;
    }
    step.volume += stroke.volume;
  }
  for (const auto& [k, v] : vent_ports_) {
    const Port& port = ports_[k];
    const double out =
        std::isfinite(port.conductance)
            ? port.conductance * (u[position(port.unknown)] - port.impulse * duration)
            : -net_outflow(u, port.unknown);
    if (out < 0) {
      return std::nullopt;
    }
    step.bled[v] += out;
  }
  step.impulse = std::move(end.impulse);
  return step;
}

// --- bookkeeping -------------------------------------------------------------------------------

void Filling::advance(const Step& step) {
  const bool is_finite = std::ranges::all_of(
      step.strokes, [](const Stroke& stroke) { return std::isfinite(stroke.mean_pressure); });
  if (!(step.interval.end() > time_) || !is_finite) {
    throw SolveError("the filling comes to a stand at " + std::to_string(time_) +
                     " s: no step on from there was found");
  }
  const std::vector<double> before = fill_;
  if (step.completes) {
    std::ranges::fill(fill_, 1.0);
  } else if (!step.impulse.empty()) {
    pressure_step_.advance(fill_);
  }
  if (!step.impulse.empty()) {
    std::vector<double> excess = step.impulse;
    for (std::size_t i = 0; i < floor_.size() && !step.completes; ++i) {
      excess[i] -= floor_[i];
    }
    arrivals_.record(system_, before, fill_, excess, time_, step.interval.duration);
    if (step.completes) {
      mark_last_cell(step, before);
    }
  }
  carry_resin(step, before);
  time_ = step.interval.end();
  const double bled = step.volume_bled();
  std::ranges::transform(bled_, step.bled, bled_.begin(), std::plus{});
  room_ -= step.volume - bled;
  end_within_rounding();
  result_.injected += step.volume;
  result_.bled += bled;
}

/// Once no cell has room, or all the room left is within rounding, everything is full.
void Filling::end_within_rounding() {
  std::size_t i = 0;
  while (i < fill_.size() && !has_room(i)) {
    ++i;
  }
  if (i < fill_.size() && room_ > 1e-10 * reachable_volume_) {
    return;
  }
  for (; i < fill_.size(); ++i) {
    if (has_room(i)) {
      fill_[i] = 1;
      arrivals_.set(i, time_);
    }
  }
  room_ = 0;
}

/// The cell that had room and was pressed least is full when the step ends.
void Filling::mark_last_cell(const Step& step, std::span<const double> before) {
  double least = never;
  std::size_t last = 0;
  for (std::size_t i = system_.gates; i < before.size(); ++i) {
    const double floor = floor_rate(i) * step.interval.duration;
    if (before[i] < full_fraction && step.impulse[i] - floor < least) {
      least = step.impulse[i] - floor;
      last = i;
    }
  }
  if (last > 0) {
    arrivals_.set(last, step.interval.end());
  }
}

/// What each gate gave: through its links, and its share of what stayed in the gates' cells.
void Filling::credit_gates(const Step& step, HistoryRow& row) {
  std::vector<double> through(problem_.gates.size(), 0.0);
  row.gates.resize(problem_.gates.size());
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    const std::int32_t root = gate_control_.root(pumps_[p].gates);
    double rest = step.strokes[p].volume;
    for (const std::size_t g : pumps_[p].gates) {
      if (root < 0 || !gate_control_.is_open(g)) {
        continue;
      }
      for (const GateLink& link : gate_links_[g]) {
        const std::int32_t other = system_.unknown[link.node];
        if (other == root || step.impulse.empty()) {
          continue;
        }
        const double difference = step.impulse[position(root)] - step.impulse[position(other)];
        const double c = link.conductance * (ages_ ? ages_->link_factor(root, other) : 1);
        through[g] += step.completes ? c * difference : pressure_step_.link_flow(root, other, c);
      }
      rest -= through[g];
    }
    const double head = end_pressure(pumps_[p], step);
    for (const std::size_t g : pumps_[p].gates) {
      const bool gives = root >= 0 && gate_control_.is_open(g);
      const double volume =
          gives ? through[g] + rest * gate_control_.share_of_cells(g, pumps_[p].gates) : 0;
      const double flow = volume / step.interval.duration;
      const double loss =
          step.viscosity * pumps_[p].resistance * step.strokes[p].volume / step.interval.duration;
      const double pressure =
          gives && is_active(pumps_[p]) ? head - loss : pressure_[problem_.gates[g].nodes.front()];
      row.gates[g] = {flow, pressure};
      result_.gates[g].injected += volume;
      result_.gates[g].peak_pressure = std::max(result_.gates[g].peak_pressure, pressure);
    }
  }
}

double Filling::end_pressure(const Pump& pump, const Step& step) const {
  const auto p = static_cast<std::size_t>(&pump - pumps_.data());
  const Stroke& stroke = step.strokes[p];
  const double end =
      pump.end_pressure(step.interval, stroke, pressure_step_.border_volume(), step.completes);
  const double lowest = is_level() ? reference_ : std::min(reference_, stroke.mean_pressure);
  return std::clamp(end, std::min(lowest, pump.cap), pump.cap);
}

void Filling::put_pressures(const Step& step) {
  std::vector<double> pressures = air_.pressure();
  if (!step.impulse.empty()) {
    const double per_impulse = step.viscosity / step.interval.duration;
    for (std::size_t i = 0; i < pressures.size(); ++i) {
      pressures[i] = reference_ + per_impulse * step.impulse[i] - height_[i];
    }
  }
  pressure_ = on_nodes(pressures, problem_.sealed_air ? problem_.cavity_pressure : reference_);
}

void Filling::record(const Step& step, const FillWatcher& watcher) {
  put_pressures(step);
  HistoryRow row{time_,
                 (reachable_volume_ - room_) / result_.pore_volume,
                 step.volume / step.interval.duration,
                 end_pressure(pumps_.front(), step),
                 {},
                 bled_};
  credit_gates(step, row);
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    if (step.impulse.empty() || !is_active(pumps_[p])) {
      continue;
    }
    result_.peak_head_pressure =
        std::max(result_.peak_head_pressure, end_pressure(pumps_[p], step));
    if (pumps_[p].at_cap && !result_.time_cap_reached) {
      result_.time_cap_reached = step.strokes[p].at_cap ? step.interval.begin : time_;
    }
    if (step.completes || fill_[position(gate_control_.root(pumps_[p].gates))] >= full_fraction) {
      pumps_[p].record(step.interval, step.strokes[p]);
    }
  }
  const bool at_cap = std::ranges::any_of(step.strokes, &Stroke::at_cap);
  result_.time_at_cap += at_cap ? step.interval.duration : 0;
  ++result_.work.steps;
  if (!step.completes) {
    switch_gates();
  }
  row.shut_in_air = step.completes ? 0 : air_.sealed_volume();
  if (mould_load_) {
    const bool is_last_layer = step.completes || room_ < pressure_step_.border_volume();
    row.opening_force =
        is_last_layer
            ? mould_load_->in_last_layer(step.completes ? row.time : step.interval.middle(),
                                         row.time, pressure_step_.border_volume(),
                                         row.head_pressure)
            : mould_load_->after_step(row.time, pressure_, step.volume, row.head_pressure);
  }
  result_.history.push_back(std::move(row));
  put_ages();
  put_heat();
  last_interval_ = step.interval;
  last_volume_ = step.volume;
  last_stay_ = step.volume - step.volume_bled();
  rate_is_known_ = rate_is_known_ || step.volume > 0;
  is_over_ = room_ == 0;
  look_for_stall(step);
  if (watcher) {
    const PerNode<double> fill_fraction = on_nodes(fill_, 0.0);
    const PerNode<double> times = fill_times();
    if (!watcher({result_.work.steps, is_over_, result_.history.back(), fill_fraction, pressure_,
                  times, age_field_, viscosity_field_, temperature_field_, conversion_field_}) &&
        !is_over_) {
      stop(ShortReason::interrupted);
    }
  }
}

void Filling::stop(ShortReason reason) {
  result_.reason = reason;
  is_over_ = true;
}

/// Ends the filling when time is up or nothing moves any more and nothing will.
void Filling::look_for_stall(const Step& step) {
  if (is_over_) {
    return;
  }
  if (time_left() <= 1e-12 * time_) {
    const double gel = standstill_age_ - problem_.resin.mixed_before;
    const bool has_gelled = !ages_ && gel <= time_ * (1 + 1e-12);
    stop(has_gelled ? ShortReason::gel : ShortReason::time_limit);
    return;
  }
  const bool waits = std::isfinite(time_to_next_switch());
  if (ages_ && ages_->front_has_gelled() && !(longest_for_cells() < never)) {
    rests_ = waits;
    if (!waits) {
      stop(ShortReason::gel);
    }
    return;
  }
  if (!has_active_pump()) {
    if (!waits) {
      stop(reason_to_stall());
    }
    return;
  }
  if (was_cut_ || will_close(step)) {
    return; // a short step says nothing, and a vent that closes changes the flow
  }
  const bool all_at_cap =
      std::ranges::all_of(pumps_,
                          [&](const Pump& pump) { return !is_active(pump) || pump.at_cap; }) &&
      std::ranges::all_of(step.strokes,
                          [](const Stroke& stroke) { return stroke.at_cap || stroke.volume == 0; });
  // Resin may run through an open vent for ever: what counts is what stays.
  const double bled = step.volume_bled();
  if (!all_at_cap && !(bled > 0)) {
    slow_steps_ = 0;
    return;
  }
  const auto come_to_rest = [&] { // until something switches, if anything will
    slow_steps_ = 0;
    rests_ = waits;
    if (!waits) {
      stop(reason_to_stall());
    }
  };
  const double highest = highest_cap();
  const bool is_pressed = std::ranges::all_of(air_.pieces(), [&](const AirPiece& piece) {
    const double top = highest + problem_.ambient;
    return piece.is_sealed && piece.pressure + problem_.ambient > (1 - 1e-4) * top;
  });
  if (!air_.pieces().empty() && all_at_cap && is_pressed) {
    come_to_rest();
    return;
  }
  // At the rate of a short step, what a longer one would have brought.
  const double least_duration = 1e-2 * time_ / options_.steps;
  const double gained =
      (step.volume - bled) * std::max(1.0, least_duration / step.interval.duration);
  if (!step.impulse.empty() && gained < 1e-9 * reachable_volume_) {
    come_to_rest();
    return;
  }
  const bool is_slow = gained < 1e-5 * reachable_volume_ && gained < 1e-2 * planned_volume();
  slow_steps_ = is_slow ? slow_steps_ + 1 : 0;
  if (slow_steps_ >= 3) {
    come_to_rest();
  }
}

/// Whether resin runs through a vent that closes once it has let out so much.
bool Filling::will_close(const Step& step) const {
  for (std::size_t v = 0; v < step.bled.size(); ++v) {
    if (step.bled[v] > 0 && std::isfinite(problem_.vents[v].bleed) && !has_bled(v)) {
      return true;
    }
  }
  return false;
}

/// Why nothing moves any more.
ShortReason Filling::reason_to_stall() const {
  const bool any_open = std::ranges::any_of(
      pumps_, [&](const Pump& pump) { return gate_control_.root(pump.gates) >= 0; });
  if (!any_open) {
    return ShortReason::no_path;
  }
  const bool has_sealed = std::ranges::any_of(air_.pieces(), &AirPiece::is_sealed);
  const bool all_sealed = std::ranges::all_of(air_.pieces(), &AirPiece::is_sealed);
  if (has_sealed && all_sealed) {
    return ShortReason::trapped_air;
  }
  return is_thick() ? ShortReason::gel : ShortReason::pressure;
}

template <class T> PerNode<T> Filling::on_nodes(const std::vector<T>& values, T elsewhere) const {
  PerNode<T> result(system_.unknown.size(), elsewhere);
  for (const NodeId node : result.ids()) {
    if (const std::int32_t unknown = system_.unknown[node]; unknown >= 0) {
      result[node] = values[position(unknown)];
    }
  }
  return result;
}

/// Of values that gates tied to one pump have each for itself.
template <class T>
PerNode<T> Filling::each_on_nodes(const std::vector<T>& values, T elsewhere) const {
  PerNode<T> result = on_nodes(values, elsewhere);
  for (std::size_t g = 0; g < problem_.gates.size(); ++g) {
    for (const NodeId node : problem_.gates[g].nodes) {
      result[node] = values[g];
    }
  }
  return result;
}

PerNode<double> Filling::fill_times() const {
  return each_on_nodes(arrivals_.fill_times(system_), std::numeric_limits<double>::quiet_NaN());
}

void Filling::judge() {
  const bool is_filled = room_ == 0;
  if (result_.reason == ShortReason::none &&
      reachable_volume_ < result_.pore_volume * (1 - 1e-12)) {
    result_.reason = ShortReason::no_path;
  }
  const bool is_all = is_filled && result_.reason == ShortReason::none;
  result_.verdict = is_all ? Verdict::filled : Verdict::short_fill;
  if (is_all) {
    result_.fill_time = time_;
  }
}

void Filling::collect_regions() {
  for (const Region& region : problem_.regions) {
    result_.regions.push_back({region.name, 0, 0});
  }
  for (const ElementId id : problem_.mesh.elements.ids()) {
    const std::size_t r = problem_.element_region[id].position();
    const double area = element_area(problem_.mesh, id);
    result_.area += area;
    result_.regions[r].area += area;
    const Reinforcement local = reinforcement_at(problem_, id);
    result_.regions[r].pore_volume += area * local.thickness * local.porosity;
  }
}

/// Where resin came last or never, and where air was shut in.
void Filling::collect_places() {
  result_.last_filled =
      last_filled_places(problem_, network_, result_.fill_time_field, 0.005 * time_);
  result_.suspect_zones = air_.suspects();
  if (result_.verdict == Verdict::filled) {
    return;
  }
  std::vector<NodeAir> air(system_.size());
  std::ranges::transform(air_.pressure(), air.begin(), [](double p) { return NodeAir{p}; });
  std::int32_t number = 0;
  for (const AirPiece& piece : air_.pieces()) {
    for (const std::int32_t unknown : piece.unknowns) {
      air[position(unknown)] = {
          piece.pressure, piece.is_sealed ? std::optional(piece.sealed_at) : std::nullopt, number};
    }
    ++number;
  }
  const double elsewhere = problem_.sealed_air ? problem_.cavity_pressure : reference_;
  result_.dry_spots =
      dry_places(problem_, network_, result_.fill_fraction, on_nodes(air, NodeAir{elsewhere}));
}

FillResult Filling::finish() {
  judge();
  collect_regions();
  result_.end_time = time_;
  result_.fill_fraction = on_nodes(fill_, 0.0);
  result_.pressure = pressure_;
  put_ages();
  put_heat();
  result_.temperature = temperature_field_;
  result_.conversion = conversion_field_;
  result_.resin_age = age_field_;
  result_.viscosity = viscosity_field_;
  result_.fill_time_field = fill_times();
  result_.gate_index = each_on_nodes(arrivals_.origin(), -1);
  for (std::size_t g = 0; g < problem_.gates.size(); ++g) {
    GateResult& gate = result_.gates[g];
    gate.opened_at = gate_control_.opened_at(g);
    gate.closed_at =
        gate.opened_at ? std::optional(gate_control_.closed_at(g).value_or(time_)) : std::nullopt;
  }
  for (std::size_t i = 0; i < fill_.size(); ++i) {
    result_.resin_in_part += fill_[i] * system_.volume[i];
  }
  result_.filled_fraction = result_.resin_in_part / result_.pore_volume;
  const double held = result_.resin_in_part + pressure_step_.surplus();
  if (result_.injected > 0) {
    result_.mass_balance_error = (result_.injected - held - result_.bled) / result_.injected;
  }
  for (std::size_t v = 0; v < problem_.vents.size(); ++v) {
    const Vent& vent = problem_.vents[v];
    double first = never;
    for (const NodeId node : vent.nodes) {
      const double time = result_.fill_time_field[node];
      first = std::isnan(time) ? first : std::min(first, time);
    }
    result_.vents.push_back(
        {vent.name, std::isfinite(first) ? std::optional(first) : std::nullopt, bled_[v]});
  }
  collect_places();
  collect_age_facts();
  collect_heat_facts();
  if (mould_load_) {
    result_.mould_load = mould_load_->load();
  }
  const SolveCount& count = pressure_step_.count();
  result_.work.linear_solves = count.solves;
  result_.work.linear_iterations = count.iterations;
  result_.work.largest_residual = count.largest_residual;
  return std::move(result_);
}

} // namespace

FillResult fill(const FillProblem& problem, const FillOptions& options,
                const FillWatcher& watcher) {
  Filling filling(problem, options);
  filling.open_gates();
  while (filling.goes_on()) {
    const Step step = filling.next_step();
    filling.advance(step);
    filling.record(step, watcher);
  }
  return filling.finish();
}

} // namespace tidemark
