// Small conversions that programs get wrong: what drives the resin, and what an open vent lets out.
// Darcy's law by hand; K = 2e-9 m2, mu = 0.2 Pa s, phi = 0.8, h = 4 mm. Fibre volume fractions are
// in layup_test.cpp.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <limits>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;

namespace {

ShellMesh strip() {
  return plate({.length = 1, .width = 0.3, .columns = 60, .rows = 18, .jitter = 0.25, .seed = 1});
}

/// Two strips 1 m x 0.3 m that do not touch; the second lies at y >= 1.
ShellMesh two_strips() {
  ShellMesh other = strip();
  deform(other, [](const Vector3& x) { return Vector3(x + Vector3(0, 1, 0)); });
  return welded({strip(), other});
}

} // namespace

TEST_CASE("Gauge pressures: the drive is the difference, whatever the atmosphere") {
  // 0.5 bar above, 0.8 bar below: 1.3 bar; t = phi mu L^2 / (2 K dp) = 307.692308 s.
  for (const double ambient : {101325.0, 85000.0}) {
    FillProblem problem = with_pressure(
        problem_on(strip(), nodes_where(strip(), [](const Vector3& x) { return x.x() == 0; })),
        0.5e5);
    problem.cavity_pressure = -0.8e5;
    problem.ambient = ambient;
    const CheckedFill result = checked_fill(problem);
    REQUIRE(result.fill_time);
    CHECK(relative_error(*result.fill_time, 307.692308) <= 1e-3);
  }
}

TEST_CASE("An open vent goes on letting resin out: K A dp / (mu L) = 1.2e-6 m3/s") {
  // The first strip is full after 400 s; a pump of its own takes phi A L / Q = 1200 s for the
  // second.
  ShellMesh mesh = two_strips();
  const auto at = [&](double x, bool second) {
    return nodes_where(mesh,
                       [=](const Vector3& p) { return p.x() == x && (p.y() > 0.9) == second; });
  };
  const std::vector<NodeId> start = at(0, false);
  const std::vector<NodeId> end = at(1, false);
  const std::vector<NodeId> other_start = at(0, true);
  FillProblem problem = with_pressure(problem_on(std::move(mesh), start));
  problem.gates.push_back({.name = "other",
                           .nodes = other_start,
                           .centre = Vector3::Zero(),
                           .radius = {},
                           .own_injector = Injector{{}, 1e5 / 3}});
  problem.vents.push_back({.name = "end",
                           .nodes = end,
                           .pressure = 0,
                           .bleed = std::numeric_limits<double>::infinity()});
  const FillResult result = watched_fill(problem);
  REQUIRE(result.fill_time);
  CHECK(relative_error(*result.fill_time, 1200) <= 1e-3);
  CHECK(relative_error(result.vents[0].bled, 1.2e-6 * (1200 - 400)) <= 0.01);
}
