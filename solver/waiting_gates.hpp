// Gates that wait for the front to reach a gate or a vent.
#pragma once

#include "solver/fill_problem.hpp"

#include <cstddef>
#include <vector>

namespace tidemark {

/// The gates that open or close when the front has reached a port, by their numbers, ascending.
std::vector<std::size_t> gates_waiting_for(const FillProblem& problem, const PortRef& port);

/// Takes a vent out; gates that wait for others go on doing so. Precondition: none waits for it.
void remove_vent(FillProblem& problem, std::size_t vent);

} // namespace tidemark
