// Straight lines through the points of a table.
#pragma once

#include <span>
#include <vector>

namespace tidemark {

/// Value at `at` of the straight lines through the points (x_i, y_i); beyond the ends the first
/// and the last line go on. Precondition: two points or more, x ascending.
double interpolate(std::span<const double> x, std::span<const double> y, double at);

/// ln of each value, > 0.
std::vector<double> logarithms(std::span<const double> values);

} // namespace tidemark
