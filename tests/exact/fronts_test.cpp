// A front that is not a circle, fronts that do not depend on the order of injection, and the force
// that opens the mould.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

/// A wall along x = 0, the gate 0.2 m from it at the height of the origin.
FillProblem gate_near_a_wall() {
  ShellMesh mesh =
      plate({.length = 0.9, .width = 1.5, .columns = 72, .rows = 120, .jitter = 0.2, .seed = 17});
  deform(mesh, [](const Vector3& x) { return Vector3(x - Vector3(0, 0.75, 0)); });
  const NodeId gate = move_node_to(mesh, Vector3(0.2, 0, 0));
  return with_flow(problem_on(std::move(mesh), {gate}), 5e-6);
}

/// Along a line of nodes from the wall or the gate outwards: where the fill time passes a time.
double front_along(const FillProblem& problem, const FillResult& result, const Vector3& from,
                   const Vector3& direction, double time) {
  double best = 0;
  double previous_at = 0;
  double previous_time = 0;
  std::vector<std::pair<double, double>> samples; // distance, time
  for (const NodeId node : problem.mesh.positions.ids()) {
    const Vector3 d = problem.mesh.positions[node] - from;
    const double along = d.dot(direction);
    if (along > 0 && (d - along * direction).norm() < 5e-3) {
      samples.emplace_back(along, result.fill_time_field[node]);
    }
  }
  std::ranges::sort(samples);
  for (const auto& [at, t] : samples) {
    if (t > time && previous_time <= time && best == 0) {
      best = previous_at + (at - previous_at) * (time - previous_time) / (t - previous_time);
    }
    previous_at = at;
    previous_time = t;
  }
  return best;
}

/// In the last step the flow crowds into the few cells still open, and the pressure with it.
double force_before_the_last_step(const FillResult& result) {
  REQUIRE(result.history.size() > 1);
  return result.history[result.history.size() - 2].opening_force.value_or(0);
}

double time_at(const FillProblem& problem, const FillResult& result, const Vector3& point) {
  return result.fill_time_field[nearest_node(problem.mesh, point)];
}

} // namespace

TEST_CASE("Gate near a wall: the front is that of two equal gates") {
  // rho^2 = 2 r^2 + 2 a^2 cos 2 theta about the foot on the wall, r^2 = Q t / (pi phi h); the
  // method is Richardson's (1972, J. Fluid Mech. 56:609), the formula derived here.
  const FillProblem problem = gate_near_a_wall();
  const FillResult result = watched_fill(problem, {.time_limit = 320});
  const struct {
    double time, tip, wall;
  } fronts[] = {{100, 0.423641168, 0.139541533},
                {150, 0.478756472, 0.263073676},
                {200, 0.528151189, 0.344882123},
                {300, 0.615154873, 0.467349461}};
  for (const auto& front : fronts) {
    CAPTURE(front.time);
    // On the line through the gate at right angles to the wall, as r^2 at points near it.
    double worst = 0;
    for (const NodeId node : problem.mesh.positions.ids()) {
      const Vector3& x = problem.mesh.positions[node];
      const double square = x.squaredNorm();
      const double r2 = square / 2 - 0.04 * (x.x() * x.x() - x.y() * x.y()) / square;
      const double time = pi * 0.8 * 4e-3 / 5e-6 * r2;
      const double reached = result.fill_time_field[node];
      if (std::abs(time - front.time) < 10 && square > 0.01) {
        worst = std::max(worst, std::abs(reached - time) / front.time);
      }
    }
    CHECK(worst <= 0.05);
    const double wall = front_along(problem, result, Vector3::Zero(), Vector3::UnitY(), front.time);
    CHECK(std::abs(wall - front.wall) <= 0.006); // half a cell
  }
  CHECK(relative_error(time_at(problem, result, {0, 0.3, 0}), 170.902640) <= 0.02);
  CHECK(relative_error(time_at(problem, result, {0.5, 0, 0}), 170.902640) <= 0.03);
}

