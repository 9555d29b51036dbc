#include "solver/resin_heat.hpp"

#include "mesh/triangulation.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace tidemark {

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr double never = std::numeric_limits<double>::infinity();
constexpr double thinnest = 1e-3; // viscosity over that at the inlet: own choice, far below any

/// (1 - exp(-z)) / z
double phi_1(double z) {
  return z > 1e-12 ? -std::expm1(-z) / z : 1 - 0.5 * z;
}

/// (1 - phi_1(z)) / z
double phi_2(double z) {
  return z > 1e-4 ? (1 - phi_1(z)) / z : 0.5 - z / 6 + z * z / 24;
}

bool ages_by_cure(const Resin& resin) {
  return std::holds_alternative<PowerThickening>(resin.thickening) ||
         std::holds_alternative<CureThickening>(resin.thickening);
}

} // namespace

StirredState stir(const Stirred& vessel, double before) {
  const double w0 = vessel.capacity_before;
  const double w1 = vessel.capacity_after;
  const double growth = w1 - w0;
  const double x0 = w0 > 0 ? before : 0;
  const double given = vessel.carried + vessel.source;
  const double taken = vessel.inflow + vessel.loss;
  if (growth <= 1e-9 * w1) {
    const double z = taken / w1;
    const double rise = given / w1;
    return {x0 * std::exp(-z) + rise * phi_1(z), x0 * phi_1(z) + rise * phi_2(z)};
  }
  // What is taken is at least what the vessel grows by.
  const double a = std::max(taken, growth);
  const double rest = given / a;
  const double left = w0 > 0 ? std::exp(a / growth * std::log(w0 / w1)) : 0;
  const double at_end = rest + (x0 - rest) * left;
  if (!(w0 > 0)) {
    return {at_end, at_end}; // the same all along
  }
  // Little flow through much resin leaves nothing but rounding of this; x never turns back.
  const double out = a - growth;
  const double mean = out > 0 ? (given + w0 * x0 - w1 * at_end) / out : at_end;
  return {at_end, std::clamp(mean, std::min(x0, at_end), std::max(x0, at_end))};
}

// --- set-up ------------------------------------------------------------------------------------

ResinHeat::ResinHeat(const FillProblem& problem, const FlowSystem& system)
    : problem_(problem), system_(system), heat_(*problem.heat),
      resin_capacity_(problem.resin.density.value_or(0) * heat_.resin_specific_heat),
      inlet_excess_(heat_.inlet_temperature - heat_.mould_temperature),
      gel_age_(gel_age(problem.resin)), standstill_age_(standstill_age(problem.resin)),
      thickens_by_cure_(ages_by_cure(problem.resin)),
      node_fibre_(problem.mesh.positions.size(), 0.0),
      node_area_(problem.mesh.positions.size(), 0.0), cells_(system.size(), Cell{none, none, none}),
      excess_out_(system.size(), 0.0), cure_out_(system.size(), 0.0), is_vent_(system.size(), 0) {
  const TemperatureLaws& laws = problem.resin.laws;
  if (laws.cure) {
    course_ = cure_course(law_at(*laws.cure, heat_.inlet_temperature), laws.cure->gel_conversion);
  } else if (laws.gel) {
    gel_time_at_inlet_ = gel_time(*laws.gel, law_temperature(inlet_excess_), laws.catalyst);
  }
  const Triangulation triangulation = triangulate(problem.mesh);
  const auto& positions = problem.mesh.positions;
  for (const TriangleId id : triangulation.corners.ids()) {
    const auto& [a, b, c] = triangulation.corners[id];
    const double third = area_vector(positions[a], positions[b], positions[c]).norm() / 3;
    const ElementId element = triangulation.element[id];
    const Region& region = problem.regions[problem.element_region[element].position()];
    const Reinforcement local = reinforcement_at(problem, element);
    const double fibre = region.fibre_density.value_or(0) * heat_.fibre_specific_heat *
                         local.fibre_volume_fraction * local.thickness;
    for (const NodeId node : {a, b, c}) {
      node_area_[node] += third;
      node_fibre_[node] += fibre * third;
    }
  }
  collect();
}

