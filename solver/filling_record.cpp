// What a step leaves behind: fill, history, stalls, the result.
#include "solver/filling_run.hpp"

#include "mesh/error.hpp"
#include "mesh/triangulation.hpp"
#include "solver/last_filled.hpp"
#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <tuple>
#include <utility>

namespace tidemark {

namespace {

constexpr double day = 86400; // [s]

/// At the end of the step [Pa gauge].
double highest_at_gates(const HistoryRow& row) {
  return std::ranges::max(row.gates, {}, &GateSample::pressure).pressure;
}

} // namespace

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
  if (is_bleeding_) {
    std::ranges::fill(fill_, 1.0); // to the bit: what a solve leaves is its residual
  } else if (!step.impulse.empty()) {
    if (!step.completes) {
      fit_vent_hoses();
    }
    std::vector<double> above_air = step.impulse;
    for (std::size_t i = 0; i < floor_.size(); ++i) {
      above_air[i] -= step.completes ? floor_rate(i) * step.interval.duration : floor_[i];
    }
    arrivals_.record(system_, {.before = before,
                               .after = fill_,
                               .impulse = step.impulse,
                               .above_air = above_air,
                               .begin = time_,
                               .duration = step.interval.duration});
    if (step.completes) {
      mark_last_cell(step, before);
    }
  }
  carry_resin(step, before);
  time_ = step.interval.end();
  const double bled = step.volume_bled();
  std::ranges::transform(bled_, step.bled, bled_.begin(), std::plus{});
  room_ -= step.volume - bled;
  passed_ += is_bleeding_ ? step.volume : 0;
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
  for (std::size_t i = system_.seats.size(); i < before.size(); ++i) {
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
      const bool is_driven = gives && is_active(pumps_[p]);
      const double pressure = is_driven ? head - loss + depth_of_gate(g, root)
                                        : pressure_[problem_.gates[g].nodes.front()];
      row.gates[g] = {flow, pressure, is_driven ? std::optional(head) : std::nullopt};
      result_.gates[g].injected += volume;
      result_.gates[g].peak_pressure = std::max(result_.gates[g].peak_pressure, pressure);
    }
  }
}

double Filling::end_pressure(const Pump& pump, const Step& step) const {
  const auto p = static_cast<std::size_t>(&pump - pumps_.data());
  const Stroke& stroke = step.strokes[p];
  const double end = pump.end_pressure(stroke, layer_, crowds_);
  const double lowest = is_level() ? reference_ : std::min(reference_, stroke.mean_pressure);
  return std::clamp(end, std::min(lowest, pump.cap), pump.cap);
}

/// What the last step's mean pressures differ by from those at its end, as the heads tell it:
/// while the last cells fill, the flow crowds into them, and what a set flow then needs is that of
/// the mesh more than of the part. Between gates it goes over as a steady pressure would.
std::vector<double> Filling::rise_to_end(const Step& step) {
  std::vector<Port> anchors;
  const double per_pressure = step.interval.duration / step.viscosity;
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    if (const std::int32_t root = gate_control_.root(pumps_[p].gates);
        root >= 0 && is_active(pumps_[p])) {
      const double rise = end_pressure(pumps_[p], step) - step.strokes[p].mean_pressure;
      anchors.push_back({.unknown = root, .impulse = rise * per_pressure});
    }
  }
  const bool is_one = std::ranges::all_of(
      anchors, [&](const Port& port) { return port.impulse == anchors.front().impulse; });
  if (anchors.empty() || is_one) {
    const double rise = anchors.empty() ? 0 : anchors.front().impulse / per_pressure;
    return std::vector<double>(fill_.size(), rise);
  }
  const std::vector<double> nothing(fill_.size(), 0.0);
  auto solution =
      is_anchored(anchors) ? pressure_step_.solve_all_wet(nothing, anchors) : std::nullopt;
  std::vector<double> rises = solution ? std::move(*solution) : nothing;
  std::ranges::for_each(rises, [&](double& rise) { rise /= per_pressure; });
  return rises;
}

/// Of the step that fills the part, the pressures at its end: so that the field shows at the gates
/// what the heads come to. A fall ends at the air, a rise is in proportion to the pressure above
/// it.
void Filling::bring_to_end(std::vector<double>& pressures, const Step& step) {
  const double air = lowest_air_pressure();
  const double highest = std::ranges::max(pressures);
  const std::vector<double> rises = rise_to_end(step);
  for (std::size_t i = 0; i < pressures.size(); ++i) {
    const double share =
        highest > air ? std::clamp((pressures[i] - air) / (highest - air), 0.0, 1.0) : 0;
    pressures[i] = rises[i] > 0 ? pressures[i] + share * rises[i]
                                : std::max(pressures[i] + rises[i], std::min(pressures[i], air));
  }
}

