// How long a step may be, and one step solved.
#include "solver/filling_run.hpp"

#include "mesh/error.hpp"
#include "solver/channel_law.hpp"
#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

namespace tidemark {

namespace {
/// Largest inflow over the room of a cell in a step on the full ones that can be taken [-].
constexpr double just_full = 1 + 2e-10;
/// Of what is left a step fills at most that part [-]: as the front closes on the last places the
/// pressure can climb within the last per cent. Where air holds it up, or hardly any resin stays,
/// steps come nearer. What is that small a part of an even share is filled by one step.
constexpr double most_of_rest = 0.4;
constexpr double most_of_held_up = 0.9;
constexpr double hardly_any = 0.1; // of what is let in
constexpr double little_left = 0.12;
} // namespace

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
  const bool is_held_up = last_stay_ < hardly_any * last_volume_ ||
                          std::ranges::any_of(air_.pieces(), &AirPiece::is_sealed);
  return std::min(volume, (is_held_up ? most_of_held_up : most_of_rest) * room_);
}

/// What drives the resin of a pump at its cap into the cells at its gates, by pressure and by
/// weight, or a thousandth of the larger pressure (of 1 Pa at least) if nothing does [Pa].
double Filling::drive_at_cap(const Pump& pump) const {
  const std::int32_t root = gate_control_.root(pump.gates);
  const double at_gate = pump.cap + height_[position(root)];
  double drive = 1e-3 * std::max({1.0, std::abs(pump.cap), std::abs(reference_)});
  for (const std::int32_t j : system_.matrix.neighbours(root)) {
    drive = std::max(drive, at_gate - air_.pressure()[position(j)] - height_[position(j)]);
  }
  return drive;
}

double Filling::planned_duration(double volume) const {
  const bool bleeds = last_stay_ < last_volume_;
  if (!any_at_cap() && !bleeds) {
    return volume / set_flow();
  }
  if (rate_is_known_ && (last_stay_ > 0 || bleeds)) { // bleeds: all that came in ran out again
    // A step that was cut short tells the rate, not how long one may be.
    const double most = 4 * std::max(last_interval_.duration, whole_duration_);
    return last_stay_ > 0 ? std::min(volume / last_stay_ * last_interval_.duration, most) : most;
  }
  // All of the gates' neighbours still dry: the flow can only become less.
  double rate = set_flow();
  for (const Pump& pump : pumps_) {
    if (is_active(pump) && pump.at_cap) {
      const auto root = position(gate_control_.root(pump.gates));
      const double way = 1 / (pump.resistance + 1 / system_.matrix.diagonal[root]);
      rate += drive_at_cap(pump) * way / viscosity(0);
    }
  }
  return rate_is_known_ && last_interval_.duration > 0
             ? std::min(volume / rate, 4 * std::max(last_interval_.duration, whole_duration_))
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

/// Whether a pump gives resin into what is full already.
bool Filling::flows_on() const {
  return std::ranges::any_of(pumps_, [&](const Pump& pump) {
    return is_active(pump) && !has_room(position(gate_control_.root(pump.gates)));
  });
}

bool Filling::is_large(const AirPiece& piece) const {
  return piece.is_sealed && piece.volume > 2e-3 * result_.pore_volume;
}

/// Room in a piece till its air is pressed as hard as the pumps can [m3]; 0 if none presses it.
double Filling::room_till_rest(const AirPiece& piece) const {
  const double most = pressure_at_rest(piece) + problem_.ambient;
  return most > 0 ? piece.volume * (1 - (piece.pressure + problem_.ambient) / most) : 0;
}

/// Time in which such room dies away, to 1 / e of it, by what the piece took in the last step [s].
double Filling::time_to_rest(const AirPiece& piece, double room) const {
  const double before = last_interval_.duration;
  return room > 0 && piece.intake_rate > 0 ? before / std::log1p(before * piece.intake_rate / room)
                                           : never;
}

/// What counts of a pocket's pressure at a step's end, see AirPocket: coth(z / 2) - 2 / z, which is
/// right where the room till rest becomes exp(-z) of what it was.
double Filling::weight_of_end(const AirPiece& piece, double duration) const {
  const double room = is_large(piece) && !fills_suddenly_ ? room_till_rest(piece) : 0;
  if (!(room > 0)) {
    return 1;
  }
  const double z = duration / time_to_rest(piece, room);
  return z < 1e-2 ? z / 6 : 1 / std::tanh(z / 2) - 2 / z;
}

/// Steps follow the pressure in a large pocket: they take a fifth of its air at most, and so many
/// times the time to rest, z, that z^3 / 12 of the room till then, the error of a mean pressure, is
/// a fiftieth of an even share, or two fifths if that is more. Where hardly any room is left they
/// go to the rest, if rounding lets them.
double Filling::longest_for_pockets() const {
  constexpr double hardly_any_room = 0.1; // of an even share
  constexpr double near_enough = 0.02;    // of an even share
  constexpr double to_rest = 10;          // times to rest
  const double share = reachable_volume_ / options_.steps;
  double longest = never;
  for (const AirPiece& piece : air_.pieces()) {
    if (!is_large(piece) || !(piece.intake_rate > 0)) {
      continue;
    }
    longest = std::min(longest, 0.2 * piece.volume / piece.intake_rate);
    const double room = room_till_rest(piece);
    if (room > 0) {
      const double z = room < hardly_any_room * share
                           ? to_rest
                           : std::max(0.4, std::cbrt(12 * near_enough * share / room));
      const double sound = pressure_step_.longest_stretch() * last_interval_.duration;
      longest = std::min({longest, z * time_to_rest(piece, room), sound});
    }
  }
  return longest;
}

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
    if (has_bled(v)) {
      continue;
    }
    const std::vector<std::size_t> wet = full_nodes(vent);
    vent_hoses_[v].open(wet);
    const double resistance = hose_resistance(vent.line);
    for (const std::size_t n : wet) {
      const std::int32_t unknown = system_.unknown[vent.nodes[n]];
      const double height = resistance > 0 ? vent_height_[v] : height_[position(unknown)];
      const double thicker = viscosity_ratio(unknown);
      vent_ports_.push_back({ports_.size(), v, n});
      ports_.push_back({.unknown = unknown,
                        .impulse = (vent.pressure - reference_ + height) * per_pressure,
                        .conductance = vent_hoses_[v].part(n) / (resistance * thicker),
                        .lets_out = true});
    }
  }
}

