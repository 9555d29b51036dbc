// The states of a step, its start, and the way to its end.
#include "solver/pressure_step.hpp"

#include "mesh/error.hpp"
#include "solver/full_flow.hpp"
#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

namespace tidemark {

namespace {

/// Of a fill fraction, while the wet set is still sought [-].
constexpr double loose_tolerance = 1e-2;
constexpr int loose_iterations = 3;
constexpr double loose_share = 0.2; // of the residual, that a loose solve may leave [-]
constexpr int tight_iterations = 500;
constexpr int most_loose_changes = 6; // with one-way links: else loose solves may go to and fro
/// With one-way links and pockets: residual of a loose solve, the set unchanged, from which tight
/// solves begin [-]; part of the residual a solve for links and gas laws that still change leaves.
constexpr double steady = 0.2;
constexpr double newton_share = 0.1;
constexpr double newton_end = 1e-3; // residual from which the last solve of a step is made [-]
/// From below: residual of a solve after which what is overfull by more than that joins [-].
constexpr double near_enough = 1e-3;
constexpr double clearly_overfull = 1e-2;
/// Conductance over volume, as a multiple of the median, and part of it in two links, from which an
/// unknown counts as one of a channel.
constexpr double channel_openness = 3;
constexpr double channel_share = 0.9;
/// Changes tried with gravity or several air pressures before starting again cautiously: there the
/// problem is no longer one of minimum energy, and unknowns can leave and join without end.
constexpr int quick_changes = 60;
/// Tight solves whose residual stays large, after which an attempt to settle is given up.
constexpr int most_wild_changes = 14;
constexpr double lost_in_rounding = 1e-7; // of a fill fraction [-]

} // namespace

PressureStep::PressureStep(const FlowSystem& system, PressureStepOptions options)
    : system_(system), options_(options), matrix_(system.matrix), is_handed_(system.size(), 0),
      is_fresh_(system.size(), 0), state_(system.size(), State::dry), in_border_(system.size(), 0),
      in_band_(system.size(), 0), is_calm_(system.size(), 0), at_air_(system.size(), 1),
      is_fed_(system.size(), 0), pocket_of_(system.size(), -1), last_shift_(system.size(), 0.0),
      u_(system.size(), 0.0), last_(system.size(), 0.0), before_(system.size(), 0.0),
      source_(system.size(), 0.0), r_(system.size(), 0.0), z_(system.size(), 0.0),
      d_(system.size(), 0.0), q_(system.size(), 0.0), hose_(system.size(), 0.0),
      surplus_(system.size(), 0.0) {
  collect_bodies();
  find_channels();
}

void PressureStep::expect_at(std::int32_t gate) {
  if (state_[position(gate)] == State::dry) {
    make_wet(gate);
  }
}

void PressureStep::collect_bodies() {
  body_of_ = connected_bodies(system_);
  bodies_ = position(std::ranges::max(body_of_) + 1);
}

void PressureStep::network_changed() {
  matrix_ = system_.matrix;
  collect_bodies();
  find_channels();
  for (std::size_t i = 0; i < state_.size(); ++i) {
    state_[i] = system_.volume[i] > 0 ? state_[i] : State::dry;
  }
  knows_network_ = false;
  reach_all_.clear();
  closed_links_.clear();
  rebuild_border();
  collect_active();
}

/// Of the conductance of an unknown's links, that of the two strongest [-].
double PressureStep::share_of_two_links(std::size_t i) const {
  double first = 0;
  double second = 0;
  double sum = 0;
  for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
    const double c = matrix_.link[position(k)];
    sum += c;
    second = std::max(second, std::min(c, first));
    first = std::max(first, c);
  }
  return sum > 0 ? (first + second) / sum : 0;
}