/// Nodes that are one unknown, those of gates, stand each at its own height where they are full.
PerNode<double> Filling::pressures_on_nodes(const Step& step, const std::vector<double>& pressures,
                                            double elsewhere) const {
  PerNode<double> result = on_nodes(pressures, elsewhere);
  if (!problem_.gravity || step.impulse.empty()) { // only the air has a pressure then
    return result;
  }
  for (const Seat& seat : system_.seats) {
    for (const NodeId node : seat.nodes) {
      const std::int32_t unknown = system_.unknown[node];
      if (unknown >= 0 && fill_[position(unknown)] >= full_fraction) {
        result[node] += height_[position(unknown)] - mean_height_of_nodes(problem_, {&node, 1});
      }
    }
  }
  return result;
}

/// How much lower than its pump's root a gate stands, rho g z [Pa].
double Filling::depth_of_gate(std::size_t gate, std::int32_t root) const {
  return problem_.gravity ? height_[position(root)] - mean_height(problem_, {&gate, 1}) : 0;
}

void Filling::put_pressures(const Step& step) {
  std::vector<double> pressures = air_.pressure();
  if (!step.impulse.empty()) {
    const double per_impulse = step.viscosity / step.interval.duration;
    for (std::size_t i = 0; i < pressures.size(); ++i) {
      pressures[i] = reference_ + per_impulse * step.impulse[i] - height_[i];
    }
  }
  const double elsewhere = problem_.sealed_air ? problem_.cavity_pressure : reference_;
  pressure_ = pressures_on_nodes(step, pressures, elsewhere);
  if (crowds_) {
    bring_to_end(pressures, step);
  }
  end_pressure_ = pressures_on_nodes(step, pressures, elsewhere);
}

/// Throws if many steps have brought hardly anything: it would go on so without end.
void Filling::check_progress() {
  constexpr int many = 300;
  constexpr double hardly = 1e-5;
  if (result_.work.steps % many != 0) {
    return;
  }
  if (time_ - time_then_ < hardly * time_ && room_then_ - room_ < hardly * reachable_volume_) {
    throw SolveError("from " + std::to_string(time_then_) +
                     " s on steps have become so short that the filling does not get on; are "
                     "permeabilities or channels too far apart for it?");
  }
  time_then_ = time_;
  room_then_ = room_;
}

/// A pump that comes to its cap in a step, or has stood at it.
void Filling::note_cap(std::size_t pump, const Step& step) {
  CapTime& at_cap = at_cap_[pump];
  const bool was_at_cap = step.strokes[pump].at_cap;
  if (pumps_[pump].at_cap && !at_cap.reached) {
    at_cap.reached = was_at_cap ? step.interval.begin : time_;
  }
  at_cap.duration += was_at_cap && !is_bleeding_ ? step.interval.duration : 0;
}

void Filling::record(const Step& step, const FillWatcher& watcher) {
  look_for_crowding(step);
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
    const double head = end_pressure(pumps_[p], step);
    result_.peak_head_pressure = std::max(result_.peak_head_pressure, head);
    if (!crowds_ || head >= pumps_[p].cap) {
      note_cap(p, step);
    }
    if (step.completes || fill_[position(gate_control_.root(pumps_[p].gates))] >= full_fraction) {
      crowds_ ? pumps_[p].count(step.strokes[p]) : pumps_[p].record(step.strokes[p]);
    }
  }
  ++result_.work.steps;
  check_progress();
  if (!step.completes) {
    switch_gates();
  }
  row.is_in_last_cells = is_in_last_cells_;
  row.layer = layer_;
  row.shut_in_air = step.completes ? 0 : air_.sealed_volume();
  if (mould_load_) {
    row.opening_force = opening_force(step, row);
  }
  result_.history.push_back(std::move(row));
  look_for_new_course(step);
  put_ages();
  put_heat();
  const double rate_before = last_interval_.duration > 0 ? last_stay_ / last_interval_.duration : 0;
  last_interval_ = step.interval;
  last_volume_ = step.volume;
  const double stayed = std::exchange(last_stay_, step.volume - step.volume_bled());
  last_bled_ = step.bled;
  whole_duration_ = was_cut_ ? whole_duration_ : step.interval.duration;
  rate_is_known_ = rate_is_known_ || step.volume > 0;
  if (is_bleeding_) {
    look_for_end_of_bleeding(step);
  } else if (room_ == 0) {
    begin_bleeding();
  } else {
    look_for_stall(step, stayed, rate_before);
  }
  if (watcher) {
    const PerNode<double> fill_fraction = on_nodes(fill_, 0.0);
    const PerNode<double> times = fill_times();
    if (!watcher({result_.work.steps, is_over_, result_.history.back(), fill_fraction, pressure_,
                  times, age_field_, viscosity_field_, temperature_field_, conversion_field_}) &&
        !is_over_) {
      is_bleeding_ ? stop_bleeding(ShortReason::interrupted) : stop(ShortReason::interrupted);
    }
  }
}

