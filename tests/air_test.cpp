// Pieces of shut-in air, found from fill fractions alone.
#include "solver/air.hpp"

#include "solver/flow_network.hpp"
#include "solver/flow_system.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <utility>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;

TEST_CASE("Air: a part of shut-in air that splits off and closes up tells of its share only") {
  // Twelve columns; resin across the third line leaves 2.5 of them dry on one side, 8.5 on the
  // other (a line of nodes has half a column on each side).
  ShellMesh mesh = plate({.length = 12, .width = 1, .columns = 12, .rows = 1});
  const auto line =
      nodes_where(mesh, [](const Vector3& x) { return relative_error(x.x(), 3) < 1e-9; });
  FillProblem problem = problem_on(std::move(mesh), line);
  problem.sealed_air = true;
  problem.cavity_pressure = 0;
  problem.ambient = 1e5;
  const FlowSystem system = flow_system(flow_network(problem), problem.gates);
  double whole = 0;
  for (const double volume : system.volume) {
    whole += volume;
  }
  Air air(problem, system);
  std::vector<double> fill(system.size(), 0.0);
  air.update(fill, 0);
  REQUIRE(air.pieces().size() == 1);
  fill[0] = 1; // the gate's nodes are one unknown
  air.update(fill, 1);
  REQUIRE(air.pieces().size() == 2);
  for (const NodeId node : problem.mesh.positions.ids()) {
    if (problem.mesh.positions[node].x() < 2.5) {
      fill[static_cast<std::size_t>(system.unknown[node])] = 1;
    }
  }
  air.update(fill, 2);
  REQUIRE(air.pieces().size() == 1);
  REQUIRE(air.suspects().size() == 1);
  CHECK(relative_error(air.suspects()[0].volume, whole * 2.5 / 11) <= 1e-9);
}
