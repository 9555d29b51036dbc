// Which of a surface is seen along a direction, and which lies hidden behind other parts of it.
#pragma once

#include "mesh/triangulation.hpp"

namespace tidemark {

/// Of each triangle the share of its area that nothing hides [-], looked at from far away.
struct SeenShares {
  PerTriangle<double> against; // seen by one who looks against the direction
  PerTriangle<double> along;   // by one who looks along it
  bool hides_nothing = true;   // all shares are 1
};

/// Looks along a direction of length 1. Each triangle is tried at the middles of the 16 triangles
/// that its sides cut in four make: what is hidden comes in sixteenths. Triangles seen edge on
/// (under 1e-6 of their area) hide nothing and are not hidden. Expected
/// time O(n log n), more where many faces lie behind each other.
SeenShares seen_shares(const ShellMesh& mesh, const Triangulation& triangulation,
                       const Vector3& direction);

} // namespace tidemark