void Filling::stop(ShortReason reason) {
  result_.reason = reason;
  is_over_ = true;
}

/// Whether the pressures of a step hang on the mesh more than on the part: once half of the last
/// layer of cells is full, or but a speck is left (a corner in which the front closes on a single
/// place; both own choices), unless air that is shut in makes it wait, or the flow is held back
/// there for long: then the cavity does come under the pressure of the gates.
void Filling::look_for_crowding(const Step& step) {
  constexpr double most_left = 0.5; // of the layer
  constexpr double speck = 1e-3;    // of all the resin
  const double last =
      std::max(most_left * pressure_step_.border_volume(), speck * reachable_volume_);
  is_in_last_cells_ = step.completes || (!is_bleeding_ && room_ < last &&
                                         std::ranges::none_of(air_.pieces(), &AirPiece::is_sealed));
  const double flow = step.volume / step.interval.duration;
  if (!is_in_last_cells_) {
    before_last_cells_ = {time_, flow};
    layer_ = pressure_step_.border_volume();
  }
  crowds_ = is_in_last_cells_ && course_is_known_ && !before_last_cells_.is_held_back(flow, time_);
}

/// Once a gate has opened or shut, or a vent, what the steps before came to leads nowhere.
void Filling::look_for_new_course(const Step& step) {
  bool is_new = std::exchange(has_switched_, false);
  for (std::size_t v = 0; v < step.bled.size(); ++v) {
    is_new = is_new || (step.bled[v] > 0 && has_bled(v));
  }
  course_is_known_ = !is_new;
  if (is_new) {
    std::ranges::for_each(pumps_, &Pump::forget);
    if (mould_load_) {
      mould_load_->forget_course();
    }
  }
}

/// Of a step [N].
double Filling::opening_force(const Step& step, const HistoryRow& row) {
  const double head = row.highest_head();
  if (!crowds_) {
    return mould_load_->after_step(row.time, pressure_, step.volume, head);
  }
  const double at = step.completes ? row.time : step.interval.middle();
  return mould_load_->in_last_layer(at, row.time, layer_, head, highest_at_gates(row));
}

/// Whether all but a share of the resin that does not count runs through vents that never close, so
/// that what is dry would take longer than anybody waits. Not where a time limit says how long that
/// is, or where the front may come to what switches a gate. rate_before: at which resin stayed in
/// the step before [m3/s]; a flow that picks up is let go on.
bool Filling::runs_through(const Step& step, double rate_before) const {
  constexpr double least_share = 1e-3; // own choice, as the day
  double lost = 0;
  for (std::size_t v = 0; v < step.bled.size(); ++v) {
    lost += std::isinf(problem_.vents[v].bleed) ? step.bled[v] : 0;
  }
  const double stays = step.volume - step.volume_bled();
  const double rate = stays / step.interval.duration;
  return !options_.time_limit && gate_control_.awaited().empty() && lost > 0 &&
         stays < least_share * lost && rate < 1.01 * rate_before && room_ > rate * day;
}

