#include "solver/fill_problem.hpp"

namespace tidemark {

double front_pressure(const FillProblem& problem) {
  return problem.vents.empty() ? problem.cavity_pressure : problem.vents.front().pressure;
}

} // namespace tidemark
