// Permeability in the plane of each element.
#pragma once

#include "solver/fill_problem.hpp"

namespace tidemark {

/// Unit vector of K1 in each element's plane: the direction of its reinforcement projected on the
/// element and turned by its angle about the element normal. Zero direction (allowed if K1 = K2):
/// any in-plane unit vector. Throws InputError naming region, element label and position where
/// the direction is within 1 degree of the normal.
PerElement<Vector3> direction_1(const FillProblem& problem);

/// Superficial (Darcy) velocity -(K / mu) grad p in each element [m/s], area-weighted over the
/// triangles of a quadrilateral. pressure [Pa].
PerElement<Vector3> darcy_velocity(const FillProblem& problem, const PerNode<double>& pressure);

} // namespace tidemark
