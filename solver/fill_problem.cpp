#include "solver/fill_problem.hpp"

#include <algorithm>

namespace tidemark {

double fibre_volume_fraction(const Region& region) {
  return region.fibre_volume_fraction.value_or(1 - region.porosity);
}

Reinforcement reinforcement_at(const FillProblem& problem, ElementId element) {
  if (!problem.reinforcement.empty()) {
    return problem.reinforcement[element];
  }
  const Region& region = problem.regions[problem.element_region[element].position()];
  return {
      region.thickness,     region.porosity, region.permeability_1,         region.permeability_2,
      region.direction,     region.angle,    fibre_volume_fraction(region), 0,
      region.fibre_pressure};
}

bool has_unequal_temperatures(const FillProblem& problem) {
  return problem.heat && (problem.heat->inlet_temperature != problem.heat->mould_temperature ||
                          (problem.resin.laws.cure && problem.heat->heat_of_cure > 0));
}

double front_pressure(const FillProblem& problem) {
  if (problem.vents.empty()) {
    return problem.cavity_pressure;
  }
  return std::ranges::min_element(problem.vents, {}, &Vent::pressure)->pressure;
}

} // namespace tidemark