/// Sums over the nodes of each unknown.
void ResinHeat::collect() {
  fibre_.assign(system_.size(), 0.0);
  area_.assign(system_.size(), 0.0);
  for (const NodeId node : system_.order) {
    const std::size_t i = position(system_.unknown[node]);
    fibre_[i] += node_fibre_[node];
    area_[i] += node_area_[node];
  }
  std::ranges::fill(is_vent_, 0);
  for (const Vent& vent : problem_.vents) {
    for (const NodeId node : vent.nodes) {
      if (const std::int32_t i = system_.unknown[node]; i >= 0) {
        is_vent_[position(i)] = 1;
      }
    }
  }
}

// --- laws --------------------------------------------------------------------------------------

double ResinHeat::law_temperature(double excess) const {
  const TemperatureLaws& laws = problem_.resin.laws;
  return std::clamp(heat_.mould_temperature + excess, laws.lowest, laws.highest);
}

double ResinHeat::cure_of_age(double age) const {
  return course_ ? conversion_at(*course_, age / problem_.resin.slowness) : std::max(age, 0.0);
}

/// The age at which resin kept at the inlet's temperature has come so far [s].
double ResinHeat::age_of_cure(double cure) const {
  return course_ ? age_at(*course_, cure) * problem_.resin.slowness : cure;
}

/// Per second.
double ResinHeat::cure_rate_at(double cure, double excess) const {
  const TemperatureLaws& laws = problem_.resin.laws;
  if (laws.cure) {
    const CureLaw law = law_at(*laws.cure, heat_.mould_temperature + excess);
    return cure_rate(law, std::min(cure, 1 - 1e-9)) / problem_.resin.slowness;
  }
  return laws.gel ? gel_time_at_inlet_ / gel_time(*laws.gel, law_temperature(excess), laws.catalyst)
                  : 1;
}

/// After a duration [s] at one temperature.
double ResinHeat::later_cure(double cure, double excess, double duration) const {
  const double change = cure_rate_at(cure, excess) * duration;
  return course_ ? 1 - (1 - cure) * std::exp(-change / std::max(1 - cure, 1e-9)) : cure + change;
}

bool ResinHeat::is_solid(double cure, double age) const {
  const double effective = age_of_cure(cure);
  constexpr double nearly_all = 1 - 1e-9;
  return effective >= gel_age_ * nearly_all ||
         (thickens_by_cure_ ? effective : age) >= standstill_age_ * nearly_all;
}

double ResinHeat::ratio_of(double excess, double cure, double age) const {
  if (std::isnan(excess)) {
    return 1; // no resin yet
  }
  if (is_solid(cure, age)) {
    return solid_ratio;
  }
  const Resin& resin = problem_.resin;
  const double effective = thickens_by_cure_ ? age_of_cure(cure) : age;
  const double rise = viscosity_at(resin, std::max(effective, 0.0)) / resin.viscosity;
  const double fresh = fresh_viscosity(resin.laws.viscosity, law_temperature(excess)) /
                       fresh_viscosity(resin.laws.viscosity, law_temperature(inlet_excess_));
  return std::clamp(rise * fresh, thinnest, solid_ratio);
}

// --- one step ----------------------------------------------------------------------------------

ResinHeat::Inflow ResinHeat::inflow_of(const Step& step, std::int32_t unknown) const {
  const std::size_t i = position(unknown);
  const double least = 1e-9 * system_.volume[i];
  Inflow inflow;
  inflow.front_cure = none;
  const auto meet = [&](double front) {
    const bool is_first = std::isnan(inflow.front_cure) || front > inflow.front_cure;
    inflow.front_cure = is_first ? front : inflow.front_cure;
  };
  for (const Source& source : step.sources) {
    if (source.unknown == unknown && source.volume > 0) {
      inflow.volume += source.volume;
      inflow.excess += source.volume * inlet_excess_;
      inflow.cure += source.volume * cure_of_age(source.age);
      meet(cure_of_age(source.oldest_age));
    }
  }
  if (step.u.empty()) {
    return inflow;
  }
  const Stencil& matrix = system_.matrix;
  for (std::int32_t k = matrix.first[i]; k < matrix.first[i + 1]; ++k) {
    const std::int32_t other = matrix.column[position(k)];
    const std::size_t j = position(other);
    const double c = matrix.link[position(k)];
    if (step.u[j] > step.u[i] && !std::isnan(cells_[j].excess)) {
      const double volume = std::max(0.0, step.flow(other, unknown, c));
      inflow.volume += volume;
      inflow.excess += volume * excess_out_[j];
      inflow.cure += volume * cure_out_[j];
      if (volume > least) {
        meet(cells_[j].front_cure);
      }
    } else if (is_vent_[i] && step.u[i] > step.u[j]) {
      inflow.outflow += std::max(0.0, step.flow(unknown, other, c));
    }
  }
  return inflow;
}