/// Race tracks and runners: what flows through them in a step depends on what far parts deliver.
void PressureStep::find_channels() {
  std::vector<double> openness;
  for (std::size_t i = 0; i < system_.size(); ++i) {
    const double volume = system_.volume[i];
    openness.push_back(volume > 0 ? matrix_.diagonal[i] / volume : 0);
  }
  std::vector<double> sorted = openness;
  std::erase(sorted, 0.0);
  is_channel_.assign(openness.size(), 0);
  if (sorted.empty()) {
    return;
  }
  const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
  std::ranges::nth_element(sorted, middle);
  for (std::size_t i = 0; i < openness.size(); ++i) {
    is_channel_[i] =
        openness[i] > channel_openness * *middle && share_of_two_links(i) > channel_share;
  }
}

// --- states ------------------------------------------------------------------------------------

void PressureStep::add_to_border(std::int32_t unknown) {
  if (!in_border_[position(unknown)]) {
    in_border_[position(unknown)] = 1;
    border_.push_back(unknown);
  }
}

void PressureStep::make_wet(std::int32_t unknown) {
  const std::size_t i = position(unknown);
  state_[i] = State::wet;
  for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
    const std::int32_t neighbour = matrix_.column[position(k)];
    if (state_[position(neighbour)] == State::dry) {
      add_to_border(neighbour);
    } else if (state_[position(neighbour)] == State::idle) {
      wake(neighbour);
    }
  }
}

/// A body that no port feeds was reached by resin: all of it carries again.
void PressureStep::wake(std::int32_t unknown) {
  std::vector<std::int32_t> body{unknown};
  state_[position(unknown)] = State::wet;
  spread(matrix_, body, [&](std::int32_t neighbour) {
    State& state = state_[position(neighbour)];
    const bool joins = state == State::idle;
    if (joins) {
      state = State::wet;
    } else if (state == State::dry) {
      add_to_border(neighbour);
    }
    return joins;
  });
}

void PressureStep::make_dry(std::int32_t unknown) {
  const std::size_t i = position(unknown);
  state_[i] = State::dry;
  u_[i] = floor_of(unknown);
  add_to_border(unknown);
  for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
    at_air_[position(matrix_.column[position(k)])] = 1;
  }
}

bool PressureStep::is_at_border(std::int32_t unknown) const {
  const std::size_t i = position(unknown);
  if (state_[i] != State::dry) {
    return false;
  }
  const auto column = matrix_.column.begin();
  return is_fed_[i] || std::any_of(column + matrix_.first[i], column + matrix_.first[i + 1],
                                   [&](std::int32_t j) { return carries(j); });
}

/// Makes the border afresh from the states.
void PressureStep::rebuild_border() {
  border_.clear();
  for (std::size_t i = 0; i < state_.size(); ++i) {
    const auto unknown = static_cast<std::int32_t>(i);
    in_border_[i] = is_at_border(unknown);
    if (in_border_[i]) {
      border_.push_back(unknown);
    }
  }
}

void PressureStep::collect_active() {
  std::erase_if(border_, [&](std::int32_t unknown) {
    in_border_[position(unknown)] = is_at_border(unknown);
    return !in_border_[position(unknown)];
  });
  active_.clear();
  for (std::size_t i = 0; i < state_.size(); ++i) {
    if (state_[i] == State::wet) {
      active_.push_back(static_cast<std::int32_t>(i));
    }
  }
}

// --- the start of a step -----------------------------------------------------------------------

