#include "io/statistics.hpp"

#include <Eigen/Dense>

#include <boost/math/special_functions/beta.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>

namespace tidemark {

namespace {

double size_of(const std::vector<double>& values) {
  return static_cast<double>(values.size());
}

/// P(at most k of n), each with probability p.
double binomial_below(std::size_t k, std::size_t n, double p) {
  if (k >= n) {
    return 1;
  }
  return boost::math::ibetac(static_cast<double>(k + 1), static_cast<double>(n - k), p);
}

/// Ranks of a list as a vector with mean 0 and length 1; zero if the list does not vary.
Eigen::VectorXd scaled_ranks(const std::vector<double>& values) {
  const std::vector<double> ranks = ranks_of(values);
  Eigen::VectorXd scaled =
      Eigen::Map<const Eigen::VectorXd>(ranks.data(), static_cast<Eigen::Index>(ranks.size()));
  scaled.array() -= scaled.mean();
  const double length = scaled.norm();
  return length > 0 ? Eigen::VectorXd(scaled / length) : scaled;
}

} // namespace

double mean_of(const std::vector<double>& values) {
  return std::accumulate(values.begin(), values.end(), 0.0) / size_of(values);
}

double standard_deviation(const std::vector<double>& values) {
  if (values.size() < 2) {
    return 0;
  }
  const double mean = mean_of(values);
  const double squares =
      std::accumulate(values.begin(), values.end(), 0.0, [mean](double sum, double value) {
        return sum + (value - mean) * (value - mean);
      });
  return std::sqrt(squares / (size_of(values) - 1));
}

double standard_error(const std::vector<double>& values) {
  return standard_deviation(values) / std::sqrt(size_of(values));
}

double quantile(std::vector<double> values, double share) {
  std::ranges::sort(values);
  const double place = (size_of(values) - 1) * share;
  const auto below = static_cast<std::size_t>(std::floor(place));
  const std::size_t above = std::min(below + 1, values.size() - 1);
  const double rest = place - std::floor(place);
  return values[below] + rest * (values[above] - values[below]);
}

ConfidenceInterval quantile_interval(std::vector<double> values, double share, double confidence) {
  std::ranges::sort(values);
  const std::size_t n = values.size();
  const double risk = (1 - confidence) / 2;
  // P(x_(k) > quantile) = P(fewer than k values lie below it) <= risk for the lower end.
  std::size_t low = 0;
  while (low + 1 < n && binomial_below(low + 1, n, share) <= risk) {
    ++low;
  }
  // P(x_(k) < quantile) = P(k values or more lie below it) <= risk for the upper end.
  std::size_t high = n - 1;
  while (high > low && 1 - binomial_below(high - 1, n, share) <= risk) {
    --high;
  }
  return {values[low], values[high]};
}

ConfidenceInterval probability_interval(std::size_t events, std::size_t samples,
                                        double confidence) {
  const double risk = (1 - confidence) / 2;
  const auto k = static_cast<double>(events);
  const auto n = static_cast<double>(samples);
  return {events == 0 ? 0 : boost::math::ibeta_inv(k, n - k + 1, risk),
          events == samples ? 1 : boost::math::ibetac_inv(k + 1, n - k, risk)};
}

std::vector<double> ranks_of(const std::vector<double>& values) {
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::ranges::stable_sort(order, {}, [&](std::size_t i) { return values[i]; });
  std::vector<double> ranks(values.size());
  for (std::size_t first = 0; first < order.size();) {
    std::size_t last = first;
    while (last + 1 < order.size() && values[order[last + 1]] == values[order[first]]) {
      ++last;
    }
    const double shared = 1 + static_cast<double>(first + last) / 2;
    for (; first <= last; ++first) {
      ranks[order[first]] = shared;
    }
  }
  return ranks;
}

double correlation(const std::vector<double>& x, const std::vector<double>& y) {
  const double mean_x = mean_of(x);
  const double mean_y = mean_of(y);
  double xx = 0;
  double yy = 0;
  double xy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    xx += (x[i] - mean_x) * (x[i] - mean_x);
    yy += (y[i] - mean_y) * (y[i] - mean_y);
    xy += (x[i] - mean_x) * (y[i] - mean_y);
  }
  return xx > 0 && yy > 0 ? xy / std::sqrt(xx) / std::sqrt(yy) : 0;
}

double rank_correlation(const std::vector<double>& x, const std::vector<double>& y) {
  return correlation(ranks_of(x), ranks_of(y));
}

double chance_correlation(std::size_t samples, std::size_t inputs) {
  if (samples < 3) {
    return 1;
  }
  const double chance = 0.05 / static_cast<double>(std::max<std::size_t>(inputs, 1));
  const double half = 0.5 * static_cast<double>(samples - 2); // r^2 has a beta law
  return std::sqrt(boost::math::ibetac_inv(0.5, half, chance));
}

RankRegression rank_regression(const std::vector<std::vector<double>>& inputs,
                               const std::vector<double>& y) {
  RankRegression regression{std::vector<double>(inputs.size(), 0.0), 0};
  const auto rows = static_cast<Eigen::Index>(y.size());
  const auto columns = static_cast<Eigen::Index>(inputs.size());
  const Eigen::VectorXd right = scaled_ranks(y);
  if (columns == 0 || rows <= columns + 1 || !(right.norm() > 0)) {
    return regression;
  }
  Eigen::MatrixXd left(rows, columns);
  for (Eigen::Index column = 0; column < columns; ++column) {
    left.col(column) = scaled_ranks(inputs[static_cast<std::size_t>(column)]);
  }
  // Of least length where inputs go together or do not vary.
  const Eigen::VectorXd solution = left.completeOrthogonalDecomposition().solve(right);
  std::ranges::copy(solution, regression.coefficients.begin());
  regression.determination = 1 - (right - left * solution).squaredNorm();
  return regression;
}

} // namespace tidemark
