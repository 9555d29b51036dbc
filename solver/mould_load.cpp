#include "solver/mould_load.hpp"

#include "mesh/seen_share.hpp"
#include "mesh/triangulation.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <numeric>
#include <optional>

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

} // namespace

HalfAreas half_areas(const ShellMesh& mesh, const Vector3& closing_direction) {
  const Triangulation triangulation = triangulate(mesh);
  const SeenShares shares = seen_shares(mesh, triangulation, closing_direction);
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

FibrePush fibre_push(const FillProblem& problem) {
  FibrePush push;
  if (!problem.mould) {
    return push;
  }
  const Vector3& direction = problem.mould->closing_direction;
  const Triangulation triangulation = triangulate(problem.mesh);
  const auto bears = [&](TriangleId id) {
    return reinforcement_at(problem, triangulation.element[id]).fibre_pressure > 0;
  };
  const auto ids = triangulation.corners.ids();
  std::optional<SeenShares> shares; // only where something pushes: it takes long
  if (std::any_of(ids.begin(), ids.end(), bears)) {
    shares = seen_shares(problem.mesh, triangulation, direction);
  }
  double lower = 0;
  for (const TriangleId id : triangulation.corners.ids()) {
    const double area = area_seen(problem.mesh, triangulation.corners[id], direction);
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

MouldLoadMeter::MouldLoadMeter(const FillProblem& problem, const PerNode<double>& start_pressure)
    : areas_(half_areas(problem.mesh, problem.mould->closing_direction)),
      fibre_force_(fibre_push(problem).force), lowest_pressure_(std::ranges::min(start_pressure)),
      force_(opening_force(start_pressure)) {
  const double hold_down = problem.mould->hold_down_force;
  load_.peak_force = force_;
  load_.peak_force_at = 0;
  load_.end_force = force_;
  load_.peak_pressure = std::ranges::max(start_pressure);
  load_.projected_area = areas_.projected_area;
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
  return fibre_force_ + (areas_.lower.empty() ? upper : std::max(upper, on_half(areas_.lower)));
}

double MouldLoadMeter::after_step(double time, const PerNode<double>& pressure, double volume,
                                  double head_pressure) {
  load_.peak_pressure = std::max(load_.peak_pressure, std::ranges::max(pressure));
  lowest_pressure_ = std::min(lowest_pressure_, std::ranges::min(pressure));
  const StepMean mean{0.5 * (time_ + time), opening_force(pressure), volume};
  means_.push_back(mean);
  return take(mean.value, mean.time, time, head_pressure);
}

double MouldLoadMeter::in_last_layer(double at, double time, double layer, double head_pressure) {
  const double force =
      means_.empty() ? force_ : line_through(last_means(means_, least_means, 3 * layer)).at(at);
  // Air that is shut in may keep the last layer waiting for long: a line led on that far would
  // leave all bounds, while the cavity goes to the pressure of the head and stays there.
  const double least = load_.projected_area * lowest_pressure_ + fibre_force_;
  const double most =
      load_.projected_area * std::max({head_pressure, load_.peak_pressure, lowest_pressure_}) +
      fibre_force_;
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

} // namespace tidemark
