// What must not change the result: where the part lies, how it is numbered, folds along edges, a
// second run, the number of steps.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/fleet.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <Eigen/Geometry>

#include <algorithm>
#include <bit>
#include <cmath>
#include <numbers>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

/// Largest difference of the fill times of the same nodes, relative to the time of the whole, and
/// of fill time and volumes.
double difference(const FillResult& one, const FillResult& two) {
  REQUIRE(one.fill_time_field.size() == two.fill_time_field.size());
  REQUIRE(one.end_time > 0);
  double largest = std::max(relative_error(two.end_time, one.end_time),
                            relative_error(two.injected, one.injected));
  for (const NodeId node : one.fill_time_field.ids()) {
    const double change = two.fill_time_field[node] - one.fill_time_field[node];
    if (!(std::abs(change) / one.end_time <= largest)) { // a NaN stays
      largest = std::abs(change) / one.end_time;
    }
  }
  return largest;
}

/// A jittered plate with K1 / K2 = 5 at an angle, fed at a port.
FillProblem anisotropic_problem() {
  ShellMesh mesh =
      plate({.length = 1, .width = 0.6, .columns = 40, .rows = 24, .jitter = 0.25, .seed = 51});
  const auto gate = nodes_within(mesh, Vector3(0.3, 0.2, 0), 0.03);
  FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  problem.gates[0].centre = Vector3(0.3, 0.2, 0);
  problem.gates[0].radius = 0.03;
  problem.regions[0].permeability_2 = 4e-10;
  problem.regions[0].angle = 0.7;
  return problem;
}

void turn(FillProblem& problem, const Vector3& axis, double angle, const Vector3& shift) {
  move_rigidly(problem.mesh, axis, angle, shift);
  const Eigen::AngleAxisd rotation(angle, axis.normalized());
  for (Region& region : problem.regions) {
    region.direction = rotation * region.direction;
  }
  for (Gate& gate : problem.gates) {
    gate.centre = rotation * gate.centre + shift;
  }
}

} // namespace

TEST_CASE("A plate turned and shifted in space fills the same to round-off") {
  const FillProblem problem = anisotropic_problem();
  const CheckedFill flat = checked_fill(problem);
  for (const auto& [axis, angle] :
       {std::pair(Vector3(1, 2, 3), 0.8), std::pair(Vector3(0, 1, 0), pi / 2),
        std::pair(Vector3(1, 0, 0), pi)}) {
    CAPTURE(angle);
    FillProblem turned = problem;
    turn(turned, axis, angle, Vector3(0.3, -2, 1));
    CHECK(difference(flat, checked_fill(turned)) <= 1e-9);
  }
}

TEST_CASE("Any part turned in space fills the same to round-off") {
  for (FleetProblem& item : fleet()) {
    CAPTURE(item.name);
    const CheckedFill before = checked_fill(item.problem);
    turn(item.problem, Vector3(-2, 1, 0.5), 1.9, Vector3(0.1, 0.2, 0.3));
    CHECK(difference(before, checked_fill(item.problem)) <= 1e-9);
  }
}

TEST_CASE("A regular plate folded along edges of its mesh fills the same to round-off") {
  ShellMesh mesh = plate({.length = 1, .width = 0.5, .columns = 40, .rows = 20});
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0 && x.y() < 0.1; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  problem.regions[0].direction = Vector3::UnitY(); // along the fold
  problem.regions[0].permeability_1 = 5e-10;
  const CheckedFill flat = checked_fill(problem);
  fold_at(problem.mesh, 0.75, pi / 3);
  fold_at(problem.mesh, 0.25, pi / 2);
  CHECK(difference(flat, checked_fill(problem)) <= 1e-9);
}

TEST_CASE("Nodes and elements in another order fill the same") {
  // Ties in the Delaunay flips may be broken otherwise, which changes the conductances at rounding
  // level only.
  for (const FleetProblem& item : fleet()) {
    CAPTURE(item.name);
    const FillProblem& problem = item.problem;
    const Renumbered other = renumbered(problem.mesh, 52);
    FillProblem changed = problem;
    changed.mesh = other.mesh;
    for (NodeId& node : changed.gates[0].nodes) {
      node = other.node[node];
    }
    std::ranges::sort(changed.gates[0].nodes);
    for (const ElementId id : problem.mesh.elements.ids()) {
      changed.element_region[other.element[id]] = problem.element_region[id];
    }
    const CheckedFill before = checked_fill(problem);
    CheckedFill after = checked_fill(changed);
    PerNode<double> times(after.fill_time_field.size());
    for (const NodeId node : times.ids()) {
      times[node] = after.fill_time_field[other.node[node]];
    }
    after.fill_time_field = times;
    CHECK(difference(before, after) <= 1e-7);
    CHECK(relative_error(after.end_time, before.end_time) <= 1e-9);
  }
}