/// Those of a vent's nodes that are full of resin, by their places in it.
std::vector<std::size_t> Filling::full_nodes(const Vent& vent) const {
  std::vector<std::size_t> full;
  for (std::size_t n = 0; n < vent.nodes.size(); ++n) {
    const std::int32_t unknown = system_.unknown[vent.nodes[n]];
    if (unknown >= 0 && fill_[position(unknown)] >= full_fraction) {
      full.push_back(n);
    }
  }
  return full;
}

/// Shares the vents' hoses out by what has left through their nodes in the step last solved;
/// returns by how much the pressures behind them differed, over what is lost in the hose [-].
double Filling::fit_vent_hoses() {
  std::vector<std::vector<double>> out;
  for (const Vent& vent : problem_.vents) {
    out.emplace_back(vent.nodes.size(), 0.0);
  }
  for (const VentPort& port : vent_ports_) {
    out[port.vent][port.node] = std::max(0.0, -pressure_step_.inflow_of_port(port.port));
  }
  double uneven = 0;
  for (std::size_t v = 0; v < out.size(); ++v) {
    if (!problem_.vents[v].line.empty()) {
      uneven = std::max(uneven, vent_hoses_[v].fit(out[v]));
    }
  }
  return uneven;
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
                          (piece.pressure + problem_.ambient) * per_pressure,
                          weight_of_end(piece, duration)});
    }
  }
}

/// Tries a step of the duration given, or a quarter of it if may_be_part, which is then duration
/// [s], not where the last trial found neither: where resin falls through channels, or hard pressed
/// air, has defeated it once, it may again.
PressureStep::Outcome Filling::try_quickly(double& duration, bool may_be_part) {
  using enum PressureStep::Outcome;
  if (std::exchange(quick_failed_, false) && !is_level()) {
    return not_found;
  }
  auto outcome = pressure_step_.try_quickly(step_input(duration));
  if (outcome == not_found && may_be_part) {
    const double part = duration / 4;
    outcome = pressure_step_.try_quickly(step_input(part));
    if (outcome != not_found) {
      longest_sound_ = 2 * part;
      was_held_back_ = true;
      duration = part;
    }
  }
  quick_failed_ = outcome == not_found;
  return outcome;
}

