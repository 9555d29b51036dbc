// A random value at every place, alike at places near to each other.
#pragma once

#include "io/random_numbers.hpp"
#include "mesh/shell_mesh.hpp" // Vector3

#include <vector>

namespace tidemark {

/// A Gaussian field with mean 0, variance 1 and covariance exp(-(d / l)^2) at points a distance d
/// apart in space (through the air, not along the surface), l the correlation length [m], > 0:
///     g(x) = sqrt(2 / M) sum of cos(w_m . x + phi_m),
/// M = 400 waves, w_m normal with variance 2 / l^2 in each direction, phi_m even over the circle
/// (random Fourier features: Rahimi & Recht 2007). Over many fields mean and covariance are exact;
/// of a single place the kurtosis is 1.5 / M short of a normal law's.
std::vector<double> gaussian_field(const std::vector<Vector3>& points, double correlation_length,
                                   RandomNumbers random);

} // namespace tidemark
