// Linear solves on the flow network by sparse Cholesky: what the filling is measured against.
#pragma once

#include "solver/fill_problem.hpp"
#include "solver/flow_system.hpp"

#include <optional>
#include <vector>

namespace tidemark::test {

/// The problem with the points on borders that its filling puts there.
FillProblem with_border_points(FillProblem problem);

/// x with (A x)_i = source_i at each unknown that is not held, and x_i = held_i at the others. At
/// least one is held.
std::vector<double> solve_network(const FlowSystem& system,
                                  const std::vector<std::optional<double>>& held,
                                  const std::vector<double>& source);

/// w with A w = V and w = 0 at the only gate [-].
std::vector<double> completion_field(const FlowSystem& system);

/// The whole filling in one linear solve.
struct Completion {
  double head_impulse; // integral of (p_head - p_front) / mu dt until all is full [-]
  NodeId last_node;
};
Completion completion_of(const FillProblem& problem);

} // namespace tidemark::test
