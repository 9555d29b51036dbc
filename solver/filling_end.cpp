// The last step, which fills all that is left.
#include "solver/filling_run.hpp"

#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace tidemark {

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
  if (!step || step->interval.duration > longest || share_until_volume(*step) < nearly ||
      goes_beyond_awaited(*step)) {
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
  for (const VentPort& of_vent : vent_ports_) {
    const Port& port = ports_[of_vent.port];
    const double out =
        std::isfinite(port.conductance)
            ? port.conductance * (u[position(port.unknown)] - port.impulse * duration)
            : -net_outflow(u, port.unknown);
    if (out < 0) {
      return std::nullopt;
    }
    step.bled[of_vent.vent] += out;
  }
  step.impulse = std::move(end.impulse);
  return step;
}

} // namespace tidemark
