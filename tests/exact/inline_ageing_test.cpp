// Resin mixed in the head, so that every parcel ages from its own mixing on. Closed forms derived
// from mu = mu0 exp(age / tau) carried with the front's motion (no published source found), checked
// by following parcels numerically. Common data as for the batch: D = 1.25e-3 m2/s at 1e5 Pa.
#include "solver/flow_network.hpp"
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

using namespace tidemark;
using namespace tidemark::test;

namespace {

FillProblem inline_strip(double tau, int cells = 100, double length = 1) {
  FillProblem problem = strip({.to = length, .cells = cells});
  problem.resin.mixing = Mixing::inline_head;
  problem.resin.thickening = ExponentialThickening{tau};
  return problem;
}

FillProblem at_flow(FillProblem problem) {
  problem.injector.pressure_cap.reset();
  problem.injector.flow_rate = 2e-6;
  return problem;
}

double time_with(int cells, int steps) {
  return checked_fill(inline_strip(600, cells), {.steps = steps}).fill_time.value_or(0);
}

} // namespace

TEST_CASE("Mixed inline at constant pressure: 1 m in 543.518474 s") {
  // x(t) = sqrt(D tau) arccos(exp(-t / tau)), tau = 600 s.
  CHECK(relative_error(time_with(100, 100), 543.518474) <= 2e-3);
  CHECK(relative_error(time_with(400, 400), 543.518474) <= 5e-4);
}

TEST_CASE("Mixed inline at constant pressure: the limit is pi / 2 sqrt(D tau)") {
  // tau = 300 s: 0.961912373 m, pi / (2 sqrt 2) = 1.11072073 times that of a batch.
  const CheckedFill result = checked_fill(inline_strip(300, 400), {.steps = 400});
  CHECK(result.reason == ShortReason::gel);
  CHECK(relative_error(result.resin_in_part / (0.8 * 0.3 * 0.004), 0.961912373) <= 0.005);
}

TEST_CASE("Mixed inline at constant flow: age and pressure of a plug") {
  // Age at x is phi A x / Q; p = mu0 Q^2 tau / (phi K A^2) (exp(phi A x / (Q tau)) - 1):
  // 411,774.211 Pa at 1 m, where a batch would be at 825,505.404 and uncured resin at 166,666.667.
  const FillProblem problem = at_flow(inline_strip(300, 400));
  const CheckedFill result = checked_fill(problem, {.steps = 400});
  REQUIRE(result.fill_time);
  CHECK(relative_error(*result.fill_time, 480.0) <= 1e-9);
  CHECK(relative_error(result.history.back().head_pressure, 411774.211) <= 0.01);
  REQUIRE(result.age);
  CHECK(result.age->oldest == doctest::Approx(480).epsilon(1e-6)); // at the front
  for (const double x : {0.1, 0.3, 0.5, 0.7}) {
    for (const NodeId node : across(problem.mesh, x)) {
      CHECK(relative_error(result.resin_age[node], 480 * x) <= 0.015);
      CHECK(relative_error(result.viscosity[node], 0.2 * std::exp(result.resin_age[node] / 300)) <=
            1e-12);
    }
  }
}

TEST_CASE("The age of a plug is exact to first order in time and mesh") {
  // Mean error of the age over the strip, with cells and steps halved together.
  std::array<double, 3> errors{};
  int cells = 40;
  for (double& error : errors) {
    const FillProblem problem = at_flow(inline_strip(1e6, cells));
    const CheckedFill result = checked_fill(problem, {.steps = cells});
    double sum = 0;
    for (int k = 0; k < 20; ++k) {
      const double x = 0.05 * k;
      for (const NodeId node : across(problem.mesh, x)) {
        sum += std::abs(result.resin_age[node] - 480 * x) / 480 / 20 /
               static_cast<double>(across(problem.mesh, x).size());
      }
    }
    error = sum;
    cells *= 2;
  }
  CHECK(std::log2(errors[0] / errors[1]) > 0.7);
  CHECK(std::log2(errors[1] / errors[2]) > 0.7);
  CHECK(errors[2] < 0.01);
}

TEST_CASE("The viscosity is of first order in the time step at least") {
  // On one mesh, so that only the steps differ: half the step, at most half the difference to the
  // next.
  const double a = time_with(200, 50);
  const double b = time_with(200, 100);
  const double c = time_with(200, 200);
  const double d = time_with(200, 400);
  CHECK((b - a) / (c - b) > 1.8);
  CHECK((c - b) / (d - c) > 1.8);
  CHECK((b - a) / (c - b) < 4.5);
  CHECK((c - b) / (d - c) < 4.5);
}

TEST_CASE("Mixed inline or as a batch is the same where age does not matter") {
  FillProblem problem = strip();
  problem.injector.flow_rate = 2e-6;
  problem.resin.gel_time = 5000;
  const CheckedFill batch = checked_fill(problem);
  problem.resin.mixing = Mixing::inline_head;
  const CheckedFill carried = checked_fill(problem);
  REQUIRE(batch.history.size() == carried.history.size());
  for (std::size_t row = 0; row < batch.history.size(); ++row) {
    CHECK(carried.history[row].time == doctest::Approx(batch.history[row].time).epsilon(1e-9));
    CHECK(carried.history[row].head_pressure ==
          doctest::Approx(batch.history[row].head_pressure).epsilon(1e-6));
  }
  CHECK(relative_error(*carried.fill_time, *batch.fill_time) <= 1e-9);
}

