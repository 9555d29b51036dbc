#include "solver/interpolation.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace tidemark {

double interpolate(std::span<const double> x, std::span<const double> y, double at) {
  assert(x.size() >= 2 && x.size() == y.size());
  const auto above = std::ranges::upper_bound(x.subspan(1, x.size() - 2), at);
  const auto i = static_cast<std::size_t>(above - x.subspan(1, x.size() - 2).begin());
  return y[i] + (at - x[i]) / (x[i + 1] - x[i]) * (y[i + 1] - y[i]);
}

std::vector<double> logarithms(std::span<const double> values) {
  std::vector<double> result;
  for (const double value : values) {
    result.push_back(std::log(value));
  }
  return result;
}

} // namespace tidemark