void PressureStep::start(const StepInput& input) {
  std::ranges::fill(is_handed_, std::uint8_t{0});
  std::ranges::fill(is_fed_, std::uint8_t{0}); // the last step's ports may be gone
  input_ = input;
  forget_fresh();
  std::ranges::fill(at_air_, std::uint8_t{1});
  is_level_ = input.floor.empty();
  start_pockets();
  for (std::size_t i = 0; i < u_.size(); ++i) {
    if (!is_cautious_) {
      // The change from the step before last goes on, where there was one.
      const double trend = before_[i] > 0 ? last_[i] - last_scale_ * before_[i] : 0;
      const double guess = input.guess_scale * (last_[i] + trend);
      u_[i] = is_level_ ? std::max(guess, 0.0) : guess;
    } else {
      u_[i] = input.guess_scale * last_[i];
    }
    source_[i] = surplus_[i] - (1 - input.fill[i]) * system_.volume[i];
    const bool is_full = input.fill[i] >= full_fraction && system_.volume[i] > 0;
    state_[i] = is_full ? State::wet : State::dry;
    u_[i] = is_full ? u_[i] : floor_of(static_cast<std::int32_t>(i));
  }
  start_ports();
  mark_idle();
  rebuild_border();
  if (!is_cautious_ && !is_level_) {
    run_on();
  }
  collect_active();
  keep_one_dry();
  if (!is_level_) {
    change_links(); // as the guess has them
  }
}

/// Opens every port.
void PressureStep::start_ports() {
  matrix_.diagonal = system_.matrix.diagonal; // hoses of ports that are gone leak no more
  std::ranges::fill(hose_, 0.0);
  closed_links_.clear();
  port_is_open_.assign(input_.ports.size(), 0);
  for (std::size_t k = 0; k < input_.ports.size(); ++k) {
    const Port& port = input_.ports[k];
    const std::size_t i = position(port.unknown);
    if (port.volume) {
      source_[i] += *port.volume;
      is_fed_[i] = 1;
      port_is_open_[k] = *port.volume > 0;
      const bool overflows = source_[i] > 1e-12 * system_.volume[i];
      state_[i] = overflows ? State::wet : state_[i];
    } else {
      apply_port(k, true);
    }
  }
}

/// Opens or closes a port by pressure.
void PressureStep::apply_port(std::size_t k, bool open) {
  const Port& port = input_.ports[k];
  const std::size_t i = position(port.unknown);
  const bool has_hose = std::isfinite(port.conductance);
  if (has_hose && open != (port_is_open_[k] != 0)) {
    const double sign = open ? 1 : -1;
    matrix_.diagonal[i] += sign * port.conductance;
    hose_[i] += sign * port.conductance;
    source_[i] += sign * port.conductance * port.impulse;
  } else if (!has_hose) {
    state_[i] = open ? State::held : State::wet;
    u_[i] = open ? port.impulse : u_[i];
  }
  port_is_open_[k] = open ? 1 : 0;
}

/// Full unknowns that no open inlet can push have no flow. Their equations would leave the
/// pressure open, so they stay out until resin reaches them. Inlets that have reached all that is
/// full go on doing so: what fills later is fed from there.
void PressureStep::mark_idle() {
  if (system_.seats.size() == 1 && input_.ports.size() == 1) {
    return; // all that is full was filled through this gate
  }
  std::vector<std::int32_t> inlets;
  for (std::size_t k = 0; k < input_.ports.size(); ++k) {
    const Port& port = input_.ports[k];
    if (!port.lets_out && port_is_open_[k] && carries(port.unknown)) {
      inlets.push_back(port.unknown);
    }
  }
  std::ranges::sort(inlets);
  inlets.erase(std::ranges::unique(inlets).begin(), inlets.end());
  const bool reach_all = !reach_all_.empty() && std::ranges::includes(inlets, reach_all_);
  reach_all_ = inlets;
  if (reach_all) {
    return;
  }
  std::vector<std::int32_t> reached = std::move(inlets);
  std::vector<std::uint8_t> seen(state_.size(), 0);
  for (const std::int32_t inlet : reached) {
    seen[position(inlet)] = 1;
  }
  const auto is_new = [&](std::int32_t unknown) {
    const bool joins = carries(unknown) && !seen[position(unknown)];
    seen[position(unknown)] |= joins ? 1 : 0;
    return joins;
  };
  spread(matrix_, reached, is_new);
  for (std::size_t k = 0; k < input_.ports.size(); ++k) {
    const Port& port = input_.ports[k];
    if (!port.volume && carries(port.unknown) && !seen[position(port.unknown)]) {
      apply_port(k, false);
    }
  }
  for (std::size_t i = 0; i < state_.size(); ++i) {
    if (!seen[i] && carries(static_cast<std::int32_t>(i))) {
      reach_all_.clear();
      state_[i] = input_.fill[i] >= full_fraction ? State::idle : State::dry;
      u_[i] = floor_of(static_cast<std::int32_t>(i)); // an idle one must not feed dry ones
    }
  }
}

