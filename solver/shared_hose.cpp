#include "solver/shared_hose.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace tidemark {

namespace {
/// Part of an even part that a node keeps without flow, so that it can come back [-].
constexpr double least = 1e-3;
} // namespace

void SharedHose::open(std::span<const std::size_t> wet) {
  if (wet.empty()) {
    return;
  }
  const auto is_new = [&](std::size_t node) { return part_[node] == 0; };
  const auto count = static_cast<double>(wet.size());
  const auto joining = static_cast<double>(std::ranges::count_if(wet, is_new));
  for (double& part : part_) {
    part *= 1 - joining / count;
  }
  for (const std::size_t node : wet) {
    part_[node] = is_new(node) ? 1 / count : part_[node];
  }
}

double SharedHose::fit(std::span<const double> outflow) {
  const double all = std::accumulate(outflow.begin(), outflow.end(), 0.0);
  if (!(all > 0)) {
    return 0;
  }
  const auto open =
      static_cast<double>(std::ranges::count_if(part_, [](double part) { return part > 0; }));
  double uneven = 0;
  double sum = 0;
  for (std::size_t i = 0; i < part_.size(); ++i) {
    if (part_[i] > 0) {
      const double of_flow = std::max(0.0, outflow[i] / all);
      uneven += of_flow * std::abs(of_flow / part_[i] - 1);
      part_[i] = std::max(of_flow, least / open);
      sum += part_[i];
    }
  }
  std::ranges::for_each(part_, [&](double& part) { part /= sum; });
  return uneven;
}

} // namespace tidemark
