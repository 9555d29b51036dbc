// Reinforcement that differs from element to element within a region.
#pragma once

#include "io/mesh_context.hpp"
#include "solver/fill_problem.hpp"

namespace tidemark {

/// Gives every element its reinforcement where a region of the case varies, and such a region its
/// means. What is wrong or doubtful is added to the findings: of a stack that cannot lie in the
/// cavity everywhere the worst element, and at how many others it is the same. Preconditions: the
/// regions are assigned, the others are made.
void put_varying_reinforcement(const MeshContext& context, FillProblem& problem);

struct Spread {
  double least;
  double most;
};

/// What differs over a region.
struct RegionSpread {
  Spread thickness;             // [m]
  Spread fibre_volume_fraction; // share of the cavity that is fibre
  double shear = 0;             // the largest, with its sign [rad]
  ElementId sheared_most;       // invalid if nothing is sheared
};
RegionSpread region_spread(const FillProblem& problem, RegionId region);

} // namespace tidemark
