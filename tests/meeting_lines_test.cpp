#include "solver/meeting_lines.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <utility>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// Fronts that start at points at the same time and run at 1 m/s: they meet where two are as far.
struct Met {
  PerNode<std::int32_t> gate;
  PerNode<double> time;
};

Met from_points(const ShellMesh& mesh, const std::vector<Vector3>& points) {
  Met met{PerNode<std::int32_t>(mesh.positions.size(), -1),
          PerNode<double>(mesh.positions.size(), std::numeric_limits<double>::infinity())};
  for (const NodeId node : mesh.positions.ids()) {
    for (std::size_t p = 0; p < points.size(); ++p) {
      if (const double time = (mesh.positions[node] - points[p]).norm(); time < met.time[node]) {
        met.time[node] = time;
        met.gate[node] = static_cast<std::int32_t>(p);
      }
    }
  }
  return met;
}

} // namespace

TEST_CASE("meeting lines: of two points on a plate, the line half-way between them") {
  // Points at (0.2, 0.3) and (0.8, 0.3): the line x = 0.5 across the plate, 0.6 m long, met at
  // 0.3 s in its middle and at hypot(0.3, 0.3) = 0.424 s at its ends.
  for (const PlateShape& shape :
       {PlateShape{1, 0.6, 40, 24, 0.25, 3}, PlateShape{1, 0.6, 41, 25, 0, 0, true}}) {
    const ShellMesh mesh = plate(shape);
    const Met met = from_points(mesh, {Vector3(0.8, 0.3, 0), Vector3(0.2, 0.3, 0)});
    const auto lines = meeting_lines(mesh, met.gate, met.time, {0, 1, 2});
    REQUIRE(lines.size() == 1);
    CHECK(lines[0].gates == std::array<std::int32_t, 2>{0, 1});
    CHECK(relative_error(lines[0].length, 0.6) <= 0.05);
    CHECK((lines[0].middle - Vector3(0.5, 0.3, 0)).norm() <= 0.03);
    CHECK(std::abs(lines[0].first - 0.3) <= 0.03); // to a cell
    CHECK(std::abs(lines[0].last - 0.424) <= 0.03);
  }
}

TEST_CASE("meeting lines: slanting across the mesh they keep their length") {
  // Points at (0.3, 0.3) and (0.7, 0.7): the diagonal from (0, 1) to (1, 0), sqrt 2 long.
  const ShellMesh mesh = plate({1, 1, 40, 40, 0.25, 5});
  const Met met = from_points(mesh, {Vector3(0.3, 0.3, 0), Vector3(0.7, 0.7, 0)});
  const auto lines = meeting_lines(mesh, met.gate, met.time, {0, 1, 2});
  REQUIRE(lines.size() == 1);
  CHECK(relative_error(lines[0].length, std::sqrt(2)) <= 0.05);
}

TEST_CASE("meeting lines: three gates in a row have two, and none with what stays dry") {
  const ShellMesh mesh = plate({1.2, 0.3, 48, 12});
  Met met =
      from_points(mesh, {Vector3(0.2, 0.15, 0), Vector3(0.6, 0.15, 0), Vector3(1.0, 0.15, 0)});
  auto lines = meeting_lines(mesh, met.gate, met.time, {0, 1, 2});
  REQUIRE(lines.size() == 2);
  CHECK(lines[0].gates == std::array<std::int32_t, 2>{0, 1});
  CHECK(lines[1].gates == std::array<std::int32_t, 2>{1, 2});
  CHECK(meeting_lines(mesh, met.gate, met.time, {0, 0, 2}).size() == 1);
  for (const NodeId node : mesh.positions.ids()) {
    met.gate[node] = met.gate[node] == 1 ? -1 : met.gate[node];
  }
  CHECK(meeting_lines(mesh, met.gate, met.time, {0, 1, 2}).empty());
  CHECK(meeting_lines(mesh, {}, {}, {}).empty());
}

TEST_CASE("meeting lines: of two gates that open at once, not of one that opens on arrival") {
  // 0.8 m x 0.2 m, fed near both ends under one pressure: the resins meet half-way.
  // The second one, opened by the first one's front, only pushes that on.
  for (const bool on_arrival : {false, true}) {
    CAPTURE(on_arrival);
    ShellMesh mesh = plate({0.8, 0.2, 48, 12});
    const NodeId first = nearest_node(mesh, Vector3(0.1, 0.1, 0));
    const NodeId second = nearest_node(mesh, Vector3(0.7, 0.1, 0));
    FillProblem problem = problem_on(std::move(mesh), {first});
    problem.injector = {std::nullopt, 1e5};
    problem.gates.push_back(problem.gates.front());
    problem.gates.back().nodes = {second};
    if (on_arrival) {
      problem.gates[1].opens.reached = PortRef{PortRef::Kind::gate, 1};
    }
    const FillResult result = fill(problem);
    REQUIRE(result.verdict == Verdict::filled);
    const auto lines = meeting_lines(problem, result);
    CHECK(lines.size() == (on_arrival ? 0 : 1));
    if (lines.size() == 1) {
      CHECK(relative_error(lines[0].length, 0.2) <= 0.05);
      CHECK(std::abs(lines[0].middle.x() - 0.4) <= 0.03);
    }
  }
}