/// One cell over the step, in shares no longer than cure allows.
void ResinHeat::change(const Step& step, std::int32_t unknown, const Inflow& inflow) {
  const std::size_t i = position(unknown);
  Cell& cell = cells_[i];
  const double volume = system_.volume[i];
  const double rise = std::max(0.0, step.after[i] - step.before[i]);
  const bool is_new = std::isnan(cell.excess) || !(step.before[i] > 0);
  constexpr double least = 1e-30; // a fill fraction that products of it do not make zero
  const bool is_empty = !(volume > 0) || !(step.before[i] + rise > least);
  if (is_empty || (is_new && !(inflow.volume > least * volume))) {
    return;
  }
  const double capacity = resin_capacity_ * volume + fibre_[i];
  const double out = std::max(0.0, inflow.volume - rise * volume); // [m3]
  double excess = is_new ? inflow.excess * resin_capacity_ /
                               (resin_capacity_ * inflow.volume + rise * fibre_[i])
                         : cell.excess;
  double cure = is_new ? inflow.cure / inflow.volume : cell.cure;
  double front = cell.front_cure;
  double mean_excess = 0;
  double mean_cure = 0;
  const bool has_kinetics = course_.has_value();
  const double heat_of_cure =
      has_kinetics ? heat_.heat_of_cure * problem_.resin.density.value_or(0) : 0; // [J/m3]
  const double adiabatic_rise = heat_of_cure * volume / capacity;                 // [K]
  for (double done = 0; done < 1;) {
    const double duration = step.duration * (1 - done);
    double share = 1 - done;
    if (has_kinetics) {
      const double change = duration * cure_rate_at(cure, excess);
      share /= std::max({1.0, change / 0.02, change * adiabatic_rise / 2});
      share = std::max(share, 1e-4);
    }
    share = share > 0.999 * (1 - done) ? 1 - done : share;
    const double w0 = step.before[i] + done * rise;
    const double w1 = w0 + share * rise;
    const double w = 0.5 * (w0 + w1);
    const double time = share * step.duration;
    const double loss = heat_.wall_coefficient * area_[i] * w * time;
    StirredState heat{excess, excess};
    StirredState reaction{cure, cure};
    double produced = 0; // conversion times volume [m3]
    double at_excess = excess;
    double at_cure = cure;
    for (int pass = 0; pass < 2; ++pass) { // the second with the rate at the middle
      const double rate = cure_rate_at(at_cure, at_excess);
      const double left = std::max(1 - at_cure, 1e-9);
      const double drive = w * volume * time * (has_kinetics ? rate / left : rate);
      reaction = stir({w0 * volume, w1 * volume, share * inflow.volume, share * inflow.cure,
                       has_kinetics ? drive : 0, drive},
                      cure);
      produced = has_kinetics ? drive * (1 - reaction.mean) : 0;
      heat = stir({w0 * capacity, w1 * capacity,
                   share * (resin_capacity_ * inflow.volume + rise * fibre_[i]),
                   share * resin_capacity_ * inflow.excess, loss, heat_of_cure * produced},
                  excess);
      at_excess = heat.mean;
      at_cure = has_kinetics ? std::clamp(reaction.mean, 0.0, 1.0) : reaction.mean;
    }
    front = std::isnan(front) ? front : later_cure(front, heat.mean, time);
    balance_.to_mould += loss * heat.mean;
    balance_.reaction += heat_of_cure * produced;
    mean_excess += share * heat.mean;
    mean_cure += share * reaction.mean;
    excess = heat.at_end;
    cure = reaction.at_end;
    done = share >= 1 - done ? 1 : done + share;
  }
  cell.excess = excess;
  cell.cure = cure;
  cell.front_cure = std::isnan(front) ? inflow.front_cure : front;
  excess_out_[i] = mean_excess;
  cure_out_[i] = mean_cure;
  if (is_vent_[i]) {
    balance_.carried_out += resin_capacity_ * std::max(0.0, out - inflow.outflow) * mean_excess;
  }
}