/// Solves a step of the duration given, or of a part of it if no sound one so long is found: air
/// that is pressed hard, or resin that falls ahead of the front, may ask for that; then duration
/// [s] is that of the part. Returns whether the step is solved or was given up, see is_unwanted.
PressureStep::Outcome Filling::solve_pressures(double& duration) {
  using enum PressureStep::Outcome;
  const double shortest = duration / 100;
  const bool is_held_back = longest_sound_ < duration;
  duration = std::min(duration, longest_sound_);
  longest_sound_ = is_held_back ? 2 * duration : never;
  was_held_back_ = was_held_back_ || is_held_back;
  // Not a part of a part: steps could become shorter and shorter where the careful way goes on.
  if (const auto outcome = try_quickly(duration, !is_held_back); outcome != not_found) {
    return outcome;
  }
  if (const auto outcome = pressure_step_.try_carefully(step_input(duration));
      outcome != not_found) {
    return outcome;
  }
  was_held_back_ = true;
  const double share = pressure_step_.solve_on_full(step_input(duration));
  if (share <= just_full) {
    return solved;
  }
  const double to_next = duration / share; // about: the air makes the inflow uneven
  for (double part = duration / 4; part > std::max(to_next, shortest); part /= 4) {
    longest_sound_ = 2 * part;
    if (const auto outcome = pressure_step_.try_carefully(step_input(part)); outcome != not_found) {
      duration = part;
      return outcome;
    }
  }
  duration = solve_to_next_full_cell(to_next);
  return solved;
}