TEST_CASE("Order of injection: the same volumes by two gates, the same front") {
  // Gustafsson 1985, Nonlinear Anal. TMA 9:203, first page seen: only volumes count.
  ShellMesh mesh =
      plate({.length = 1, .width = 0.6, .columns = 40, .rows = 24, .jitter = 0.2, .seed = 18});
  const NodeId a = nearest_node(mesh, Vector3(0.3, 0.3, 0));
  const NodeId b = nearest_node(mesh, Vector3(0.6, 0.25, 0));
  FillProblem problem = problem_on(std::move(mesh), {a});
  problem.gates.push_back({"G2", {b}, Vector3::Zero(), std::nullopt});
  const auto run = [&](double from_a, double to_a, double from_b, double to_b) {
    FillProblem one = problem;
    one.gates[0].own_injector = Injector{.flow_rate = 4e-4 / (to_a - from_a), .pressure_cap = {}};
    one.gates[1].own_injector = Injector{.flow_rate = 5e-4 / (to_b - from_b), .pressure_cap = {}};
    one.gates[0].opens = from_a > 0 ? Moment{.time = from_a} : Moment{};
    one.gates[1].opens = from_b > 0 ? Moment{.time = from_b} : Moment{};
    one.gates[0].closes = {.time = to_a};
    one.gates[1].closes = {.time = to_b};
    const FillResult result = watched_fill(one);
    CHECK(result.reason == ShortReason::no_path);
    CHECK(relative_error(result.gates[0].injected, 4e-4) <= 1e-8);
    CHECK(relative_error(result.gates[1].injected, 5e-4) <= 1e-8);
    return result.fill_fraction;
  };
  const PerNode<double> first_a = run(0, 100, 100, 200);
  const PerNode<double> first_b = run(100, 200, 0, 100);
  const PerNode<double> together = run(0, 150, 0, 150);
  const PerNode<double> overlapping = run(0, 150, 60, 250);
  double worst = 0;
  for (const NodeId node : first_a.ids()) {
    worst = std::max({worst, std::abs(first_a[node] - first_b[node]),
                      std::abs(first_a[node] - together[node]),
                      std::abs(first_a[node] - overlapping[node])});
  }
  CAPTURE(worst);
  CHECK(worst <= 1e-8);
}

TEST_CASE("Opening force: a disc fed at its centre, 10 034 N when full") {
  // F = pi dp (R^2 - r0^2) / (2 ln(R / r0)), gate disc included. Derived here.
  ShellMesh mesh = annulus(0.01, 0.5, 60, 24, pi / 6);
  const auto rim =
      nodes_where(mesh, [](const Vector3& x) { return std::abs(x.norm() - 0.01) < 1e-9; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), rim));
  problem.mould = Mould{Vector3::UnitZ(), 0};
  const CheckedFill result = checked_fill(problem, {.steps = 200});
  const double gate_disc = pi * 1e-4 * 1e5;
  REQUIRE(result.mould_load);
  CHECK(relative_error(12 * force_before_the_last_step(result) + gate_disc, 10034.2458) <= 1e-2);
}

TEST_CASE("Opening force: a disc fed round its rim, 55 116 N with the front at 0.1 m") {
  // F = pi dp (R0^2 - (R0^2 - r^2) / (2 ln(R0 / r))). Derived here.
  ShellMesh mesh = annulus(0.01, 0.5, 60, 24, pi / 6);
  const auto rim =
      nodes_where(mesh, [](const Vector3& x) { return std::abs(x.norm() - 0.5) < 1e-9; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), rim));
  problem.mould = Mould{Vector3::UnitZ(), 0};
  const CheckedFill result = checked_fill(problem, {.steps = 400});
  const double share = (0.25 - 0.01) / (0.25 - 1e-4);
  double force = 0;
  double filled = 0;
  for (const HistoryRow& row : result.history) { // mean over the step: at its middle
    if (row.filled_fraction > share && force == 0) {
      const double part = (share - filled) / (row.filled_fraction - filled);
      force = row.opening_force.value_or(0);
      CHECK(part >= 0);
    }
    filled = row.filled_fraction;
  }
  CHECK(relative_error(12 * force, 55116.0411) <= 1e-2);
}

TEST_CASE("Opening force: a full strip, F = dp w L / 2") {
  ShellMesh mesh = plate({.length = 1, .width = 0.3, .columns = 100, .rows = 6});
  const auto left = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), left));
  problem.mould = Mould{Vector3::UnitZ(), 0};
  const CheckedFill result = checked_fill(problem, {.steps = 400});
  REQUIRE(result.mould_load);
  CHECK(relative_error(force_before_the_last_step(result), 15000) <= 1e-2);
}