void ResinHeat::carry_part(const Step& step, std::span<const std::int32_t> order) {
  for (const std::int32_t unknown : order) {
    change(step, unknown, inflow_of(step, unknown));
  }
  for (const Source& source : step.sources) {
    balance_.carried_in += resin_capacity_ * source.volume * inlet_excess_;
  }
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    const double temperature = heat_.mould_temperature + cells_[i].excess;
    const bool has_resin = step.after[i] > 0 && !std::isnan(temperature); // spare seats have none
    if (has_resin && (peak_.unknown < 0 || temperature > peak_.temperature + 1e-9)) {
      peak_ = {static_cast<std::int32_t>(i), temperature, step.begin + step.duration};
    }
  }
}

void ResinHeat::carry(const Step& step, int parts) {
  std::vector<std::int32_t> order(system_.size());
  std::iota(order.begin(), order.end(), 0);
  if (!step.u.empty()) {
    std::ranges::stable_sort(order, std::ranges::greater{},
                             [&](std::int32_t i) { return step.u[position(i)]; });
  }
  const double share = 1.0 / parts;
  std::vector<double> fill(step.before.begin(), step.before.end());
  std::vector<double> next = fill;
  for (int part = 0; part < parts; ++part) {
    const double done = part + 1 == parts ? 1 : (part + 1) * share;
    for (std::size_t i = 0; i < fill.size(); ++i) {
      next[i] = part + 1 == parts ? step.after[i]
                                  : step.before[i] + done * (step.after[i] - step.before[i]);
    }
    std::vector<Source> sources(step.sources.begin(), step.sources.end());
    for (Source& source : sources) {
      const double sooner = (1 - done) * step.duration;
      source.volume *= share;
      source.age = source.oldest_age - sooner - done * (source.oldest_age - source.age);
      source.oldest_age -= sooner;
    }
    const auto flow = [&](std::int32_t i, std::int32_t j, double c) {
      return share * step.flow(i, j, c);
    };
    carry_part({fill, next, step.u, flow, sources, step.begin + part * share * step.duration,
                share * step.duration},
               order);
    fill = next;
  }
}

void ResinHeat::top_up(std::int32_t unknown, double fill, double age) {
  const std::size_t i = position(unknown);
  Cell& cell = cells_[i];
  const double added = (1 - fill) * system_.volume[i];
  const bool is_new = std::isnan(cell.excess) || !(fill > 0);
  const double capacity = resin_capacity_ * system_.volume[i] + fibre_[i];
  const double energy = is_new ? 0 : fill * capacity * cell.excess;
  cell.excess = (energy + resin_capacity_ * added * inlet_excess_) / capacity;
  cell.cure = (is_new ? 0 : fill * cell.cure) + (1 - fill) * cure_of_age(age);
  cell.front_cure = cure_of_age(age);
  balance_.carried_in += resin_capacity_ * added * inlet_excess_;
}

// --- seats tied and untied ---------------------------------------------------------------------

std::vector<ResinHeat::GateContent> ResinHeat::gate_contents(std::span<const double> fill,
                                                             std::span<const double> volume) const {
  std::vector<GateContent> contents;
  for (std::size_t s = 0; s < volume.size(); ++s) {
    const std::vector<NodeId>& nodes = system_.seats[s].nodes;
    const std::size_t i = position(system_.unknown[nodes.front()]);
    GateContent content{0, 0, 0, none};
    if (fill[i] > 0 && !std::isnan(cells_[i].excess)) {
      double capacity = resin_capacity_ * volume[s];
      for (const NodeId node : nodes) {
        capacity += node_fibre_[node];
      }
      content = {fill[i] * capacity * cells_[i].excess, fill[i] * volume[s],
                 fill[i] * volume[s] * cells_[i].cure, cells_[i].front_cure};
    }
    contents.push_back(content);
  }
  return contents;
}

void ResinHeat::regroup(std::span<const GateContent> contents, std::span<const double> fill) {
  collect();
  for (std::size_t g = 0; g < contents.size(); ++g) {
    double energy = 0;
    double resin = 0;
    double cure = 0;
    double front = none;
    for (std::size_t other = 0; other < contents.size(); ++other) {
      const NodeId node = system_.seats[other].nodes.front();
      if (position(system_.unknown[node]) == g && contents[other].resin > 0) {
        energy += contents[other].energy;
        resin += contents[other].resin;
        cure += contents[other].cure;
        front = std::isnan(front) ? contents[other].front_cure
                                  : std::min(front, contents[other].front_cure);
      }
    }
    const double capacity = fill[g] * (resin_capacity_ * system_.volume[g] + fibre_[g]);
    cells_[g] = resin > 0 ? Cell{energy / capacity, cure / resin, front} : Cell{none, none, none};
  }
}