void PressureStep::start_pockets() {
  std::ranges::fill(pocket_of_, -1);
  pockets_.assign(input_.pockets.size(), PocketState{});
  for (std::size_t k = 0; k < input_.pockets.size(); ++k) {
    for (const std::int32_t unknown : input_.pockets[k].unknowns) {
      pocket_of_[position(unknown)] = static_cast<std::int32_t>(k);
      pockets_[k].cell = std::max(pockets_[k].cell, system_.volume[position(unknown)]);
    }
    if (!is_cautious_) { // the air goes on being pressed at the rate of the step before
      const std::size_t one = position(input_.pockets[k].unknowns.front());
      pockets_[k].shift = last_shift_[one] * input_.guess_scale * input_.guess_scale;
    }
  }
}

// --- the step ----------------------------------------------------------------------------------

std::span<const double> PressureStep::solve(const StepInput& input) {
  Outcome outcome = try_quickly(input);
  outcome = outcome == Outcome::not_found ? try_carefully(input) : outcome;
  if (outcome != Outcome::solved) {
    throw SolveError("the wet set of a step did not settle after " +
                     std::to_string(options_.most_set_changes) + " changes");
  }
  return u_;
}

double PressureStep::solve_on_full(const StepInput& input) {
  is_cautious_ = true;
  start(input);
  FullFlow flow = flow_on_full(system_, input);
  ++count_.solves;
  u_ = std::move(flow.u);
  port_is_open_ = std::move(flow.port_is_open);
  for (std::size_t i = 0; i < state_.size(); ++i) {
    const bool is_full = input.fill[i] >= full_fraction && system_.volume[i] > 0;
    state_[i] = flow.is_fed[i] ? State::wet : is_full ? State::idle : State::dry;
  }
  for (std::size_t k = 0; k < input.ports.size(); ++k) {
    const Port& port = input.ports[k];
    if (port_is_open_[k] && !port.volume && !std::isfinite(port.conductance)) {
      state_[position(port.unknown)] = State::held;
    }
  }
  rebuild_border();
  collect_active();
  return take_residual();
}

/// Residuals of the full unknowns from what flows; returns the largest inflow over room of the
/// others, or what is lost, in rounding too, over what may be if that is more.
double PressureStep::take_residual() {
  double largest_term = 0;
  double lost = 0;
  for (const std::int32_t unknown : active_) {
    const std::size_t i = position(unknown);
    r_[i] = surplus_[i] - (1 - input_.fill[i]) * system_.volume[i];
    for (std::int32_t k = matrix_.first[i]; k < matrix_.first[i + 1]; ++k) {
      r_[i] -= link_flow(unknown, matrix_.column[position(k)], matrix_.link[position(k)]);
    }
  }
  std::vector<double> given(state_.size(), 0.0);
  for (std::size_t k = 0; k < input_.ports.size(); ++k) {
    given[position(input_.ports[k].unknown)] += inflow_of_port(k);
  }
  for (const std::int32_t unknown : active_) {
    const std::size_t i = position(unknown);
    r_[i] += given[i];
    lost = std::max(lost, std::abs(r_[i] - surplus_[i]) / system_.volume[i]);
    largest_term =
        std::max(largest_term, std::abs(matrix_.diagonal[i] * u_[i]) / system_.volume[i]);
  }
  rounding_ = 8 * std::numeric_limits<double>::epsilon() * largest_term;
  double most = 4 * std::max(rounding_, lost) / lost_in_rounding;
  for (const std::int32_t unknown : border_) {
    const std::size_t i = position(unknown);
    const double room = (1 - input_.fill[i]) * system_.volume[i];
    most = std::max(most, (given[i] + inflow_when_dry(unknown)) / room);
  }
  return most;
}