TEST_CASE("Triangles and quadrilaterals agree to the order of the mesh") {
  // A square fed along its edges: 58.9370826 s (torsion function, series).
  const auto fill_time = [](bool quads) {
    ShellMesh mesh = plate({.length = 1,
                            .width = 1,
                            .columns = 50,
                            .rows = 50,
                            .jitter = 0.25,
                            .seed = 53,
                            .quads = quads});
    const auto gate = nodes_where(mesh, [](const Vector3& x) {
      return x.x() == 0 || x.y() == 0 || x.x() == 1 || x.y() == 1;
    });
    return checked_fill(with_pressure(problem_on(std::move(mesh), gate))).fill_time.value_or(0);
  };
  CHECK(relative_error(fill_time(false), 58.9370826) <= 2e-3);
  CHECK(relative_error(fill_time(true), 58.9370826) <= 2e-3);
}

namespace {

void check_same_bits(const std::vector<double>& one, const std::vector<double>& two) {
  REQUIRE(one.size() == two.size());
  CHECK(std::ranges::equal(
      one, two, {}, [](double x) { return std::bit_cast<std::uint64_t>(x); },
      [](double x) { return std::bit_cast<std::uint64_t>(x); }));
}

std::vector<double> all_numbers(const FillResult& result) {
  std::vector<double> numbers{result.fill_time.value_or(-1),
                              result.end_time,
                              result.filled_fraction,
                              result.pore_volume,
                              result.injected,
                              result.resin_in_part,
                              result.mass_balance_error,
                              result.peak_head_pressure,
                              result.time_at_cap,
                              result.time_cap_reached.value_or(-1),
                              result.area,
                              result.work.largest_residual,
                              static_cast<double>(result.work.steps),
                              static_cast<double>(result.work.linear_iterations)};
  for (const HistoryRow& row : result.history) {
    numbers.insert(numbers.end(),
                   {row.time, row.filled_fraction, row.flow_rate, row.head_pressure});
  }
  for (const LastFilled& place : result.last_filled) {
    numbers.insert(numbers.end(), {place.time, static_cast<double>(place.node.value())});
  }
  return numbers;
}

} // namespace

TEST_CASE("A repeated run gives the same bits") {
  for (const FleetProblem& item : fleet()) {
    CAPTURE(item.name);
    const FillProblem problem = with_flow_and_cap(item.problem, 5e-6);
    const FillResult one = fill(problem);
    const FillResult two = fill(problem);
    check_same_bits(all_numbers(one), all_numbers(two));
    check_same_bits(one.fill_time_field.values(), two.fill_time_field.values());
    check_same_bits(one.pressure.values(), two.pressure.values());
    check_same_bits(one.fill_fraction.values(), two.fill_fraction.values());
  }
}

TEST_CASE("20 steps and 200 steps give the same front") {
  for (const FleetProblem& item : fleet()) {
    CAPTURE(item.name);
    const auto check = [](const FillProblem& problem, double time_limit) {
      const CheckedFill few = checked_fill(problem, {.steps = 20, .time_limit = time_limit});
      const CheckedFill many = checked_fill(problem, {.steps = 200, .time_limit = time_limit});
      CHECK(many.work.steps > 1.5 * few.work.steps);
      CHECK(few.reason == ShortReason::time_limit);
      CHECK(relative_error(few.injected, many.injected) <= 1e-8);
      double largest = 0;
      for (const NodeId node : few.fill_fraction.ids()) {
        largest = std::max(largest, std::abs(few.fill_fraction[node] - many.fill_fraction[node]));
      }
      CHECK(largest <= 1e-8);
    };
    const auto fill_time = [](const FillProblem& problem, int steps) {
      return checked_fill(problem, {.steps = steps, .time_limit = {}}).fill_time.value_or(0);
    };
    const double by_pressure = fill_time(item.problem, 20);
    CHECK(relative_error(fill_time(item.problem, 200), by_pressure) <= 1e-8);
    check(item.problem, 0.5 * by_pressure);
    const FillProblem by_flow = with_flow(item.problem, 5e-6);
    const double time = fill_time(by_flow, 20);
    CHECK(relative_error(fill_time(by_flow, 200), time) <= 1e-8);
    check(by_flow, 0.5 * time);
  }
}