// --- what is asked -----------------------------------------------------------------------------

double ResinHeat::temperature(std::int32_t unknown) const {
  return heat_.mould_temperature + cells_[position(unknown)].excess;
}

double ResinHeat::conversion(std::int32_t unknown) const {
  return cells_[position(unknown)].cure;
}

double ResinHeat::viscosity_ratio(std::int32_t unknown, double age) const {
  const Cell& cell = cells_[position(unknown)];
  return ratio_of(cell.excess, cell.cure, age);
}

double ResinHeat::front_viscosity_ratio(std::int32_t unknown, double age, double ahead) const {
  const Cell& cell = cells_[position(unknown)];
  const double cure = std::isnan(cell.front_cure) ? cell.cure : cell.front_cure;
  return ratio_of(cell.excess, later_cure(cure, cell.excess, ahead), age + ahead);
}

bool ResinHeat::has_gelled(std::int32_t unknown, double age) const {
  return is_solid(cells_[position(unknown)].cure, age);
}

double ResinHeat::time_to_gel_of_front(std::int32_t unknown, double age) const {
  const Cell& cell = cells_[position(unknown)];
  const double cure = std::isnan(cell.front_cure) ? cell.cure : cell.front_cure;
  if (is_solid(cure, age)) {
    return 0;
  }
  const double by_age = thickens_by_cure_ ? never : standstill_age_ - age;
  const double target = thickens_by_cure_ ? standstill_age_ : gel_age_;
  if (!course_) {
    return std::min(by_age, (target - cure) / cure_rate_at(cure, cell.excess));
  }
  const double end = std::isfinite(target) ? cure_of_age(target) : course_->gel_conversion();
  constexpr int panels = 8;
  const double time = integral(cure, std::max(end, cure), panels,
                               [&](double alpha) { return 1 / cure_rate_at(alpha, cell.excess); });
  return std::min(by_age, time);
}

ResinHeat::Pace ResinHeat::pace(std::span<const double> fill, std::span<const double> mixed_at,
                                double time) const {
  const Resin& resin = problem_.resin;
  Pace largest;
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    const Cell& cell = cells_[i];
    if (!(fill[i] > 0) || std::isnan(cell.excess)) {
      continue;
    }
    for (const double cure : {cell.cure, cell.front_cure}) {
      const double age = time - mixed_at[i];
      if (std::isnan(cure) || is_solid(cure, age)) {
        continue;
      }
      const double effective = age_of_cure(cure);
      const double ageing =
          course_ ? cure_rate_at(cure, cell.excess) / cure_rate_at(cure, inlet_excess_)
                  : cure_rate_at(cure, cell.excess);
      const double rate = thickens_by_cure_ ? ageing * thickening_rate(resin, effective)
                                            : thickening_rate(resin, std::max(age, 0.0));
      largest.thickening = std::max(largest.thickening, rate);
      largest.ageing = std::max(largest.ageing, ageing);
    }
  }
  return largest;
}

double ResinHeat::largest_gel_share(std::span<const double> fill, std::span<const double> mixed_at,
                                    double time, bool with_front) const {
  double largest = 0;
  const double target = std::min(gel_age_, standstill_age_);
  for (std::size_t i = 0; i < cells_.size() && std::isfinite(target); ++i) {
    if (!(fill[i] > 0) || std::isnan(cells_[i].excess)) {
      continue;
    }
    const double front = with_front ? cells_[i].front_cure : none;
    for (const double cure : {cells_[i].cure, front}) {
      const double share = is_solid(cure, time - mixed_at[i]) ? 1 : age_of_cure(cure) / target;
      largest = std::isnan(cure) ? largest : std::max(largest, std::min(share, 1.0));
    }
  }
  return largest;
}

HeatBalance ResinHeat::balance(std::span<const double> fill) const {
  HeatBalance balance = balance_;
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    if (fill[i] > 0 && !std::isnan(cells_[i].excess)) {
      const double capacity = resin_capacity_ * system_.volume[i] + fibre_[i];
      balance.stored += system_.volume[i] > 0 ? fill[i] * capacity * cells_[i].excess : 0;
    }
  }
  return balance;
}

} // namespace tidemark
