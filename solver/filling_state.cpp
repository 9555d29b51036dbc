// What switches between steps: gates, stages, air, and which pumps and bodies count.
#include "solver/filling_run.hpp"

#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

/// Amount of air in the cells of each seat: absolute pressure times volume [J].
std::vector<double> Filling::air_in_gates() const {
  std::vector<double> amount(system_.seats.size());
  for (std::size_t s = 0; s < amount.size(); ++s) {
    const std::size_t i = position(gate_control_.unknown(s));
    const double empty = (1 - fill_[i]) * gate_control_.volume(s);
    amount[s] = (air_.pressure()[i] + problem_.ambient) * empty;
  }
  return amount;
}

/// Seats that are one unknown now share the air there was in them.
void Filling::share_air_of_gates(const std::vector<double>& amount) {
  std::vector<double> sum(amount.size(), 0.0);
  for (std::size_t s = 0; s < amount.size(); ++s) {
    sum[position(gate_control_.unknown(s))] += amount[s];
  }
  std::vector<double> pressure(air_.pressure().begin(),
                               air_.pressure().begin() + static_cast<std::ptrdiff_t>(sum.size()));
  for (std::size_t s = 0; s < sum.size(); ++s) {
    const double empty = (1 - fill_[s]) * system_.volume[s];
    pressure[s] = empty > 0 ? sum[s] / empty - problem_.ambient : pressure[s];
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
    slow_steps_ = 0;
    passed_ = 0;
    has_switched_ = result_.work.steps > 0;
    for (Pump& pump : pumps_) {
      pump.forget();
      if (const std::int32_t root = gate_control_.root(pump.gates);
          root >= 0 && result_.work.steps == 0) {
        pressure_step_.expect_at(root);
      }
    }
    for (std::size_t g = 0; g < problem_.gates.size(); ++g) {
      if (gate_control_.is_open(g)) {
        arrivals_.open_gate(system_, g, time_);
      }
    }
  }
  for (Pump& pump : pumps_) {
    if (pump.take_over_stages(time_)) {
      has_switched_ = result_.work.steps > 0;
      pump.forget();
      rate_is_known_ = false;
      slow_steps_ = 0;
      passed_ = 0;
    }
  }
  collect_bodies();
  fill_cells_at_cap();
  end_within_rounding();
  judge_ages();
}

/// Whether a pump at its cap has more than the pressure of the air at its gates, or the weight of
/// the resin that is to fall from there.
bool Filling::fills_own_cells(const Pump& pump) const {
  const double air = air_.pressure()[position(gate_control_.root(pump.gates))];
  return pump.cap > air || (pump.cap >= air && problem_.gravity);
}

/// At a held pressure the cells at a gate fill at once; at a flow rate or behind a hose they fill
/// first.
void Filling::fill_cells_at_cap() {
  bool any_filled = false;
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    Pump& pump = pumps_[p];
    const std::int32_t root = gate_control_.root(pump.gates);
    if (!pump.at_cap || pump.resistance > 0 || !is_active(pump) ||
        fill_[position(root)] >= full_fraction || !fills_own_cells(pump)) {
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
        result_.gates[g].peak_pressure =
            std::max(result_.gates[g].peak_pressure, pump.cap + depth_of_gate(g, root));
      }
    }
    fill = 1;
    any_filled = true;
    result_.peak_head_pressure = std::max(result_.peak_head_pressure, pump.cap);
    at_cap_[p].reached = at_cap_[p].reached.value_or(time_);
  }
  if (any_filled) {
    air_.update(fill_, time_);
    collect_bodies();
  }
}

/// Whether a vent has let out what it may, within what can be told.
bool Filling::has_bled(std::size_t vent) const {
  const double bleed = problem_.vents[vent].bleed;
  return bled_[vent] >= (1 - bleed_tolerance) * bleed ||
         bleed - bled_[vent] < 1e-9 * reachable_volume_;
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
  if (!problem_.gravity) {
    return pump.cap > lowest_air_pressure();
  }
  const std::size_t root = position(gate_control_.root(pump.gates));
  return fill_[root] >= full_fraction || fills_own_cells(pump);
}

double Filling::lowest_air_pressure() const {
  double lowest = air_.pieces().empty() ? reference_ : never;
  for (const AirPiece& piece : air_.pieces()) {
    lowest = std::min(lowest, piece.pressure);
  }
  return lowest;
}

/// What the pumps of its body can bring to a height in a piece of air [gauge Pa], if nothing flows.
double Filling::pressure_at_rest(const AirPiece& piece, double height) const {
  const std::vector<std::int32_t>& body = pressure_step_.body_of();
  const std::int32_t own = body[position(piece.unknowns.front())];
  double highest = -never;
  for (const Pump& pump : pumps_) {
    const std::int32_t root = gate_control_.root(pump.gates);
    if (root >= 0 && body[position(root)] == own) {
      highest = std::max(highest, pump.cap + height_[position(root)] - height);
    }
  }
  return highest;
}

/// The same to where the resin borders on it now, the lowest of that, or to the lowest of all of it
/// if it does so nowhere.
double Filling::pressure_at_rest(const AirPiece& piece) const {
  double lowest = never;
  for (const std::int32_t unknown : piece.unknowns) {
    const bool is_at_front =
        std::ranges::any_of(system_.matrix.neighbours(unknown),
                            [&](std::int32_t j) { return fill_[position(j)] >= full_fraction; });
    lowest = is_at_front ? std::min(lowest, height_[position(unknown)]) : lowest;
  }
  return pressure_at_rest(piece, lowest < never ? lowest : heights_of(piece).first);
}

std::pair<double, double> Filling::heights_of(const AirPiece& piece) const {
  std::pair<double, double> heights{never, -never};
  for (const std::int32_t unknown : piece.unknowns) {
    heights.first = std::min(heights.first, height_[position(unknown)]);
    heights.second = std::max(heights.second, height_[position(unknown)]);
  }
  return heights;
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

} // namespace tidemark
