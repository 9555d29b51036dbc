// What the pump is told to stand at while the flow crowds into the last cells.
#include "solver/resistance_curve.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// A square of 0.5 m with a tight rim of 10 mm, filled from its middle: the front closes in the
/// four corners at once.
FillProblem square_with_rim() {
  FillProblem problem =
      problem_on(plate({.length = 0.5, .width = 0.5, .columns = 50, .rows = 50}), {});
  set_regions(problem,
              {{"plate", 0.004, 0.6, 1e-9, 1e-9, Vector3::Zero(), 0},
               {"rim", 0.004, 0.5, 1e-10, 1e-10, Vector3::Zero(), 0}},
              [](const Vector3& x) {
                return std::max(std::abs(x.x() - 0.25), std::abs(x.y() - 0.25)) < 0.24 ? 0 : 1;
              });
  Gate& gate = problem.gates.front();
  gate.centre = Vector3(0.25, 0.25, 0);
  gate.radius = 0.01;
  gate.nodes = nodes_where(problem.mesh,
                           [&](const Vector3& x) { return (x - gate.centre).norm() <= 0.0101; });
  return problem;
}

} // namespace

TEST_CASE("Last cells: a cap that only they would ask for is not met, however high it is") {
  const FillProblem square = square_with_rim();
  const FillResult free = fill(with_flow_and_cap(square, 5e-6, 1e8));
  REQUIRE(free.verdict == Verdict::filled);
  for (const double cap : {1.1 * free.peak_head_pressure, 3 * free.peak_head_pressure}) {
    CAPTURE(cap);
    const FillResult result = fill(with_flow_and_cap(square, 5e-6, cap));
    CHECK(relative_error(result.peak_head_pressure, free.peak_head_pressure) <= 1e-6);
    CHECK(relative_error(result.history.back().head_pressure, free.peak_head_pressure) <= 1e-6);
    CHECK(relative_error(result.pressure[square.gates[0].nodes[0]], free.peak_head_pressure) <=
          1e-6);
    CHECK(!result.time_cap_reached);
    CHECK(result.time_at_cap == 0);
    CHECK(relative_error(*result.fill_time, *free.fill_time) <= 0.01);
  }
}

TEST_CASE("Last cells: a cap that is met before them is told") {
  const FillProblem square = square_with_rim();
  const FillResult free = fill(with_flow_and_cap(square, 5e-6, 1e8));
  const double cap = 0.7 * free.peak_head_pressure;
  const FillResult result = fill(with_flow_and_cap(square, 5e-6, cap));
  CHECK(result.peak_head_pressure == cap);
  REQUIRE(result.time_cap_reached);
  CHECK(*result.time_cap_reached < 0.99 * *result.fill_time);
  CHECK(result.time_at_cap > 0);
}

TEST_CASE("Last cells: the curve of a part tells the same of them") {
  const FillProblem square = square_with_rim();
  const CurveAttempt attempt = resistance_curve(square, {});
  REQUIRE(attempt.curve);
  const double free = fill(with_flow_and_cap(square, 5e-6, 1e8)).peak_head_pressure;
  for (const double cap : {1.1 * free, 3 * free, 1e8}) {
    CAPTURE(cap);
    const FillFigures figures = fill_by_curve(*attempt.curve, square.resin, {5e-6, cap});
    CHECK(figures.peak_head_pressure < 1.09 * free);
    CHECK(relative_error(figures.peak_head_pressure, free) <= 0.08); // read off other steps
    CHECK(!figures.time_cap_reached);
  }
}
