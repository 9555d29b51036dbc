#include "solver/fill_problem.hpp"

#include <algorithm>

namespace tidemark {

double fibre_volume_fraction(const Region& region) {
  return region.fibre_volume_fraction.value_or(1 - region.porosity);
}

double front_pressure(const FillProblem& problem) {
  if (problem.vents.empty()) {
    return problem.cavity_pressure;
  }
  return std::ranges::min_element(problem.vents, {}, &Vent::pressure)->pressure;
}

} // namespace tidemark
