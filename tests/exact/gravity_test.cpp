// Washburn's equation of 1921 (Phys. Rev. 17:273, from memory) without capillarity.
//
// Up: t = phi mu / (K rho g) [H ln(H / (H - x)) - x], H = dp / (rho g). Down: the same with g
// negative; on an incline g sin(angle). Derived here from Darcy's law.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr double g = 9.80665;

/// A strip along x, gate at x = 0; rise is the sine of its angle to the horizontal.
FillProblem strip(double length, double rise, double pressure) {
  ShellMesh mesh =
      plate({.length = length, .width = 0.1, .columns = static_cast<int>(200 * length), .rows = 2});
  const auto left = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), left), pressure);
  problem.resin.density = 1100;
  problem.gravity = g * Vector3(-rise, 0, -std::sqrt(1 - rise * rise));
  return problem;
}

void check_time(double length, double rise, double pressure, double expected) {
  CAPTURE(length);
  CAPTURE(rise);
  CAPTURE(pressure);
  const FillResult result = watched_fill(strip(length, rise, pressure), {.steps = 200});
  CHECK(result.verdict == Verdict::filled);
  CHECK(relative_error(result.fill_time.value_or(0), expected) <= 5e-3);
}

/// The equation above, for checks at other angles.
double time_up(double x, double rise, double pressure) {
  const double weight = 1100 * g * rise;
  const double most = pressure / weight;
  return 0.8 * 0.2 / (2e-9 * weight) * (most * std::log(most / (most - x)) - x);
}

} // namespace

TEST_CASE("Gravity: rising 0.5 m and 1 m at 0.2 bar") {
  check_time(0.5, 1, 2e4, 613.147939);
  check_time(1, 1, 2e4, 3241.97584);
}

TEST_CASE("Gravity: along the horizontal as without") {
  check_time(1, 0, 2e4, 2000);
}

TEST_CASE("Gravity: falling 1 m at 0.2 bar") {
  check_time(1, -1, 2e4, 1484.90268);
}

TEST_CASE("Gravity: up and down at 1 bar") {
  check_time(1, 1, 1e5, 431.314240);
  check_time(1, -1, 1e5, 373.376835);
}

TEST_CASE("Gravity: an incline takes the sine of its angle") {
  CHECK(relative_error(time_up(1, 1, 2e4), 3241.97584) <= 1e-8); // the formula here is that one
  check_time(1, 0.5, 2e4, time_up(1, 0.5, 2e4));
}

TEST_CASE("Gravity: resin rises 1.854 m at 0.2 bar and stands still") {
  const FillProblem problem = strip(2.2, 1, 2e4);
  const FillResult result = watched_fill(problem);
  CHECK(result.verdict == Verdict::short_fill);
  CHECK(result.reason == ShortReason::pressure);
  CHECK(std::abs(2.2 * result.filled_fraction - 1.85402948) <= 2e-3 * 1.854 + 0.005);
  REQUIRE(result.dry_spots.size() == 1);
  CHECK(result.dry_spots[0].position.x() > 1.85402948);
}

TEST_CASE("Gravity: the pressure of a pump is that at the mean height of its gates, open or not") {
  // One gate at the foot, of many nodes or few, one at 0.5 m that never opens: the foot has
  // rho g 0.25 m more than the pump.
  const double column = 1100 * g * 0.25;
  const FillResult alone = watched_fill(strip(0.5, 1, 2e4 + column), {.steps = 200});
  FillProblem problem = strip(0.5, 1, 2e4);
  problem.gates.push_back(
      {"top", {nearest_node(problem.mesh, {0.5, 0, 0})}, Vector3::Zero(), std::nullopt});
  problem.gates.back().opens.time = 1e6;
  const FillResult result = watched_fill(problem, {.steps = 200});
  CHECK(relative_error(result.fill_time.value_or(0), alone.fill_time.value_or(1)) <= 1e-4);
}

TEST_CASE("Gravity: in a part full of resin the pressure falls by rho g z") {
  // The last steps fill the top row: nothing but the little it takes still flows.
  const FillProblem problem = strip(1, 1, 5e4);
  FillProblem closed = problem;
  closed.injector = {1e-8, std::nullopt}; // so slow that the flow needs no pressure
  const FillResult result = watched_fill(closed);
  const double at_gate = result.pressure[closed.gates[0].nodes[0]];
  for (const NodeId node : closed.mesh.positions.ids()) {
    const double z = closed.mesh.positions[node].x();
    const double drag = 0.2 * 1e-8 / (2e-9 * 0.1 * 4e-3) * z;
    if (z < 0.98) {
      CHECK(std::abs(at_gate - result.pressure[node] - drag - 1100 * g * z) <= 0.01 * 1100 * g);
    }
  }
}

