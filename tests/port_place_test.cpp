#include "io/port_place.hpp"

#include "tests/support/sample_run.hpp"

#include <doctest/doctest.h>

using namespace tidemark;

TEST_CASE("place of a gate: always that of one of its nodes") {
  const FillProblem problem = sample_case().problem; // nodes at x 0, 1, 2 m and y 0, 1 m
  Gate gate = problem.gates[0];
  gate.nodes = {NodeId(0), NodeId(1), NodeId(2)};
  CHECK(place_of_gate(problem.mesh, gate) == Vector3(1, 0, 0)); // their middle
  gate.radius = 2.5;
  gate.centre = Vector3(-0.4, 0.1, 0);
  CHECK(place_of_gate(problem.mesh, gate) == Vector3(0, 0, 0)); // nearest to the port's centre
}