/// The step up to the moment the next cell is full: it can always be taken. The air makes the
/// inflow uneven, so that the moment is sought between a step that is too long and one that is too
/// short, until half of what the cell lacks is there, or patience is over.
double Filling::solve_to_next_full_cell(double duration) {
  constexpr int most_cuts = 50;
  constexpr int patience = 12; // cuts after which a step that is too short will do
  constexpr double half_full = 0.5;
  struct Trial {
    double duration, share;
  };
  Trial shorter{0, 0};
  Trial longer{0, 0};
  for (int cut = 0; cut < most_cuts; ++cut) {
    const Trial now{duration, pressure_step_.solve_on_full(step_input(duration))};
    const bool is_long = now.share > just_full;
    if (!is_long && (now.share >= half_full || longer.duration == 0 || cut >= patience)) {
      return duration;
    }
    const Trial before = std::exchange(is_long ? longer : shorter, now);
    const auto line = [](const Trial& a, const Trial& b) { // to where the cell is just full
      return b.duration - (b.share - 1) * (a.duration - b.duration) / (a.share - b.share);
    };
    if (shorter.duration > 0) {
      const double middle = (shorter.duration + longer.duration) / 2;
      duration = cut % 2 == 0 ? middle : line(longer, shorter);
    } else if (cut > 0 && before.share > now.share && line(before, now) > 0) {
      duration = line(before, now);
    } else { // air pressed to rest long before the step's end takes as much whatever the duration
      duration /= cut == 0 ? now.share : std::max(now.share, 4.0);
    }
    duration *= 1 - (cut < 5 ? 1e-11 : 1e-6);
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
  return {fill_,    ports_, floor_,
          pockets_, scale,  [this](bool set_is_known) { return is_unwanted(set_is_known); }};
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
  const auto outcome = solve_pressures(duration);
  const auto u = pressure_step_.impulse();
  Step step;
  step.interval = {time_, duration};
  step.is_unwanted = outcome == PressureStep::Outcome::unwanted;
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
  for (const VentPort& port : vent_ports_) {
    step.bled[port.vent] += std::max(0.0, -pressure_step_.inflow_of_port(port.port));
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
    const double asked_for = duration;
    Step step = trial(duration);
    duration = step.interval.duration;
    if (step.is_unwanted) {
      return step;
    }
    if (Pump* pump = pump_over_set_flow(step, keeps_flow)) {
      pump->at_cap = false;
      if (duration < asked_for) { // the set flow takes longer for as much, which the cap allows
        const auto p = static_cast<std::size_t>(pump - pumps_.data());
        duration = std::min(asked_for, step.strokes[p].volume / pump->flow_rate);
      }
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
      const double end = pump.end_pressure(stroke, layer, false);
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

/// Whether a step that brings so much is too long to end with the front's arrival at a port that is
/// awaited [m3].
bool Filling::is_long(double volume) const {
  constexpr double part = 1.0 / 26; // of an even share, five times halved, it is not
  return volume > part * reachable_volume_ / std::max(options_.steps, 100);
}

/// Whether a port that switches something when the front comes is reached by a step, that after
/// which is_full(unknown) holds.
template <class IsFull> bool Filling::reaches_awaited(IsFull is_full) const {
  std::vector<PortRef> awaited = gate_control_.awaited();
  for (std::size_t v = 0; v < problem_.vents.size(); ++v) {
    awaited.push_back({PortRef::Kind::vent, v}); // it shuts air in, or bleeds, from then on
  }
  const auto was_full = [&](std::int32_t unknown) {
    return fill_[position(unknown)] >= full_fraction;
  };
  return std::ranges::any_of(awaited, [&](const PortRef& port) {
    return !is_reached(problem_, system_, port, was_full) &&
           is_reached(problem_, system_, port, is_full);
  });
}

/// Whether the step that is being solved goes well beyond the arrival at such a port.
bool Filling::is_beyond_awaited() const {
  double volume = 0;
  for (std::size_t k = 0; k < ports_.size(); ++k) {
    volume += ports_[k].lets_out ? 0 : std::max(0.0, pressure_step_.inflow_of_port(k));
  }
  return is_long(volume) && reaches_awaited(pressure_step_.filled());
}

bool Filling::goes_beyond_awaited(const Step& step) const {
  if (step.completes) {
    return is_long(step.volume) && reaches_awaited([](std::int32_t) { return true; });
  }
  return step.is_unwanted || is_beyond_awaited();
}

/// How long the step is that just takes the front to such a port, of one that goes beyond [s]: by
/// trials that end when the wet set is about known, which is a small part of a step's cost.
double Filling::arrival_at_awaited(const Step& step) {
  constexpr int most_halvings = 12;
  const double per_second = step.volume / step.interval.duration;
  const auto sound = std::pair(longest_sound_, was_held_back_);
  double before = 0;
  double after = step.interval.duration;
  for (int halving = 0; halving < most_halvings && is_long((after - before) * per_second);
       ++halving) {
    double duration = (before + after) / 2; // a part of it may be all that is found
    trial_end_ = TrialEnd::set_known;
    trial_reaches_ = false;
    const bool is_solved = solve_pressures(duration) == PressureStep::Outcome::solved;
    const bool reaches =
        is_solved ? reaches_awaited(pressure_step_.about_filled()) : trial_reaches_;
    if (!reaches && duration <= before) { // no longer one is found: on from there
      after = before;
      break;
    }
    (reaches ? after : before) = duration;
  }
  std::tie(longest_sound_, was_held_back_) = sound;
  return after;
}

/// Whether the step that is being solved need not be solved to its end.
bool Filling::is_unwanted(bool set_is_known) {
  switch (trial_end_) {
  case TrialEnd::beyond_awaited:
    return is_beyond_awaited();
  case TrialEnd::set_known:
    trial_reaches_ = trial_reaches_ || reaches_awaited(pressure_step_.about_filled());
    return trial_reaches_ || set_is_known;
  case TrialEnd::solved:
    return false;
  }
  return false;
}

/// Towards a volume after which a vent or a stage is over, at the rates of the last step.
double Filling::longest_to_volumes() const {
  double longest = never;
  for (const Pump& pump : pumps_) {
    if (is_active(pump) && !pump.at_cap) {
      longest = std::min(longest, (pump.next_stage_volume() - pump.injected) / pump.flow_rate);
    }
  }
  for (std::size_t v = 0; v < last_bled_.size(); ++v) {
    if (last_bled_[v] > 0 && !has_bled(v)) {
      const double rate = last_bled_[v] / last_interval_.duration;
      longest = std::min(longest, (problem_.vents[v].bleed - bled_[v]) / rate);
    }
  }
  return longest;
}

/// The part of a step [-] after which a vent has let out so much [m3], less than in all of it: its
/// rate goes on changing as it has since the last step.
double Filling::share_until_bled(const Step& step, std::size_t vent, double volume) const {
  const double part = volume / step.bled[vent];
  const double duration = step.interval.duration;
  const double before = last_interval_.duration;
  if (!(last_bled_[vent] > 0)) {
    return part;
  }
  const double rate = step.bled[vent] / duration;
  const double change = (rate - last_bled_[vent] / before) / (0.5 * (before + duration));
  const double bend = std::clamp(change * 0.5 * duration / rate, -0.5, 0.5);
  // share (1 - bend (1 - share)) = part
  return 2 * part / (1 - bend + std::sqrt((1 - bend) * (1 - bend) + 4 * bend * part));
}

/// The part of a step [-] after which a stage of a pump or a vent is over by its volume; 1 if none
/// is.
double Filling::share_until_volume(const Step& step) const {
  double share = 1;
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    const double to_go = pumps_[p].next_stage_volume() - pumps_[p].injected;
    share =
        to_go < step.strokes[p].volume ? std::min(share, to_go / step.strokes[p].volume) : share;
  }
  for (std::size_t v = 0; v < bled_.size(); ++v) {
    const double bleed = problem_.vents[v].bleed;
    const double to_go = std::max(0.0, bleed - bled_[v]);
    const bool is_too_much = to_go + bleed_tolerance * bleed < step.bled[v];
    share = is_too_much ? std::min(share, share_until_bled(step, v, to_go)) : share;
  }
  return std::max(share, 1e-3);
}

/// Whether a pocket that does not act by its end ends above all that the pumps can bring: it had
/// come to rest long before the end of the step.
bool Filling::presses_too_hard() const {
  constexpr double tolerable = 1.001;
  std::size_t k = 0;
  for (const AirPiece& piece : air_.pieces()) {
    if (!piece.is_sealed || k == pockets_.size()) {
      continue;
    }
    const double left = 1 - pressure_step_.intake(k);
    const double start = piece.pressure + problem_.ambient;
    const double most = pressure_at_rest(piece) + problem_.ambient;
    if (!pockets_[k].acts_by_end() && start < most && start > tolerable * most * left) {
      return true;
    }
    ++k;
  }
  return false;
}

/// Shortens a step so that it ends where something switches that is not known beforehand: a gate or
/// the air when the front comes to a port, a stage or a vent at a volume. So does one that brings
/// far more than was planned [m3], or presses a pocket so hard that its mean pressure says little;
/// where shorter ones do so too, since it comes to rest in a part of them (a vent beside it has
/// just closed, say), it acts with that at the end.
Step Filling::step_to_switch(Step step, double planned) {
  const double shortest = 1e-3 * step.interval.duration; // what comes sooner counts as now
  constexpr double most_intake = 0.4;                    // of a pocket that does not act by its end
  if (goes_beyond_awaited(step)) {
    was_cut_ = true;
    const double arrival = arrival_at_awaited(step);
    trial_end_ = TrialEnd::solved;
    step = complementary_step(arrival);
  }
  trial_end_ = TrialEnd::solved;
  for (int cut = 0; cut < 8 && step.interval.duration > shortest; ++cut) {
    double share = share_until_volume(step);
    const double stays = step.volume - step.volume_bled();
    share = stays > 1.5 * planned ? std::min(share, planned / stays) : share;
    share = pressure_step_.largest_intake() > most_intake ? std::min(share, 0.5) : share;
    if (share > nearly) {
      break;
    }
    // By a fifth at most: a vent may begin to bleed late in a long step, and not in a short one.
    const double part = std::max(share, 0.2);
    was_cut_ = true;
    step = complementary_step(std::max(part * step.interval.duration, shortest));
  }
  if (pressure_step_.largest_intake() > most_intake || presses_too_hard()) {
    fills_suddenly_ = true;
    step = complementary_step(step.interval.duration);
    fills_suddenly_ = false;
  }
  trial_end_ = TrialEnd::beyond_awaited;
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
  if (is_bleeding_) {
    return bleeding_step();
  }
  const double longest = std::min({time_left(), time_to_next_switch(), time_to_front_gel()});
  was_cut_ = false;
  was_held_back_ = false;
  const bool bleeds = std::ranges::any_of(bodies_, &Body::bleeds);
  if (const bool rests = std::exchange(rests_, false); rests || !has_active_pump()) {
    return rests && bleeds ? step_to_switch(complementary_step(longest), never)
                           : idle_step(longest);
  }
  if (room_ <= little_left * reachable_volume_ / options_.steps) {
    if (auto step = completing_step(longest)) {
      return *step;
    }
  }
  const double cells = longest_for_cells();
  const bool fills_cells_only = std::isfinite(cells) && !flows_on();
  const double volume = fills_cells_only ? never : planned_volume();
  const double planned = fills_cells_only ? cells : std::min(cells, planned_duration(volume));
  const double duration =
      std::min({planned, longest, longest_for_bodies(), longest_for_pockets(), longest_for_age()});
  const double to_switch = std::max(1e-6 * duration, longest_to_volumes());
  was_cut_ = to_switch < duration;
  return step_to_switch(complementary_step(std::min(duration, to_switch)), volume);
}

} // namespace tidemark