TEST_CASE("The content of age grows by what was there and falls by what leaves") {
  // d/dt of the integral of age over the resin = its volume, less what leaves with its age. Resin
  // that comes in during a step is fresh at its end, so each step adds duration x volume before it.
  FillProblem problem = at_flow(inline_strip(600));
  const CheckedFill result = checked_fill(problem, {.age_parts = 1});
  double content = 0; // [m3 s]
  double time = 0;
  double fraction = 0;
  for (const HistoryRow& row : result.history) {
    content += (row.time - time) * fraction * result.pore_volume;
    time = row.time;
    fraction = row.filled_fraction;
  }
  REQUIRE(result.age);
  CHECK(relative_error(result.age->mean * result.resin_in_part, content) <= 1e-8);
}

TEST_CASE("What bleeds out takes its age along") {
  // As above, with a vent half-way that lets 0.1 L out before it closes: that leaves with the age
  // of the resin there, at the end of each step.
  FillProblem problem = at_flow(inline_strip(1e5));
  Vent& vent = add_vent(problem, 0.5);
  vent.bleed = 1e-4;
  vent.nodes.resize(1);
  const NodeId end = vent.nodes.front();
  const PerNode<double> cells = flow_network(problem).pore_volume;
  double content = 0;
  double time = 0;
  double volume = 0;
  double bled = 0;
  double worst = 0;
  const FillResult result = fill(problem, {.age_parts = 1}, [&](const StepReport& report) {
    content += (report.row.time - time) * volume;
    const double out = report.row.vent_bleed.front() - bled;
    content -= out > 0 ? out * report.resin_age[end] : 0;
    time = report.row.time;
    bled = report.row.vent_bleed.front();
    volume = 0;
    double held = 0;
    for (const NodeId node : problem.mesh.positions.ids()) {
      const double cell = cells[node];
      volume += cell * report.fill_fraction[node];
      held += report.fill_fraction[node] > 0
                  ? cell * report.fill_fraction[node] * report.resin_age[node]
                  : 0;
    }
    worst = std::max(worst, std::abs(held - content) / (volume * time));
    return true;
  });
  CHECK(relative_error(result.bled, 1e-4) <= 1e-4);
  CHECK(result.verdict == Verdict::filled);
  CHECK(worst <= 1e-8);
}

TEST_CASE("Resin ages in the hose") {
  // Bore 20 mm, 1 m: 3.14159e-4 m3, which takes 157.08 s at 2e-6 m3/s. What was in it at the start
  // counts as fresh then: at the front it is as old as the filling. What came through the hose
  // since is 157.08 s older at x than without.
  FillProblem problem = at_flow(inline_strip(1e6, 200));
  problem.injector.line = {{1, 0.02}};
  const CheckedFill result = checked_fill(problem, {.steps = 200});
  REQUIRE(result.age);
  CHECK(result.age->oldest == doctest::Approx(480).epsilon(1e-6));
  for (const double x : {0.1, 0.2, 0.3, 0.4, 0.5}) {
    const double age = result.resin_age[across(problem.mesh, x).front()];
    CHECK(std::abs(age - (157.08 + 480 * x)) <= 0.02 * 480);
  }
  // Beyond 322.92 s x v = 0.6728 m all is of the same age, 480 s.
  CHECK(std::abs(result.resin_age[across(problem.mesh, 0.9).front()] - 480) <= 0.02 * 480);
}

TEST_CASE("Mixed inline, the front gels when the first resin does") {
  FillProblem problem = strip();
  problem.resin.mixing = Mixing::inline_head;
  problem.resin.gel_time = 256; // x = sqrt(2 D t) = 0.8 m
  const CheckedFill result = checked_fill(problem);
  CHECK(result.reason == ShortReason::gel);
  CHECK(result.end_time == doctest::Approx(256).epsilon(1e-6));
  CHECK(relative_error(result.resin_in_part / (0.8 * 0.3 * 0.004), 0.8) <= 2e-3);
  REQUIRE(result.age);
  REQUIRE(result.age->first_gel);
  CHECK(result.age->first_gel->time == doctest::Approx(256).epsilon(1e-9));
  const double x = problem.mesh.positions[result.age->first_gel->node].x();
  CHECK(std::abs(x - 0.8) <= 0.02);
}

TEST_CASE("Gel stops the flow where it happens: a later gate fills what the first left") {
  // Both ends are fed, the far one from 300 s on; what came first gels at 256 s.
  FillProblem problem = strip();
  problem.resin.mixing = Mixing::inline_head;
  problem.resin.gel_time = 256;
  add_gate(problem, 1).opens = {.time = 300.0};
  const CheckedFill result = checked_fill(problem);
  REQUIRE(result.fill_time);
  // 0.2 m at D: t = x^2 / (2 D) = 16 s after 300 s.
  CHECK(relative_error(*result.fill_time, 316.0) <= 3e-3);
}

TEST_CASE("Mixed inline: the flow is there until the front gels, however the steps fall") {
  // x = sqrt(2 D t) at a constant pressure, so that the flow in the last step, which ends at the
  // gel after 300 s, is that of its middle: sqrt(t / 300 s) times that at the gel.
  FillProblem problem = inline_strip(1e6, 50);
  problem.resin.thickening = std::monostate{};
  problem.resin.gel_time = 300;
  problem.mould = Mould{Vector3::UnitZ(), 0};
  double least = std::numeric_limits<double>::infinity();
  double most = 0;
  for (int steps = 20; steps <= 200; steps += 15) {
    CAPTURE(steps);
    const CheckedFill result = checked_fill(problem, {.steps = steps});
    CHECK(result.reason == ShortReason::gel);
    CHECK(relative_error(result.end_time, 300) <= 1e-9);
    const auto& rows = result.history;
    CHECK(rows.back().flow_rate > 0.9 * rows[rows.size() - 2].flow_rate);
    least = std::min(least, result.mould_load->peak_force);
    most = std::max(most, result.mould_load->peak_force);
  }
  CHECK(most <= 1.05 * least);
}
