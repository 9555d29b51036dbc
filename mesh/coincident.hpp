// Points at the same place.
#pragma once

#include "mesh/shell_mesh.hpp"

namespace tidemark {

/// For each point the first point (in index order) that no earlier one replaces and that lies
/// within tolerance [m] of it: the point itself if there is none. Points are compared with those
/// first points only, so a chain of close points does not shrink to one. A tolerance of zero or
/// below finds exactly equal points. Expected time O(n). Precondition: finite positions.
PerNode<NodeId> first_at_same_place(const PerNode<Vector3>& positions, double tolerance);

} // namespace tidemark