/// Ends the filling when time is up or nothing moves any more and nothing will; in the step before
/// stayed what was given [m3], at a rate [m3/s].
void Filling::look_for_stall(const Step& step, double stayed, double rate_before) {
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
  if (will_close(step)) {
    return;
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
  const bool is_pressed = std::ranges::all_of(air_.pieces(), [&](const AirPiece& piece) {
    return piece.is_sealed && room_till_rest(piece) < 1e-4 * piece.volume;
  });
  if (!air_.pieces().empty() && all_at_cap && is_pressed) {
    come_to_rest();
    return;
  }
  // At the rate of a short step, what a longer one would have brought. One step that was cut says
  // little: what switches at its end may change the flow.
  const bool is_cut = was_cut_ || was_held_back_;
  const double least_duration = (is_cut ? 1e-2 : 1e-2 / options_.steps) * time_;
  const double gained =
      (step.volume - bled) * std::max(1.0, least_duration / step.interval.duration);
  // After a fast start a slow flow is all that the first longer steps bring, each more than the one
  // before; what comes to rest brings less and less, however long the steps.
  // But rounding, too, brings the more the more runs through.
  const bool is_rounding = last_stay_ <= std::max(1e-12 * reachable_volume_, 1e-9 * bled);
  const bool picks_up = stayed > 0 && last_stay_ > 1.1 * stayed && !is_rounding;
  const bool is_slow = gained < 1e-5 * reachable_volume_ && gained < 1e-2 * planned_volume();
  if ((is_slow && !picks_up) || (!waits && runs_through(step, rate_before))) {
    ++slow_steps_;
  } else if (!is_slow) {
    slow_steps_ = 0; // what is left of a flow at rest is more and less by chance
  }
  const bool rests =
      !is_cut && !step.impulse.empty() && (gained < 1e-9 * reachable_volume_ || is_rounding);
  // A step as long as all before says it at once, unless its flow would fill the rest within a day.
  const bool says_all = step.interval.duration > 0.5 * time_ &&
                        room_ * step.interval.duration > (step.volume - bled) * day;
  if (slow_steps_ >= (rests ? (says_all ? 1 : 2) : 3)) {
    come_to_rest();
  }
}

/// Whether resin runs through a vent that closes once it has let out so much, before a hundred
/// times the time so far.
bool Filling::will_close(const Step& step) const {
  constexpr double soon = 100; // own choice: what leaks out at rest never comes to it
  for (std::size_t v = 0; v < step.bled.size(); ++v) {
    const double to_go = problem_.vents[v].bleed - bled_[v];
    if (step.bled[v] > 0 && std::isfinite(to_go) && !has_bled(v) &&
        to_go * step.interval.duration < soon * time_ * step.bled[v]) {
      return true;
    }
  }
  return false;
}

/// Whether the air of a sealed piece bears what the pumps can bring to it, within two hundredths:
/// else it is not the air that the resin comes to rest against.
bool Filling::bears_up(const AirPiece& piece) const {
  const double most = pressure_at_rest(piece, heights_of(piece).second) + problem_.ambient;
  return piece.pressure + problem_.ambient > 0.98 * most;
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
  const bool is_at_balance =
      std::ranges::all_of(air_.pieces(), [&](const AirPiece& piece) { return bears_up(piece); });
  if (has_sealed && all_sealed && (is_at_balance || !is_thick())) {
    return ShortReason::trapped_air;
  }
  return is_thick() ? ShortReason::gel : ShortReason::pressure;
}

PerNode<double> Filling::fill_times() const {
  return each_on_nodes(arrivals_.fill_times(system_), std::numeric_limits<double>::quiet_NaN());
}

void Filling::judge() {
  const bool is_filled = room_ == 0;
  // Neither a vent nor more pressure helps where no resin can come; but what can be mended on the
  // piece with the gate is told first.
  const bool may_hide_it =
      result_.reason == ShortReason::none ||
      (room_ < 1e-2 * reachable_volume_ &&
       (result_.reason == ShortReason::trapped_air || result_.reason == ShortReason::pressure));
  if (may_hide_it && reachable_volume_ < result_.pore_volume * (1 - 1e-12)) {
    result_.reason = ShortReason::no_path;
  }
  const bool is_all = is_filled && result_.reason == ShortReason::none;
  result_.verdict = is_all ? Verdict::filled : Verdict::short_fill;
  if (is_all) {
    result_.fill_time = filled_at_;
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
  PerNode<double> full_at = result_.fill_time_field; // a place that stays half full is not the last
  for (const NodeId node : full_at.ids()) {
    full_at[node] = result_.fill_fraction[node] < full_fraction
                        ? std::numeric_limits<double>::quiet_NaN()
                        : full_at[node];
  }
  result_.last_filled =
      last_filled_places(problem_, network_, full_at, 0.005 * (room_ == 0 ? filled_at_ : time_));
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

/// The shared pump is the first.
void Filling::collect_cap_times() {
  const auto has_own = [&](std::size_t p) {
    return problem_.gates[pumps_[p].gates.front()].own_injector.has_value();
  };
  const auto rank = [&](std::size_t p) {
    return std::tuple(!has_own(p), pumps_[p].has_flow_rate(), at_cap_[p].duration);
  };
  std::size_t told = 0;
  for (std::size_t p = 0; p < pumps_.size(); ++p) {
    told = rank(p) > rank(told) ? p : told;
    if (has_own(p)) {
      result_.gates[pumps_[p].gates.front()].at_cap = at_cap_[p];
    }
  }
  result_.time_at_cap = at_cap_[told].duration;
  result_.time_cap_reached = at_cap_[told].reached;
}

FillResult Filling::finish() {
  judge();
  collect_regions();
  collect_cap_times();
  result_.end_time = time_;
  result_.fill_fraction = on_nodes(fill_, 0.0);
  result_.pressure = end_pressure_;
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
  if (!is_bleeding_) {
    note_oldest(true);
  }
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

} // namespace tidemark
