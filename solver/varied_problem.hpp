// A filling whose reinforcement and resin are somewhat other than they should be.
#pragma once

#include "solver/fill_problem.hpp"
#include "solver/layup.hpp"

#include <vector>

namespace tidemark {

/// K1 and K2 of a region times a factor > 0. Runners and gaps beside the reinforcement hold no
/// fibres and stay as they are.
void multiply_permeability(FillProblem& problem, RegionId region, double factor);

/// The same with a factor for each element of the region, in the order of the elements. The region
/// itself gets the mean over the area. Precondition: as many factors as elements, all > 0.
void multiply_permeability(FillProblem& problem, RegionId region,
                           const std::vector<double>& factors);

/// The elements of a region in ascending order.
std::vector<ElementId> elements_of(const FillProblem& problem, RegionId region);

/// Mean over the area of the elements.
double area_mean(const ShellMesh& mesh, const std::vector<ElementId>& elements,
                 const std::vector<double>& values);

/// More or fewer fibres in the same cavity: Vf of a region times a factor, porosity and K follow. K
/// goes as (1 - Vf)^3 / Vf^2 (Kozeny 1927, Carman 1937), since nothing else is known of a region
/// given by K and porosity. Throws SolveError if fibres would fill 95 % of the cavity or more.
void multiply_fibre_fraction(FillProblem& problem, RegionId region, double factor);

/// The same for a region with a layup, in a cavity of a thickness [m]: the areal weight of all its
/// fabrics times the factor, and the stack closed again, with K and the pressure that closes it by
/// the laws of the fabrics. Where the region varies, each element changes as the flat stack does.
/// Throws SolveError if the fibres find no room.
void multiply_fibre_fraction(FillProblem& problem, RegionId region, double factor,
                             const Layup& layup, double thickness);

/// Fresh viscosity times a factor > 0, at any temperature and age.
Resin with_viscosity_times(Resin resin, double factor);

} // namespace tidemark
