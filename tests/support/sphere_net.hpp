// The fishnet on a sphere with geodesic yarns through the pole, worked out without a mesh.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <vector>

namespace tidemark::test {

/// Angle between warp and weft of the infinitely fine net on the unit sphere, at warp and weft
/// lengths u, v >= 0 from the pole; z = u v, up to 2. A Chebyshev net has
///     omega_uv = -K sin(omega)
/// (Chebyshev 1878, from memory; it says that the Gauss curvature of the metric
/// du^2 + 2 cos(omega) du dv + dv^2 is K). With K = 1 and omega = pi/2 on both axes omega depends
/// on z alone: z W'' + W' = -sin W, or with z = x^2, W_xx + W_x / x = -4 sin W, W = pi/2 - z +
/// z^3/18 near 0. Integrated from x = 0.1 by the classical Runge-Kutta method.
double sphere_net_angle(double z);

/// Yarn lengths (u, v) from the pole (0, 0, 1) to a point of the unit sphere with x, y, z >= 0,
/// warp along x. Along the warp the direction S of the weft is carried parallel (r_uv has no
/// tangential part): r' = T, S' = -(S.T) r with T = cos(omega) S - sin(omega) r x S. Newton's
/// method on that.
Eigen::Vector2d sphere_net_lengths(const Vector3& point);

/// Crossings of the net of step a on the unit sphere, warp and weft from the pole along x and y:
/// the fourth corner of a spherical rhomb is the first turned by pi about the middle of the other
/// two. [i][j] for 0 <= i, j <= count.
std::vector<std::vector<Vector3>> sphere_net_crossings(double step, int count);

} // namespace tidemark::test