/// settle() where a step may have no solution that is found.
PressureStep::Outcome PressureStep::try_to_settle(int most_changes) {
  try {
    const Outcome outcome = settle(most_changes);
    return outcome == Outcome::solved && !is_sound() ? Outcome::not_found : outcome;
  } catch (const SolveError&) {
    return Outcome::not_found; // a wet set on the way, not the step, had no solution
  }
}

PressureStep::Outcome PressureStep::try_quickly(const StepInput& input) {
  is_cautious_ = false;
  start(input);
  return is_level_ ? settle(options_.most_set_changes) : try_to_settle(quick_changes);
}

PressureStep::Outcome PressureStep::try_carefully(const StepInput& input) {
  if (input.floor.empty()) {
    return Outcome::not_found; // a problem of minimum energy: there is no other way
  }
  is_cautious_ = true;
  start(input);
  level_band();
  change_links();
  return try_to_settle(options_.most_set_changes);
}

/// Changes the set and solves on it until nothing changes, or the step is not wanted.
PressureStep::Outcome PressureStep::settle(int most_changes) {
  // While the set still moves, an exact solution for a wrong set is wasted work.
  bool is_tight = is_cautious_;
  std::size_t port_changes = 0;
  bool was_asked = false; // whether the step is wanted
  int wild_changes = 0;
  bool is_exact = false; // whether the last solve was
  left_ = std::numeric_limits<double>::infinity();
  for (int change = 0; change < most_changes; ++change) {
    const double tolerance =
        is_tight ? std::max(options_.fill_tolerance, rounding_) : loose_tolerance;
    if (!is_tight) {
      relax_band();
    }
    // The set is judged once the links suit the pressures.
    bool changed = !is_level_ && change_links() && is_tight;
    const bool air_moves = !pockets_.empty() && is_tight && !is_exact;
    if (!is_level_ && !is_cautious_ && (changed || air_moves)) {
      level_band();
      change_links();
    }
    const bool is_judged = is_exact || !is_cautious_;
    const bool is_near = !is_judged && change > 0 && left_ <= near_enough;
    if (is_near || (!changed && is_judged)) {
      changed = change_set(is_near ? clearly_overfull : tolerance);
      if (changed && is_cautious_) {
        level_band();
      }
      if (changed && !is_level_) {
        change_links();
      }
    }
    double residual = update_residual();
    // A body cut off on the way may get any pressure, which nothing then tells from rounding.
    const bool is_lost = !is_level_ && is_tight && rounding_ > lost_in_rounding;
    wild_changes += !is_level_ && is_tight && changed && residual > steady ? 1 : 0;
    const bool is_wild = !is_cautious_ && wild_changes > most_wild_changes;
    if (!std::isfinite(residual) || is_lost || is_wild) {
      return Outcome::not_found;
    }
    bool is_solved = residual <= std::max(0.5 * tolerance, rounding_);
    if (!changed && is_judged && is_solved && is_tight) {
      if (!change_ports()) {
        count_.largest_residual = std::max(count_.largest_residual, residual);
        return Outcome::solved;
      }
      if (++port_changes > 4 * input_.ports.size()) {
        return Outcome::not_found; // they go to and fro
      }
      residual = update_residual();
      is_solved = false;
      changed = true;
    }
    const bool is_steady = !is_level_ && change > 0 && residual <= steady;
    is_tight = is_tight || (!changed && (is_solved || is_steady)) ||
               (!is_level_ && change >= most_loose_changes);
    const bool is_about_known = is_cautious_ ? changed : is_tight && !was_asked && !changed;
    if (is_about_known && input_.is_unwanted && ports_work()) {
      was_asked = true;
      if (input_.is_unwanted(!is_cautious_)) {
        return Outcome::unwanted;
      }
    }
    Goal goal = exact_goal();
    is_exact = true;
    if (!is_tight) {
      goal = {0.5 * loose_tolerance, loose_share};
    } else if (!is_level_ && (changed || residual > newton_end)) {
      is_exact = false; // the next links and gas laws are others
      goal.least = is_cautious_ ? near_enough : goal.least;
      goal.share = newton_share;
    }
    const int most_iterations = is_tight ? tight_iterations : loose_iterations;
    const bool has_unknowns = !active_.empty() || !pockets_.empty();
    if (has_unknowns && (!is_solved || !changed)) {
      if (!conjugate_gradients(residual, goal, most_iterations) && is_tight) {
        return Outcome::not_found;
      }
    }
    forget_fresh();
  }
  return Outcome::not_found;
}

