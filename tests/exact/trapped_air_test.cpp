// Air shut in ahead of the front, isothermal: absolute pressure times volume is constant.
//
// 1-D against a closed end: stops at x / L = xi_e = 1 - p0 / p_in, absolute pressures; on the way
//     t = phi mu L^2 / (K p_in) [xi^2 / 2 - (1 - xi_e) xi + xi_e (1 - xi_e) ln(xi_e / (xi_e -
//     xi))].
// Derived here.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr double ambient = 101325;

/// 1 m, closed at the far end; absolute pressures of the gate and of the air at the start.
FillProblem closed_strip(double gate, double air) {
  ShellMesh mesh = plate({.length = 1, .width = 0.1, .columns = 200, .rows = 2});
  const auto left = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), left), gate - ambient);
  problem.cavity_pressure = air - ambient;
  problem.sealed_air = true;
  return problem;
}

/// 0.4 m at 0.2 bar, closed at the far end, under the pressure of its one vent, across it at
/// vent_at.
FillProblem strip_with_vent(double vent_at, double pressure) {
  ShellMesh mesh = plate({.length = 0.4, .width = 0.1, .columns = 60, .rows = 4});
  const auto across = [&](double x) {
    return nodes_where(mesh, [x](const Vector3& p) { return std::abs(p.x() - x) < 4e-3; });
  };
  const auto left = across(0);
  const auto vent = across(vent_at);
  REQUIRE_FALSE(vent.empty());
  FillProblem problem = with_pressure(problem_on(std::move(mesh), left), 2e4);
  problem.sealed_air = true;
  problem.cavity_pressure = pressure;
  problem.vents = {{"V", vent, pressure}};
  return problem;
}

double amount_of_air(const FillResult& result) {
  double amount = 0;
  for (const DrySpot& spot : result.dry_spots) {
    amount += (spot.air_pressure + ambient) * spot.volume;
  }
  return amount;
}

void check_limit(double gate, double air, double expected) {
  const FillResult result = watched_fill(closed_strip(gate, air));
  CHECK(result.verdict == Verdict::short_fill);
  CHECK(result.reason == ShortReason::trapped_air);
  CHECK(relative_error(result.filled_fraction, expected) <= 2e-3);
  CHECK(relative_error(amount_of_air(result), air * result.pore_volume) <= 1e-8);
  REQUIRE(result.dry_spots.size() == 1);
  CHECK(result.dry_spots[0].is_sealed);
  CHECK(relative_error(result.dry_spots[0].air_pressure + ambient, gate) <= 1e-3);
}

/// Time when a fraction of the pore volume was full, on a straight line in the square of it.
double time_at(const FillResult& result, double fraction) {
  const auto after = std::ranges::find_if(
      result.history, [&](const HistoryRow& row) { return row.filled_fraction >= fraction; });
  REQUIRE(after != result.history.end());
  REQUIRE(after != result.history.begin());
  const HistoryRow& before = *(after - 1);
  const double share = (fraction * fraction - before.filled_fraction * before.filled_fraction) /
                       (after->filled_fraction * after->filled_fraction -
                        before.filled_fraction * before.filled_fraction);
  return before.time + share * (after->time - before.time);
}

FillProblem ring_fed_disc() {
  ShellMesh mesh = disc(0.5, 24);
  const auto rim =
      nodes_where(mesh, [](const Vector3& x) { return std::abs(x.norm() - 0.5) < 1e-9; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), rim), 1e5);
  problem.cavity_pressure = 5e3 - ambient;
  problem.sealed_air = true;
  return problem;
}

} // namespace

TEST_CASE("Trapped air: a strip at 2 bar against air of the atmosphere stops at 49.34 %") {
  check_limit(2e5, ambient, 0.493375);
}

TEST_CASE("Trapped air: infusion at full atmosphere against poor vacuum") {
  check_limit(ambient, 5e3, 0.950653837);
  check_limit(ambient, 5e4, 0.506538367);
}

TEST_CASE("Trapped air: the times on the way") {
  const FillResult result = watched_fill(closed_strip(2e5, ambient), {.steps = 200});
  CHECK(relative_error(time_at(result, 0.2), 19.4426619) <= 5e-3);
  CHECK(relative_error(time_at(result, 0.4), 117.375364) <= 5e-3);
  CHECK(relative_error(time_at(result, 0.48), 309.532883) <= 5e-3);
}

TEST_CASE("Trapped air: the whole course, until it rests") {
  constexpr double unit = 400; // phi mu L^2 / (K p_in) [s]
  const double rest = 1 - ambient / 2e5;
  const auto front_at = [&](double time) {
    double low = 0;
    double high = rest;
    for (int halving = 0; halving < 60; ++halving) {
      const double xi = 0.5 * (low + high);
      const double units =
          xi * xi / 2 - (1 - rest) * xi - rest * (1 - rest) * std::log1p(-xi / rest);
      (units * unit < time ? low : high) = xi;
    }
    return low;
  };
  for (const int steps : {100, 200}) {
    CAPTURE(steps);
    const FillResult result = watched_fill(closed_strip(2e5, ambient), {.steps = steps});
    for (const HistoryRow& row : result.history) {
      CAPTURE(row.time);
      CHECK(std::abs(row.filled_fraction - front_at(row.time)) <= 6e-4);
    }
  }
}

