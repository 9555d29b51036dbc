// Gates that wait for a vent while vents are taken out.
#include "solver/waiting_gates.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

using namespace tidemark;
using namespace tidemark::test;

TEST_CASE("gates wait for the same ports when a vent before theirs is taken out") {
  FillProblem problem = strip();
  for (const double x : {0.5, 0.75, 1.0}) {
    add_vent(problem, x);
  }
  const PortRef first{PortRef::Kind::vent, 0};
  const PortRef second{PortRef::Kind::vent, 1};
  const PortRef third{PortRef::Kind::vent, 2};
  const PortRef gate{PortRef::Kind::gate, 2};
  add_gate(problem, 0.25).opens.reached = third;
  add_gate(problem, 0.1).closes.reached = first;
  problem.gates[0].closes.reached = gate;
  CHECK(gates_waiting_for(problem, first) == std::vector<std::size_t>{2});
  CHECK(gates_waiting_for(problem, second).empty());
  CHECK(gates_waiting_for(problem, third) == std::vector<std::size_t>{1});
  CHECK(gates_waiting_for(problem, gate) == std::vector<std::size_t>{0});
  const std::vector<NodeId> end = problem.vents[2].nodes;
  remove_vent(problem, 1);
  REQUIRE(problem.vents.size() == 2);
  CHECK(problem.gates[1].opens.reached == second); // the vent at the end, now the second
  CHECK(problem.vents[1].nodes == end);
  CHECK(problem.gates[2].closes.reached == first);
  CHECK(problem.gates[0].closes.reached == gate);
}
