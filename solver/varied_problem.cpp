#include "solver/varied_problem.hpp"

#include "mesh/error.hpp"
#include "mesh/triangulation.hpp"

#include <cmath>

namespace tidemark {

namespace {

/// What a change of the reinforcement does to K, porosity, Vf and push of a place.
struct StackChange {
  double times_k1, times_k2;
  double porosity, fibre_volume_fraction, angle; // on top
  double times_pressure = 1;                     // on the fibres
};

template <class Place> void change(Place& place, const StackChange& by) {
  place.permeability_1 *= by.times_k1;
  place.permeability_2 *= by.times_k2;
  place.porosity += by.porosity;
  place.angle += by.angle;
  place.fibre_pressure *= by.times_pressure;
}

/// A region and its elements where they differ.
void change_region(FillProblem& problem, RegionId region, const StackChange& by) {
  Region& mean = problem.regions[region.position()];
  if (mean.fibre_volume_fraction) {
    *mean.fibre_volume_fraction += by.fibre_volume_fraction;
  }
  change(mean, by);
  for (const ElementId element : problem.reinforcement.ids()) {
    if (problem.element_region[element] == region) {
      Reinforcement& local = problem.reinforcement[element];
      change(local, by);
      local.fibre_volume_fraction += by.fibre_volume_fraction;
      if (!(local.porosity > 0)) {
        throw SolveError("the fibres find no room in region " + mean.name);
      }
    }
  }
}

double kozeny_carman(double fibre_volume_fraction) {
  return std::pow(1 - fibre_volume_fraction, 3) / (fibre_volume_fraction * fibre_volume_fraction);
}

} // namespace

std::vector<ElementId> elements_of(const FillProblem& problem, RegionId region) {
  std::vector<ElementId> elements;
  for (const ElementId element : problem.element_region.ids()) {
    if (problem.element_region[element] == region) {
      elements.push_back(element);
    }
  }
  return elements;
}

double area_mean(const ShellMesh& mesh, const std::vector<ElementId>& elements,
                 const std::vector<double>& values) {
  double sum = 0;
  double area = 0;
  for (std::size_t i = 0; i < elements.size(); ++i) {
    const double own = element_area(mesh, elements[i]);
    sum += own * values[i];
    area += own;
  }
  return sum / area;
}

void multiply_permeability(FillProblem& problem, RegionId region, double factor) {
  change_region(problem, region, {factor, factor, 0, 0, 0});
}

void multiply_permeability(FillProblem& problem, RegionId region,
                           const std::vector<double>& factors) {
  if (problem.reinforcement.empty()) {
    PerElement<Reinforcement> all;
    for (const ElementId element : problem.element_region.ids()) {
      all.push_back(reinforcement_at(problem, element));
    }
    problem.reinforcement = std::move(all);
  }
  const std::vector<ElementId> elements = elements_of(problem, region);
  for (std::size_t i = 0; i < elements.size(); ++i) {
    problem.reinforcement[elements[i]].permeability_1 *= factors[i];
    problem.reinforcement[elements[i]].permeability_2 *= factors[i];
  }
  const double mean = area_mean(problem.mesh, elements, factors);
  problem.regions[region.position()].permeability_1 *= mean;
  problem.regions[region.position()].permeability_2 *= mean;
}

void multiply_fibre_fraction(FillProblem& problem, RegionId region, double factor) {
  const double before = fibre_volume_fraction(problem.regions[region.position()]);
  const double after = before * factor;
  if (before == 0 || factor == 1) {
    return;
  }
  constexpr double most = 0.95; // beyond, nothing flows
  if (!(after < most)) {
    throw SolveError("the fibres find no room in region " +
                     problem.regions[region.position()].name);
  }
  const double times = kozeny_carman(after) / kozeny_carman(before);
  change_region(problem, region, {times, times, before - after, after - before, 0});
}

void multiply_fibre_fraction(FillProblem& problem, RegionId region, double factor,
                             const Layup& layup, double thickness) {
  if (layup.fabrics.empty() || factor == 1) {
    return;
  }
  Layup other = layup;
  for (Fabric& fabric : other.fabrics) {
    fabric.areal_weight *= factor;
  }
  const bool has_room = solid_thickness(other) <
                        closest_packing(Packing::hexagonal) * (thickness - fixed_thickness(other));
  const auto before = close_stack(layup, thickness);
  const auto after = has_room ? close_stack(other, thickness) : std::nullopt;
  if (!before || !after || !(after->permeability_2 > 0) || !(after->porosity > 0)) {
    throw SolveError("the fibres find no room in region " +
                     problem.regions[region.position()].name);
  }
  change_region(
      problem, region,
      {after->permeability_1 / before->permeability_1,
       after->permeability_2 / before->permeability_2, after->porosity - before->porosity,
       after->fibre_volume_fraction - before->fibre_volume_fraction, after->angle - before->angle,
       before->closing_pressure ? *after->closing_pressure / *before->closing_pressure : 1});
}

Resin with_viscosity_times(Resin resin, double factor) {
  resin.viscosity *= factor;
  if (auto* fresh = std::get_if<double>(&resin.laws.viscosity)) {
    *fresh *= factor;
  } else if (auto* arrhenius = std::get_if<ArrheniusViscosity>(&resin.laws.viscosity)) {
    arrhenius->viscosity *= factor;
  } else {
    for (double& log : std::get<TabulatedViscosity>(resin.laws.viscosity).log_viscosity) {
      log += std::log(factor);
    }
  }
  if (auto* table = std::get_if<TableThickening>(&resin.thickening)) {
    for (double& log : table->log_viscosity) {
      log += std::log(factor);
    }
  }
  return resin;
}

} // namespace tidemark
