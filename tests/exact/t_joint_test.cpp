// Three strips that meet in an edge.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <optional>

using namespace tidemark;
using namespace tidemark::test;

namespace {

FillProblem joint_problem() {
  ShellMesh mesh = t_joint(0.5, 0.1, 50, 10);
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.x() < -0.5 + 1e-9; });
  return problem_on(std::move(mesh), gate);
}

} // namespace

TEST_CASE("A T-joint at constant pressure: two strips in parallel behind one in series") {
  // By hand. The first strip takes L^2 / (2 D), D = 1.25e-3 m2/s: 100 s. Then each branch carries
  // q with dp = (mu / (K h W)) (2 q L + q x), so dx/dt = D / (2 L + x) and the branches take
  // (2 L^2 + L^2 / 2) / D = 500 s.
  const FillProblem problem = with_pressure(joint_problem());
  const CheckedFill result = checked_fill(problem);
  CHECK(relative_error(result.fill_time.value_or(0), 600.0) <= 1e-3);
  const Scatter scatter =
      scatter_of(problem.mesh, [&](NodeId node, const Vector3& at) -> std::optional<double> {
        const double dt = 1.25e-3 * result.fill_time_field[node]; // D t
        const double x = 2 * at.x(); // in the branches, which stand at 60 degrees
        if (at.x() <= 1e-9) {
          return (std::sqrt(2 * dt) - (at.x() + 0.5)) / 0.01;
        }
        return x < 0.5 - 1e-9 ? std::optional((std::sqrt(1 + 2 * (dt - 0.125)) - 1 - x) / 0.01)
                              : std::nullopt;
      });
  CHECK(scatter.rms <= 0.2); // cells
  CHECK(scatter.worst <= 0.5);
  REQUIRE(result.last_filled.size() >= 1);
  CHECK(problem.mesh.positions[result.last_filled[0].node].x() == doctest::Approx(0.25));
}

TEST_CASE("A T-joint at constant flow: the pressure at the end is that of the resistances") {
  // Q = 2e-7 m3/s, A = 0.1 m x 4 mm: full after 3 phi A L / Q = 2400 s; pressure
  // mu Q / (K A) (L + L / 2) = 37500 Pa.
  const CheckedFill result = checked_fill(with_flow(joint_problem(), 2e-7));
  CHECK(relative_error(result.fill_time.value_or(0), 2400.0) <= 1e-9);
  double worst = 0; // in the branches it rises from 25000 Pa at 800 s
  for (const HistoryRow& row : result.history) {
    if (row.time > 850) {
      const double pressure = 25000 + 12500 * (row.time - 800) / 1600;
      worst = std::max(worst, std::abs(row.head_pressure - pressure) / 37500);
    }
  }
  CHECK(worst <= 0.01);
  CHECK(relative_error(result.peak_head_pressure, 37500.0) <= 5e-3);
}
