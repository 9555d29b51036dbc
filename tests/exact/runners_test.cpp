// Runner channels that feed a part or drain it.
#include "solver/channel.hpp"
#include "solver/channel_law.hpp"
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <array>
#include <limits>
#include <utility>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;

namespace {

bool is_on_rim(const Vector3& x) {
  return x.x() == 0 || x.x() == 1 || x.y() == 0 || x.y() == 1;
}

bool is_corner(const Vector3& x) {
  return (x.x() == 0 || x.x() == 1) && (x.y() == 0 || x.y() == 1);
}

ShellMesh square() {
  return plate({.length = 1, .width = 1, .columns = 40, .rows = 40});
}

/// Fill time of a square of 1 m with a runner of 1 mm2 round its rim, fed at its corners. The
/// runner's K A is given, so that the limit of a free channel can be gone to.
double time_with_rim_runner(double conductance) {
  ShellMesh mesh = square();
  auto corners = nodes_where(mesh, is_corner);
  FillProblem problem = with_pressure(problem_on(std::move(mesh), std::move(corners)));
  problem.channels = {runner("rim", free_edges(problem.mesh), 1e-6, conductance / 1e-6)};
  const FillResult result = watched_fill(problem);
  REQUIRE(result.fill_time);
  REQUIRE(!result.last_filled.empty());
  const Vector3 centre(0.5, 0.5, 0);
  CHECK((problem.mesh.positions[result.last_filled[0].node] - centre).norm() <= 0.03);
  CHECK(relative_error(result.injected, 3.2e-3 + 4e-6) <= 1e-9);
  return *result.fill_time;
}

/// A strip 0.7 m long fed from the left, with a bleeding vent at one end of the line x = 0.5 m.
FillProblem strip_with_drain() {
  ShellMesh mesh = plate({.length = 0.7, .width = 0.3, .columns = 70, .rows = 15});
  auto left = across(mesh, 0);
  FillProblem problem = with_pressure(problem_on(std::move(mesh), std::move(left)));
  const NodeId end = nearest_node(problem.mesh, Vector3(0.5, 0, 0));
  problem.vents = {{"V1", {end}, 0, std::numeric_limits<double>::infinity()}};
  return problem;
}

std::vector<std::array<NodeId, 2>> line_across(const FillProblem& problem, double x) {
  const std::vector<NodeId> ends{nearest_node(problem.mesh, Vector3(x, 0, 0)),
                                 nearest_node(problem.mesh, Vector3(x, 0.3, 0))};
  return edge_path(problem.mesh, ends);
}

/// Flow through the drain once the front is past it [m3/s].
double drained(const FillProblem& problem, double time) {
  const FillResult result = watched_fill(problem, {.time_limit = time});
  return result.history.back().flow_rate;
}

} // namespace

TEST_CASE("Runner: round the rim it is a peripheral gate, 58.937 s") {
  // 0.0736713532815 a^2 phi mu / (K dp), the largest value of the torsion function of a square;
  // checked by a sum outside this program. What the runner itself resists goes as 1 / (K A).
  const double weaker = time_with_rim_runner(1e-9);
  const double strong = time_with_rim_runner(1e-8);
  CHECK(relative_error(strong, 58.9370826) <= 1e-3);
  ShellMesh mesh = square();
  auto rim = nodes_where(mesh, is_on_rim);
  const FillResult gate = watched_fill(with_pressure(problem_on(std::move(mesh), std::move(rim))));
  const double limit = gate.fill_time.value_or(0);
  CHECK(relative_error(limit, 58.9370826) <= 1e-3);
  CHECK(relative_error((weaker - limit) / (strong - limit), 10) <= 0.1);
}

TEST_CASE("Runner: its volume is filled as well") {
  // 6 mm x 8 mm along 1 m: 4.8e-5 m3 on top of 9.6e-4 m3, at 2e-6 m3/s.
  FillProblem problem = with_flow(strip(), 2e-6);
  const std::vector<NodeId> ends{nearest_node(problem.mesh, Vector3(0, 0, 0)),
                                 nearest_node(problem.mesh, Vector3(1, 0, 0))};
  problem.channels = {
      runner("main", edge_path(problem.mesh, ends), 4.8e-5, rectangle_permeability(6e-3, 8e-3))};
  const FillResult result = watched_fill(problem);
  CHECK(relative_error(result.fill_time.value_or(0), 504) <= 1e-8);
  CHECK(relative_error(result.injected, 1.008e-3) <= 1e-9);
  CHECK(relative_error(channel_size(problem.mesh, problem.channels[0]).length, 1) <= 1e-12);
}

TEST_CASE("Runner: as a vent channel it drains a whole line of the part to one vent") {
  // K A dp / (mu L) = 2.4e-6 m3/s with L = 0.5 m, were the channel free. One of 20 mm x 20 mm has
  // K A = 0.0351442537 a^4 = 5.62e-9 m4. It collects q = 2.4e-6 / 0.3 m2/s along W = 0.3 m and
  // loses mu q W^2 / (3 K A) = 8.5 Pa in the mean, of 1e5 Pa.
  FillProblem problem = strip_with_drain();
  const double without = drained(problem, 220);
  problem.channels = {
      runner("drain", line_across(problem, 0.5), 4e-4, rectangle_permeability(20e-3, 20e-3))};
  const double with = drained(problem, 5000);
  CHECK(relative_error(with, 2.4e-6 * (1 - 8.5e-5)) <= 2e-5);
  CHECK(without < 0.8 * 2.4e-6);
  // A narrow one resists: 8 mm x 8 mm, K A = 1.439e-10 m4, 333 Pa in the mean.
  problem.channels = {
      runner("drain", line_across(problem, 0.5), 64e-6, rectangle_permeability(8e-3, 8e-3))};
  CHECK(relative_error(drained(problem, 2000), 2.4e-6 * (1 - 3.33e-3)) <= 2e-4);
}
