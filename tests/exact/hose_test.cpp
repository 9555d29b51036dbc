// A hose before the gate: Poiseuille's resistance R = 128 l / (pi d^4) in series with the part.
//
// 1-D: t = phi mu / (K dp) (x^2 / 2 + x_e x), x_e = R K A. Radial, E = 2 pi K h R: a time
// phi mu E (R2^2 - r0^2) / (2 K dp) on top of that without a hose. Derived here.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/strip.hpp"

#include "solver/channel_law.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

const std::vector<Hose> two_metres{{.length = 2, .bore = 8e-3}};

FillProblem strip_with_hose(std::vector<Hose> line) {
  FillProblem problem = strip();
  problem.injector.line = std::move(line);
  return problem;
}

/// A twelfth of an annulus, so a twelfth of the flow: the hose resists twelve times as much.
FillProblem sector_with_hose(double gate_radius) {
  ShellMesh mesh = annulus(0.01, 0.5, 120, 16, pi / 6);
  const auto rim =
      nodes_where(mesh, [=](const Vector3& x) { return std::abs(x.norm() - gate_radius) < 1e-9; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), rim));
  problem.injector.line = {{.length = 12 * 2, .bore = 8e-3}};
  return problem;
}

} // namespace

TEST_CASE("Hose: resistance of 2 m of 8 mm, and of two lengths one after the other") {
  CHECK(relative_error(hose_resistance(two_metres), 1.98943679e10) <= 1e-8);
  CHECK(relative_error(hose_resistance(two_metres) * 2e-9 * 0.3 * 4e-3, 0.0477464829) <= 1e-8);
  const std::vector<Hose> halves{{.length = 0.5, .bore = 8e-3}, {.length = 1.5, .bore = 8e-3}};
  CHECK(relative_error(hose_resistance(halves), 1.98943679e10) <= 1e-8);
}

TEST_CASE("Hose: a strip fills in 438.2 s instead of 400 s") {
  const CheckedFill result = checked_fill(strip_with_hose(two_metres));
  CHECK(relative_error(result.fill_time.value_or(0), 438.197186) <= 5e-3);
  for (const HistoryRow& row : result.history) {
    const double loss = row.head_pressure - row.gates[0].pressure;
    CHECK(relative_error(loss, 0.2 * 1.98943679e10 * row.flow_rate) <= 1e-6);
  }
}

TEST_CASE("Hose: diverging from 0.01 m to 0.5 m takes 441.2 s") {
  const CheckedFill result = checked_fill(sector_with_hose(0.01));
  CHECK(relative_error(result.fill_time.value_or(0), 441.1823) <= 5e-3);
}

TEST_CASE("Hose: converging from 0.5 m to 0.01 m takes 149.8 s") {
  const CheckedFill result = checked_fill(sector_with_hose(0.5));
  CHECK(relative_error(result.fill_time.value_or(0), 149.783519) <= 5e-3);
}

TEST_CASE("Hose: at 2e-6 m3/s it takes 7958 Pa") {
  FillProblem problem = strip_with_hose(two_metres);
  problem.injector.flow_rate = 2e-6;
  problem.injector.pressure_cap = std::nullopt;
  const CheckedFill result = checked_fill(problem);
  CHECK(relative_error(result.fill_time.value_or(0), 480) <= 1e-8);
  for (const HistoryRow& row : result.history) {
    CHECK(relative_error(row.head_pressure - row.gates[0].pressure, 7957.74715) <= 1e-6);
  }
}