/// Whether no pocket has vanished (its air cannot), no resin comes out of dry unknowns (through the
/// way out kept for a body that had none), none is drawn into what was filled ahead of the overflow
/// and cannot leave any more, and none has filled a cell against the pressure of its air.
bool PressureStep::is_sound() const {
  const auto has_room = [&](const AirPocket& pocket) {
    return std::ranges::any_of(pocket.unknowns,
                               [&](std::int32_t i) { return state_[position(i)] == State::dry; });
  };
  if (!std::ranges::all_of(input_.pockets, has_room)) {
    return false;
  }
  for (const std::int32_t unknown : active_) {
    const std::size_t i = position(unknown);
    const double above = (u_[i] - floor_of(unknown)) * matrix_.diagonal[i];
    const bool may_be_empty =
        !feeds_lower_ones(unknown) || is_pressed_out(unknown) || (is_cautious_ && is_handed_[i]);
    if (input_.fill[i] < full_fraction && above < -1e-6 * system_.volume[i] && may_be_empty) {
      return false;
    }
  }
  for (const std::int32_t dry : border_) {
    const std::size_t j = position(dry);
    for (std::int32_t k = matrix_.first[j]; k < matrix_.first[j + 1]; ++k) {
      const std::int32_t full = matrix_.column[position(k)];
      const double flow = matrix_.link[position(k)] * (u_[position(full)] - u_[j]);
      const bool is_drawing = carries(full) && flow < -1e-9 * system_.volume[j];
      if (is_drawing && !is_in(closed_links_, full, dry)) {
        return false;
      }
    }
  }
  return true;
}

double PressureStep::link_flow(std::int32_t i, std::int32_t j, double c) const {
  const double flow = c * (u_[position(i)] - u_[position(j)]);
  if (carries(i) && carries(j)) {
    return flow;
  }
  if (carries(i) && state_[position(j)] == State::dry) {
    return std::max(flow, 0.0);
  }
  return carries(j) && state_[position(i)] == State::dry ? std::min(flow, 0.0) : 0;
}

double PressureStep::inflow_of_port(std::size_t k) const {
  const Port& port = input_.ports[k];
  if (port.volume) {
    return *port.volume;
  }
  const std::size_t i = position(port.unknown);
  if (!port_is_open_[k]) {
    return 0;
  }
  if (std::isfinite(port.conductance)) {
    return port.conductance * (port.impulse - u_[i]);
  }
  if (is_level_) {
    return matrix_.diagonal[i] * u_[i] - matrix_.gathered(i, u_);
  }
  double sum = 0;
  for (std::int32_t at = matrix_.first[i]; at < matrix_.first[i + 1]; ++at) {
    sum += link_flow(port.unknown, matrix_.column[position(at)], matrix_.link[position(at)]);
  }
  return sum;
}

double PressureStep::largest_intake() const {
  double largest = 0;
  for (std::size_t k = 0; k < pockets_.size(); ++k) {
    largest = input_.pockets[k].acts_by_end() ? largest : std::max(largest, intake(k));
  }
  return largest;
}

double PressureStep::intake(std::size_t pocket) const {
  return pocket < pockets_.size() ? pockets_[pocket].taken_at / input_.pockets[pocket].volume : 0;
}

