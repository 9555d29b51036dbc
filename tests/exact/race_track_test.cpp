// A plate with a race track along one edge, against the exact total fill time.
//
// Plate L x W, gate along its whole edge x = 0, channel of width b along y = 0. With constant
// viscosity the fill time is mu max(w) / dp where the flow of w spreads each pore volume to the
// gate. Separation of variables, w = 0 at x = 0, no flow through the other edges, and along the
// channel K_c b w_xx + K w_y = -phi_c b, lam_n = (n + 1/2) pi / L, c_n = 2 / (L lam_n):
//     w = (phi / K) (L x - x^2 / 2) + sum B_n cosh(lam_n (W - y)) sin(lam_n x),
//     B_n = c_n b (phi_c - K_c phi / K) /
//           (K_c b lam_n^2 cosh(lam_n W) + K lam_n sinh(lam_n W));
// the last point is (L, W). Derived here; summed outside this program.
#include "solver/channel.hpp"
#include "solver/channel_law.hpp"
#include "solver/filling.hpp"
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <optional>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// L = 1 m, W = 0.3 m, common data of the closed forms, 1e5 Pa.
FillProblem plate_fed_from_the_left() {
  ShellMesh mesh =
      plate({.length = 1, .width = 0.3, .columns = 100, .rows = 30, .jitter = 0.2, .seed = 20});
  const auto left = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; });
  return with_pressure(problem_on(std::move(mesh), left));
}

std::vector<std::array<NodeId, 2>> lower_edge(const FillProblem& problem) {
  std::vector<std::array<NodeId, 2>> edge;
  for (const auto& [a, b] : free_edges(problem.mesh)) {
    if (problem.mesh.positions[a].y() == 0 && problem.mesh.positions[b].y() == 0) {
      edge.push_back({a, b});
    }
  }
  REQUIRE(edge.size() == 100);
  return edge;
}

FillProblem plate_with_race(double gap, std::optional<double> permeability) {
  FillProblem problem = plate_fed_from_the_left();
  problem.channels = {race_track("edge", problem, lower_edge(problem), gap, permeability)};
  return problem;
}

void check_time(const FillResult& result, double expected, double gap) {
  REQUIRE(result.fill_time);
  CAPTURE(*result.fill_time);
  CHECK(relative_error(*result.fill_time, expected) <= 5e-3);
  // phi h L W and the channel, b h L
  CHECK(relative_error(result.pore_volume, 0.8 * 4e-3 * 0.3 + gap * 4e-3) <= 1e-12);
}

void check_last_place(const FillProblem& problem, const FillResult& result) {
  REQUIRE(!result.last_filled.empty());
  CHECK((problem.mesh.positions[result.last_filled[0].node] - Vector3(1, 0.3, 0)).norm() <= 0.02);
}

void check_race(double gap, std::optional<double> permeability, double expected) {
  const FillProblem problem = plate_with_race(gap, permeability);
  const CheckedFill result = checked_fill(problem);
  check_time(result, expected, gap);
  check_last_place(problem, result);
}

/// A runner of rectangular cross-section there: in the formulas a channel of b h = width x depth.
void check_runner(double width, double depth, double expected) {
  CAPTURE(width);
  FillProblem problem = plate_fed_from_the_left();
  problem.channels = {
      runner("edge", lower_edge(problem), width * depth, rectangle_permeability(width, depth))};
  const CheckedFill result = checked_fill(problem);
  check_time(result, expected, width * depth / 4e-3);
  check_last_place(problem, result);
}

} // namespace

TEST_CASE("Race track: a gap that hardly helps fills the plate in 351.9 s") {
  check_race(5e-3, 2e-8, 351.928039);
}

TEST_CASE("Race track: a leading gap fills the plate in 169.7 s") {
  check_race(5e-3, 2e-7, 169.721909);
}

TEST_CASE("Race track: an open slot of 4 mm fills the plate in 70.98 s") {
  check_race(4e-3, std::nullopt, 70.9803640);
}

TEST_CASE("Race track: nearly a second gate fills the plate in 35.65 s") {
  // The limit, two edges as gate: 35.6045792 s. The channel conducts 2e5 times what the plate's
  // links do, as no real gap would: rounding then shows in fill fractions at 5e-9, more than
  // checked_fill lets pass.
  const FillProblem problem = plate_with_race(5e-3, 1e-3);
  const FillResult result = fill(problem);
  check_time(result, 35.6464631, 5e-3);
  check_last_place(problem, result);
  CHECK(std::abs(result.mass_balance_error) <= 1e-8);
  CHECK(result.work.largest_residual <= 1e-8);
}

TEST_CASE("Race track: none, 400 s") {
  const CheckedFill result = checked_fill(plate_fed_from_the_left());
  REQUIRE(result.fill_time);
  CHECK(relative_error(*result.fill_time, 400.0) <= 5e-3);
}

TEST_CASE("Race track: that leads no better than the fibres for its volume changes nothing") {
  // A channel of K_c = K phi_c / phi adds conductance and volume in proportion: B_n = 0, 400 s.
  // All of the far edge is last.
  const FillProblem problem = plate_with_race(5e-3, 2e-9 / 0.8);
  check_time(checked_fill(problem), 400.0, 5e-3);
}

TEST_CASE("Race track: runners of rectangular section, by the exact conductance of a duct") {
  // K_c of 1 x 4, 4 x 4, 4 x 8 and 6 x 12 mm: 7.02032396e-8, 5.62308060e-7, 9.14726709e-7 and
  // 2.05813509e-6 m2 by the textbook series, from it the times by the series above.
  check_runner(1e-3, 4e-3, 361.058313);
  check_runner(4e-3, 4e-3, 109.795671);
  check_runner(8e-3, 4e-3, 62.5330383);
  check_runner(6e-3, 12e-3, 41.4886108);
}
