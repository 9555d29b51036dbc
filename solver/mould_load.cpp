#include "solver/mould_load.hpp"

#include "mesh/seen_share.hpp"
#include "mesh/triangulation.hpp"
#include "solver/gate_control.hpp"
#include "solver/tolerance.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <limits>
#include <numeric>
#include <optional>
#include <span>
#include <utility>

namespace tidemark {

namespace {
constexpr std::size_t least_means = 8;

/// |A . d| of a triangle [m2].
double area_seen(const ShellMesh& mesh, const std::array<NodeId, 3>& corners,
                 const Vector3& direction) {
  const auto& [a, b, c] = corners;
  const Vector3 area = area_vector(mesh.positions[a], mesh.positions[b], mesh.positions[c]);
  return std::abs(area.dot(direction));
}

HalfAreas areas_of(const ShellMesh& mesh, const Triangulation& triangulation,
                   const Vector3& closing_direction, const SeenShares& shares) {
  HalfAreas areas;
  areas.upper = PerNode<double>(mesh.positions.size(), 0);
  areas.lower = areas.upper;
  double upper = 0;
  double lower = 0;
  for (const TriangleId id : triangulation.corners.ids()) {
    const double area = area_seen(mesh, triangulation.corners[id], closing_direction);
    areas.faces += area;
    upper += shares.against[id] * area;
    lower += shares.along[id] * area;
    for (const NodeId node : triangulation.corners[id]) {
      areas.upper[node] += shares.against[id] * area / 3;
      areas.lower[node] += shares.along[id] * area / 3;
    }
  }
  areas.projected_area = 0.5 * (upper + lower);
  if (shares.hides_nothing) {
    areas.lower = {};
    return areas;
  }
  for (const NodeId node : areas.upper.ids()) {
    areas.upper[node] *= areas.projected_area / upper;
    areas.lower[node] *= areas.projected_area / lower;
  }
  return areas;
}

/// shares: null where none of the reinforcement pushes.
FibrePush fibres_of(const FillProblem& problem, const Triangulation& triangulation,
                    const SeenShares* shares) {
  FibrePush push;
  double lower = 0;
  for (const TriangleId id : triangulation.corners.ids()) {
    const double area =
        area_seen(problem.mesh, triangulation.corners[id], problem.mould->closing_direction);
    const Reinforcement local = reinforcement_at(problem, triangulation.element[id]);
    if (local.fibre_pressure > 0) {
      push.force += shares->against[id] * area * local.fibre_pressure;
      lower += shares->along[id] * area * local.fibre_pressure;
      push.counted_area += area;
    } else if (local.fibre_volume_fraction > 0) {
      push.uncounted_area += area;
    }
  }
  push.force = std::max(push.force, lower);
  return push;
}

/// rho g z of the head [Pa]: of several, that of the one which pushes most.
double head_height(const FillProblem& problem) {
  std::vector<std::size_t> gates(problem.gates.size());
  std::iota(gates.begin(), gates.end(), 0);
  if (has_one_pump(problem)) {
    return mean_height(problem, gates);
  }
  double highest = -std::numeric_limits<double>::infinity();
  for (const std::size_t gate : gates) {
    highest = std::max(highest, mean_height(problem, {&gate, 1}));
  }
  return highest;
}

RestingPush push_of(const FillProblem& problem, const HalfAreas& areas, const FibrePush& fibres) {
  RestingPush push{areas.projected_area, areas.faces, fibres, front_pressure(problem), {}, {}};
  push.air_pressure = std::max(push.air_pressure, problem.cavity_pressure);
  for (const Vent& vent : problem.vents) {
    push.air_pressure = std::max(push.air_pressure, vent.pressure);
  }
  if (!problem.gravity) {
    return push;
  }
  const Vector3 weight = -problem.resin.density.value_or(0) * *problem.gravity;
  const double head = head_height(problem);
  const auto places = [&](const PerNode<double>& half) {
    std::vector<RestingPush::Place> result;
    for (const NodeId node : half.ids()) {
      result.push_back({half[node], head - weight.dot(problem.mesh.positions[node])});
    }
    return result;
  };
  push.upper = places(areas.upper);
  push.lower = places(areas.lower);
  return push;
}

struct OnHalves {
  HalfAreas areas;
  RestingPush at_rest;
};

/// Precondition: problem.mould.
OnHalves on_halves(const FillProblem& problem) {
  const Vector3& direction = problem.mould->closing_direction;
  const Triangulation triangulation = triangulate(problem.mesh);
  const SeenShares shares = seen_shares(problem.mesh, triangulation, direction);
  OnHalves result{areas_of(problem.mesh, triangulation, direction, shares), {}};
  result.at_rest = push_of(problem, result.areas, fibres_of(problem, triangulation, &shares));
  return result;
}

} // namespace

HalfAreas half_areas(const ShellMesh& mesh, const Vector3& closing_direction) {
  const Triangulation triangulation = triangulate(mesh);
  return areas_of(mesh, triangulation, closing_direction,
                  seen_shares(mesh, triangulation, closing_direction));
}

FibrePush fibre_push(const FillProblem& problem) {
  if (!problem.mould) {
    return {};
  }
  const Triangulation triangulation = triangulate(problem.mesh);
  const auto bears = [&](TriangleId id) {
    return reinforcement_at(problem, triangulation.element[id]).fibre_pressure > 0;
  };
  const auto ids = triangulation.corners.ids();
  std::optional<SeenShares> shares; // only where something pushes: it takes long
  if (std::any_of(ids.begin(), ids.end(), bears)) {
    shares = seen_shares(problem.mesh, triangulation, problem.mould->closing_direction);
  }
  return fibres_of(problem, triangulation, shares ? &*shares : nullptr);
}

RestingPush resting_push(const FillProblem& problem) {
  return problem.mould ? on_halves(problem).at_rest : RestingPush{};
}

double RestingPush::at(double head_pressure) const {
  if (upper.empty()) {
    return fibres.force + std::max(head_pressure, air_pressure) * projected_area;
  }
  const auto on_half = [&](const std::vector<Place>& places) {
    double force = 0;
    for (const Place& place : places) {
      force += std::max(head_pressure + place.column, air_pressure) * place.area;
    }
    return force;
  };
  return fibres.force + (lower.empty() ? on_half(upper) : std::max(on_half(upper), on_half(lower)));
}

std::optional<double> RestingPush::highest_head(double hold_down_force) const {
  const double by_air = fibres.force + air_pressure * projected_area;
  if (!(projected_area > 0) || by_air > hold_down_force) {
    return std::nullopt;
  }
  const double level = (hold_down_force - fibres.force) / projected_area;
  if (upper.empty()) {
    return level;
  }
  // The force rises with the pressure of the head; it is looked for between what the highest and
  // the lowest column make of that without gravity.
  const auto [least, most] = std::ranges::minmax_element(upper, {}, &Place::column);
  double low = std::min(level, air_pressure) - most->column;
  double high = std::max(level, air_pressure) - least->column;
  constexpr int halvings = 60;
  for (int k = 0; k < halvings; ++k) {
    const double middle = std::midpoint(low, high);
    (at(middle) > hold_down_force ? high : low) = middle;
  }
  return low;
}

namespace {

/// rho g z of a pump's head [Pa]. Precondition: gravity.
double height_of_head(const FillProblem& problem, std::optional<std::size_t> own_gate) {
  if (own_gate) {
    return mean_height(problem, {&*own_gate, 1});
  }
  std::vector<std::size_t> shared;
  for (std::size_t g = 0; g < problem.gates.size(); ++g) {
    if (!problem.gates[g].own_injector) {
      shared.push_back(g);
    }
  }
  return mean_height(problem, shared);
}

} // namespace

double rise_of_head(const FillProblem& problem, std::optional<std::size_t> own_gate) {
  return problem.gravity ? height_of_head(problem, own_gate) - head_height(problem) : 0;
}

std::optional<double> pressure_to_the_top(const FillProblem& problem,
                                          std::optional<std::size_t> own_gate) {
  if (!problem.gravity) {
    return std::nullopt;
  }
  const Vector3 weight = -problem.resin.density.value_or(0) * *problem.gravity;
  double top = -std::numeric_limits<double>::infinity();
  for (const Vector3& place : problem.mesh.positions) {
    top = std::max(top, weight.dot(place));
  }
  return front_pressure(problem) + top - height_of_head(problem, own_gate);
}

std::optional<double> push_of_weight(const FillProblem& problem, const FillResult& result) {
  constexpr double clearly_more = 1.01;
  if (result.verdict != Verdict::filled || !result.mould_load || !problem.gravity ||
      !has_one_pump(problem)) {
    return std::nullopt;
  }
  const double force = result.mould_load->at_rest.at(0);
  const double before = std::max(result.mould_load->peak_force, 0.0);
  return force > clearly_more * before ? std::optional(force) : std::nullopt;
}

double push_at_highest_head(const FillProblem& problem, const FillResult& result) {
  double highest = result.peak_head_pressure;
  if (problem.gravity && !has_one_pump(problem)) { // that of one pump at its height, not another's
    highest = -std::numeric_limits<double>::infinity();
    for (std::size_t g = 0; g < result.gates.size(); ++g) {
      const double rise = mean_height(problem, {&g, 1}) - head_height(problem);
      highest = std::max(highest, result.gates[g].peak_pressure + rise);
    }
  }
  return result.mould_load->at_rest.at(highest);
}

bool stages_set_cap(const Injector& injector) {
  return std::ranges::any_of(
      injector.stages, [](const InjectorStage& stage) { return stage.pressure_cap.has_value(); });
}

std::optional<double> cap_left_on(const Injector& injector, double end_time, double injected) {
  std::optional<double> cap = injector.pressure_cap;
  std::optional<double> highest;
  for (const InjectorStage& stage : injector.stages) {
    const bool is_past = stage.from_time
                             ? end_time >= nearly * *stage.from_time
                             : injected >= nearly_all_let * stage.from_volume.value_or(0);
    if (!is_past && !stage.from_time) { // nothing more goes in: it never comes
      break;
    }
    if (!is_past && cap) {
      highest = std::max(highest.value_or(*cap), *cap);
    }
    cap = stage.pressure_cap ? stage.pressure_cap : cap;
  }
  return cap && highest ? std::max(*cap, *highest) : cap;
}

std::optional<LeftOn> left_on(const FillProblem& problem, const FillResult& result) {
  std::optional<LeftOn> most;
  double highest = 0; // at the head of the push at rest [Pa]
  double shared = 0;
  for (std::size_t g = 0; g < result.gates.size(); ++g) {
    shared += problem.gates[g].own_injector ? 0 : result.gates[g].injected;
  }
  for (std::size_t g = 0; g < result.gates.size(); ++g) {
    const auto& own = problem.gates[g].own_injector;
    if (!(result.gates[g].closed_at.value_or(-1) >= result.end_time)) {
      continue;
    }
    const auto of_pump = cap_left_on(own ? *own : problem.injector, result.end_time,
                                     own ? result.gates[g].injected : shared);
    if (!of_pump) {
      return std::nullopt;
    }
    const auto own_gate = own ? std::optional(g) : std::nullopt;
    const double at_head = *of_pump + rise_of_head(problem, own_gate);
    if (!most || at_head > highest) {
      highest = at_head;
      most = LeftOn{*of_pump, result.mould_load ? result.mould_load->at_rest.at(at_head) : 0,
                    own_gate};
    }
  }
  return most;
}

bool has_one_pump(const FillProblem& problem) {
  return problem.gates.size() == 1 || std::ranges::none_of(problem.gates, [](const Gate& gate) {
           return gate.own_injector.has_value();
         });
}

MouldLoadMeter::MouldLoadMeter(const FillProblem& problem, const PerNode<double>& start_pressure)
    : lowest_pressure_(std::ranges::min(start_pressure)) {
  OnHalves halves = on_halves(problem);
  areas_ = std::move(halves.areas);
  load_.at_rest = std::move(halves.at_rest);
  force_ = opening_force(start_pressure);
  const double hold_down = problem.mould->hold_down_force;
  load_.peak_force = force_;
  load_.peak_force_at = 0;
  load_.end_force = force_;
  load_.peak_pressure = std::ranges::max(start_pressure);
  load_.hold_down_force = hold_down;
  if (force_ > hold_down) {
    load_.lifts_at = 0;
  }
}

double MouldLoadMeter::opening_force(const PerNode<double>& pressure) const {
  assert(pressure.size() == areas_.upper.size());
  const auto on_half = [&](const PerNode<double>& areas) {
    return std::inner_product(areas.begin(), areas.end(), pressure.begin(), 0.0);
  };
  const double upper = on_half(areas_.upper);
  return load_.at_rest.fibres.force +
         (areas_.lower.empty() ? upper : std::max(upper, on_half(areas_.lower)));
}

double MouldLoadMeter::after_step(double time, const PerNode<double>& pressure, double volume,
                                  double head_pressure) {
  load_.peak_pressure = std::max(load_.peak_pressure, std::ranges::max(pressure));
  lowest_pressure_ = std::min(lowest_pressure_, std::ranges::min(pressure));
  const StepMean mean{0.5 * (time_ + time), opening_force(pressure), volume};
  means_.push_back(mean);
  return take(mean.value, mean.time, time, head_pressure);
}

double MouldLoadMeter::in_last_layer(double at, double time, double layer, double head_pressure,
                                     double gate_pressure) {
  load_.peak_pressure = std::max(load_.peak_pressure, gate_pressure);
  const double force =
      means_.empty() ? force_ : line_through(last_means(means_, least_means, 3 * layer)).at(at);
  // Air that is shut in may keep the last layer waiting for long: a line led on that far would
  // leave all bounds, while the cavity goes to the pressure of the gates and stays there.
  const double least = areas_.projected_area * lowest_pressure_ + load_.at_rest.fibres.force;
  const double most = areas_.projected_area * std::max(load_.peak_pressure, lowest_pressure_) +
                      load_.at_rest.fibres.force;
  return take(std::clamp(force, least, most), at, time, head_pressure);
}

double MouldLoadMeter::take(double force, double middle, double time, double head_pressure) {
  if (!load_.lifts_at && force > load_.hold_down_force) {
    find_lift(middle, time, force, head_pressure);
  }
  if (force > load_.peak_force) {
    load_.peak_force = force;
    load_.peak_force_at = time;
  }
  load_.end_force = force;
  time_ = time;
  middle_ = middle;
  force_ = force;
  head_ = head_pressure;
  return force;
}

void MouldLoadMeter::find_lift(double middle, double time, double force, double head_pressure) {
  const double share = (load_.hold_down_force - force_) / (force - force_);
  const double at = middle_ + share * (middle - middle_);
  // In the second half of the step before, the head is taken to be where that step ended.
  const double before = head_.value_or(head_pressure);
  const double part = std::clamp((at - time_) / (time - time_), 0.0, 1.0);
  load_.lifts_at = at;
  load_.head_pressure_at_lift = before + part * (head_pressure - before);
}

std::optional<double> push_behind_gel(const FillProblem& problem, const FillResult& result) {
  const auto rest = left_on(problem, result);
  if (result.reason != ShortReason::gel || problem.resin.mixing != Mixing::inline_head ||
      !result.mould_load || problem.gravity || !rest) {
    return std::nullopt;
  }
  constexpr double wet = 0.5;
  PerNode<double> pressure = result.pressure;
  for (const NodeId node : pressure.ids()) {
    if (result.fill_fraction[node] >= wet) {
      pressure[node] = std::max(pressure[node], rest->cap);
    }
  }
  return MouldLoadMeter(problem, result.pressure).opening_force(pressure);
}

} // namespace tidemark
