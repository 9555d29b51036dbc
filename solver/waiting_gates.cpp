#include "solver/waiting_gates.hpp"

#include <cassert>

namespace tidemark {

std::vector<std::size_t> gates_waiting_for(const FillProblem& problem, const PortRef& port) {
  std::vector<std::size_t> waiting;
  for (std::size_t g = 0; g < problem.gates.size(); ++g) {
    if (problem.gates[g].opens.reached == port || problem.gates[g].closes.reached == port) {
      waiting.push_back(g);
    }
  }
  return waiting;
}

void remove_vent(FillProblem& problem, std::size_t vent) {
  assert(gates_waiting_for(problem, {PortRef::Kind::vent, vent}).empty());
  problem.vents.erase(problem.vents.begin() + static_cast<std::ptrdiff_t>(vent));
  for (Gate& gate : problem.gates) {
    for (Moment* moment : {&gate.opens, &gate.closes}) {
      if (moment->reached && moment->reached->kind == PortRef::Kind::vent &&
          moment->reached->index > vent) {
        --moment->reached->index;
      }
    }
  }
}

} // namespace tidemark
