// What a vent leaves dry when it closes is shut in at once, however long the steps are.
#include "solver/filling.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

TEST_CASE("vent: a tenth of a strip behind its vent keeps its air, in steps of any length") {
  ShellMesh mesh = plate({.length = 1, .width = 0.05, .columns = 200, .rows = 10});
  const auto near = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; });
  const auto vent =
      nodes_where(mesh, [](const Vector3& x) { return std::abs(x.x() - 0.9) < 1e-9; });
  REQUIRE(vent.size() == 11);
  FillProblem problem = with_pressure(problem_on(std::move(mesh), near), 1e5);
  problem.vents = {{"V1", vent, 0}};
  problem.cavity_pressure = 0;
  problem.ambient = 101325;
  problem.sealed_air = true;
  for (const int steps : {10, 50, 200}) {
    CAPTURE(steps);
    const FillResult result = fill(problem, {.steps = steps});
    CHECK(result.verdict == Verdict::short_fill);
    CHECK(result.reason == ShortReason::trapped_air);
    // Boyle: 0 bar to 1 bar gauge. Half a cell of 5 mm lies behind the middle of the vent's nodes.
    const double left = 0.1 * 101325 / 201325;
    CHECK(1 - result.filled_fraction == doctest::Approx(left).epsilon(0.03));
  }
}