TEST_CASE(
    "Gravity: falling, every place has its time and its gate, also below the pressure of air") {
  // At 0.02 and 0.05 bar the weight drives more than the pump: the resin comes to be below the air.
  for (const double pressure : {2e3, 5e3, 1e5}) {
    for (const int steps : {100, 400}) {
      CAPTURE(pressure);
      CAPTURE(steps);
      const FillProblem problem = strip(1, -1, pressure);
      const FillResult result = watched_fill(problem, {.steps = steps});
      REQUIRE(result.verdict == Verdict::filled);
      const double whole = time_up(1, -1, pressure);
      CHECK(!result.last_filled.empty());
      for (const NodeId node : problem.mesh.positions.ids()) {
        const double x = problem.mesh.positions[node].x();
        CAPTURE(x);
        const double expected = x > 0 ? time_up(x, -1, pressure) : 0;
        CHECK(std::abs(result.fill_time_field[node] - expected) <= 0.02 * whole);
        CHECK(result.gate_index[node] == 0);
      }
    }
  }
}

TEST_CASE("Gravity: from an open bucket resin falls into the part at the speed of its weight") {
  // No pressure but that of the air: K rho g / (mu phi), at less than the steps' first-order error.
  const double speed = 2e-9 * 1100 * g / (0.2 * 0.8);
  for (const double air : {0.0, -5e4}) {
    CAPTURE(air);
    FillProblem problem = strip(1, -1, air);
    problem.cavity_pressure = air;
    const FillResult result = watched_fill(problem, {.steps = 400});
    CHECK(result.verdict == Verdict::filled);
    CHECK(relative_error(result.fill_time.value_or(0), 1 / speed) <= 2e-2);
  }
}

TEST_CASE("Gravity: at a gate below the pressure of the air nothing begins") {
  const FillResult result = watched_fill(strip(1, -1, -100));
  CHECK(result.verdict == Verdict::short_fill);
  CHECK(result.reason == ShortReason::pressure);
  CHECK(result.injected == 0);
  CHECK(result.end_time == 0);
}

TEST_CASE("Gravity: without pressure resin does not rise") {
  const FillResult result = watched_fill(strip(1, 1, 0));
  CHECK(result.verdict == Verdict::short_fill);
  CHECK(result.reason == ShortReason::pressure);
  CHECK(result.filled_fraction <= 0.01);
}

TEST_CASE("Gravity: a slow feed downhill keeps its volume") {
  FillProblem problem = strip(0.5, -1, 2e4);
  problem.injector = {2e-8, std::nullopt}; // free fall would be K rho g / mu A = 4.3e-8 m3/s
  const FillResult result = watched_fill(problem, {.steps = 30});
  CHECK(result.verdict == Verdict::filled);
  CHECK(relative_error(result.fill_time.value_or(0), 0.5 * 0.1 * 4e-3 * 0.8 / 2e-8) <= 1e-6);
}

TEST_CASE("Gravity: air below a column of resin, or above it, bears the column too") {
  // (p_in -+ rho g x) (L - x) = p_0 L, absolute pressures, up and down; derived here.
  constexpr double ambient = 101325;
  constexpr double length = 4;
  for (const double rise : {-1.0, 1.0}) {
    CAPTURE(rise);
    FillProblem problem = strip(length, rise, 6e4);
    problem.ambient = ambient;
    problem.sealed_air = true;
    const FillResult result = watched_fill(problem);
    CHECK(result.reason == ShortReason::trapped_air);
    double low = 0;
    double high = length;
    for (int halving = 0; halving < 60; ++halving) {
      const double x = 0.5 * (low + high);
      const double resin = ambient + 6e4 - 1100 * g * rise * x;
      (resin * (length - x) > ambient * length ? low : high) = x;
    }
    CHECK(relative_error(result.filled_fraction, low / length) <= 5e-3);
    REQUIRE(result.dry_spots.size() == 1);
    CHECK(relative_error(result.dry_spots[0].air_pressure, 6e4 - 1100 * g * rise * low) <= 1e-2);
  }
}

TEST_CASE("Gravity: gates on one head each have the pressure of their own height") {
  FillProblem problem = strip(1, 1, 5e4);
  const auto right =
      nodes_where(problem.mesh, [](const Vector3& x) { return std::abs(x.x() - 1) < 1e-9; });
  problem.gates.push_back({"right", right, Vector3::Zero(), std::nullopt});
  const FillResult result = watched_fill(problem, {.steps = 100});
  const double half = 0.5 * 1100 * g; // the head is at the mean height of the gates
  CHECK(relative_error(result.gates[0].peak_pressure, 5e4 + half) <= 1e-9);
  CHECK(relative_error(result.gates[1].peak_pressure, 5e4 - half) <= 1e-9);
  for (const NodeId node : problem.gates[0].nodes) {
    CHECK(relative_error(result.pressure[node], 5e4 + half) <= 1e-3);
  }
  for (const NodeId node : right) {
    CHECK(relative_error(result.pressure[node], 5e4 - half) <= 1e-3);
  }
}