double PressureStep::border_volume() const {
  double volume = 0;
  for (const std::int32_t unknown : border_) {
    volume += system_.volume[position(unknown)];
  }
  return volume;
}

bool PressureStep::about_fills(std::int32_t unknown) const {
  const std::size_t i = position(unknown);
  return fills(unknown) || (system_.volume[i] > 0 &&
                            excess_when_dry(unknown) >= -loose_tolerance * system_.volume[i]);
}

void PressureStep::advance(std::span<double> fill) {
  std::swap(before_, last_);
  last_ = u_;
  last_scale_ = input_.guess_scale;
  last_rounding_ = rounding_;
  std::ranges::fill(last_shift_, 0.0);
  for (std::size_t k = 0; k < pockets_.size(); ++k) {
    for (const std::int32_t unknown : input_.pockets[k].unknowns) {
      last_shift_[position(unknown)] = pockets_[k].shift;
    }
  }
  keep_runs(fill);
  for (const std::int32_t unknown : active_) {
    const std::size_t i = position(unknown);
    fill[i] = 1;
    surplus_[i] = r_[i];
    count_.largest_residual =
        std::max(count_.largest_residual, std::abs(r_[i]) / system_.volume[i]);
  }
  for (const std::int32_t unknown : border_) {
    const std::size_t i = position(unknown);
    double inflow = inflow_when_dry(unknown);
    for (const Port& port : input_.ports) {
      inflow += port.unknown == unknown ? port.volume.value_or(0) : 0;
    }
    fill[i] += inflow / system_.volume[i];
  }
}

double PressureStep::longest_stretch() const {
  constexpr double near = 0.5;
  return is_level_ || !(last_rounding_ > 0)
             ? std::numeric_limits<double>::infinity()
             : std::max(1.0, near * lost_in_rounding / last_rounding_);
}

std::optional<std::vector<double>> PressureStep::solve_all_wet(std::span<const double> source,
                                                               std::span<const Port> ports) {
  const std::vector<double> kept_u = u_;
  const std::vector<State> kept_state = state_;
  const std::vector<double> kept_diagonal = matrix_.diagonal;
  const std::vector<DirectedLink> kept_links = std::exchange(closed_links_, {});
  const std::vector<PocketState> kept_pockets = std::exchange(pockets_, {});
  input_ = {.fill = {}, .ports = ports};
  matrix_.diagonal = system_.matrix.diagonal;
  for (std::size_t i = 0; i < u_.size(); ++i) {
    state_[i] = system_.volume[i] > 0 ? State::wet : State::dry;
    source_[i] = source[i];
    u_[i] = 0;
  }
  for (const Port& port : ports) {
    const std::size_t i = position(port.unknown);
    if (std::isfinite(port.conductance)) {
      matrix_.diagonal[i] += port.conductance;
      source_[i] += port.conductance * port.impulse;
    } else {
      state_[i] = State::held;
      u_[i] = port.impulse;
    }
  }
  collect_active();
  double residual = update_residual();
  const auto goal = [&] { return std::max(0.5 * options_.fill_tolerance, rounding_); };
  bool goes_on = true;
  for (int pass = 0; pass < 5 && residual > goal() && goes_on; ++pass) {
    goes_on = conjugate_gradients(residual, exact_goal(), tight_iterations);
    residual = update_residual();
  }
  const bool is_solved = residual <= goal();
  if (is_solved) {
    count_.largest_residual = std::max(count_.largest_residual, residual);
  }
  std::vector<double> solution = u_;
  u_ = kept_u;
  state_ = kept_state;
  matrix_.diagonal = kept_diagonal;
  closed_links_ = kept_links;
  pockets_ = kept_pockets;
  input_ = {}; // the caller's ports go with the call
  rebuild_border();
  collect_active();
  return is_solved ? std::optional(std::move(solution)) : std::nullopt;
}

} // namespace tidemark
