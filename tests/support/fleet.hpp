// Problems of every kind the solver is meant for, on which identities must hold.
#pragma once

#include "solver/fill_problem.hpp"

#include <string>
#include <vector>

namespace tidemark::test {

struct FleetProblem {
  std::string name;
  FillProblem problem; // at 1e5 Pa
};

/// Flat, curved, branched, of triangles and quadrilaterals, regular and not; one region or many.
/// All lengths of the mesh are multiplied by scale.
std::vector<FleetProblem> fleet(double scale = 1);

/// A jittered 1 m x 0.7 m plate of columns x rows cells in 6 x 4 regions: K1 and K2 log-normal with
/// sigma 1 about 2e-9 m2, random directions, thicknesses and porosities. The gate is part of the
/// left edge.
FillProblem random_regions_problem(int columns, int rows, std::uint32_t seed);

/// Gives the mesh of a problem random regions in boxes of the given size [m], drawn as above.
void set_random_regions(FillProblem& problem, double box, std::uint32_t seed);

} // namespace tidemark::test