TEST_CASE("Trapped air: a dry spot in a disc fed round its rim") {
  const FillProblem problem = ring_fed_disc();
  const FillResult result = watched_fill(problem);
  CHECK(result.verdict == Verdict::short_fill);
  CHECK(result.reason == ShortReason::trapped_air);
  REQUIRE(result.dry_spots.size() == 1);
  const DrySpot& spot = result.dry_spots[0];
  CHECK(relative_error(spot.volume / result.pore_volume, 5e3 / 201325) <= 2e-3); // 0.0248354650
  CHECK(spot.is_sealed);
  CHECK(spot.position.norm() <= 0.05);
  CHECK(std::abs(spot.halving_pressure - (2 * (spot.air_pressure + ambient) - ambient)) <= 1e-6);
  CHECK(relative_error(amount_of_air(result), 5e3 * result.pore_volume) <= 1e-8);
  FillProblem open = problem;
  open.sealed_air = false;
  CHECK(watched_fill(open).verdict == Verdict::filled);
}

TEST_CASE("Trapped air: a pocket that splits keeps its amount") {
  // Two lobes joined by a neck; the gate in the neck cuts the air in two.
  ShellMesh lobe = plate({.length = 0.4, .width = 0.4, .columns = 12, .rows = 12});
  ShellMesh other = lobe;
  deform(other, [](const Vector3& x) { return Vector3(x + Vector3(0.6, 0, 0)); });
  ShellMesh neck = plate({.length = 0.2, .width = 0.1, .columns = 6, .rows = 3});
  deform(neck, [](const Vector3& x) { return Vector3(x + Vector3(0.4, 0.1, 0)); });
  ShellMesh mesh = welded({lobe, other, neck});
  const NodeId middle = nearest_node(mesh, Vector3(0.45, 0.15, 0));
  FillProblem problem = with_pressure(problem_on(std::move(mesh), {middle}), 1e5);
  problem.cavity_pressure = 0;
  problem.sealed_air = true;
  const FillResult result = watched_fill(problem);
  CHECK(result.reason == ShortReason::trapped_air);
  CHECK(result.dry_spots.size() == 2);
  CHECK(result.suspect_zones.empty());
  CHECK(relative_error(amount_of_air(result), ambient * result.pore_volume) <= 1e-8);
  CHECK(relative_error(1 - result.filled_fraction, ambient / 201325) <= 2e-3);
}

TEST_CASE("Air: resin that becomes too thick before the air bears up is not stopped by the air") {
  // Fresh resin comes to rest at 1 - 0.2 / 2; what thickens in a hundredth of the time it needs
  // stands still long before, with the air far below the gate.
  FillProblem problem = closed_strip(2e5, 2e4);
  const double rest = fill(problem).end_time;
  problem.resin.thickening = ExponentialThickening{0.01 * rest};
  const FillResult thick = watched_fill(problem);
  CHECK(thick.reason == ShortReason::gel);
  REQUIRE(thick.dry_spots.size() == 1);
  CHECK(thick.dry_spots[0].is_sealed);
  CHECK(thick.dry_spots[0].air_pressure + ambient < 1.5e5);
  problem.resin.thickening = ExponentialThickening{100 * rest};
  CHECK(fill(problem).reason == ShortReason::trapped_air);
}

TEST_CASE(
    "Trapped air: beside a vent that closes after a long bleed it comes to the gate's pressure") {
  // While resin runs through the vent the air beyond stands still below the gate's pressure; when
  // the vent closes it is pressed within seconds, after steps of hours.
  for (const double vent : {-5e4, -9e4}) {
    CAPTURE(vent);
    FillProblem problem = strip_with_vent(0.3, vent);
    problem.vents[0].bleed = 1e-2;
    problem.vents[0].line = {{3, 5e-3}};
    for (const int steps : {100, 400}) {
      CAPTURE(steps);
      const FillResult result = watched_fill(problem, {.steps = steps});
      CHECK(result.reason == ShortReason::trapped_air);
      CHECK(relative_error(result.vents[0].bled, 1e-2) <= 1e-4);
      REQUIRE(result.dry_spots.size() == 1);
      CHECK(result.dry_spots[0].air_pressure <= 2e4 * 1.01);
      CHECK(result.dry_spots[0].air_pressure >= 2e4 * 0.95);
      CHECK(std::ranges::max(result.pressure) <= 2e4 * 1.01);
    }
  }
}

TEST_CASE("Trapped air: at rest it is pressed further by the next stage of the cap") {
  for (const double vent : {-8e4, -8.1e4}) {
    for (const double later : {600.0, 7200.0}) {
      CAPTURE(vent);
      CAPTURE(later);
      FillProblem problem = strip_with_vent(0.39, vent);
      problem.injector.stages = {{later, {}, {}, 1.5e5}};
      const FillResult result = watched_fill(problem);
      CHECK(result.end_time > later * (1 + 1e-6));
      CHECK(relative_error(result.peak_head_pressure, 1.5e5) <= 1e-9);
      REQUIRE(result.dry_spots.size() == 1);
      CHECK(relative_error(result.dry_spots[0].air_pressure, 1.5e5) <= 1e-2);
    }
  }
}
