#include "solver/mean_line.hpp"

#include <cassert>
#include <cmath>
#include <vector>

namespace tidemark {

namespace {

double sum_of_squares(std::span<const StepMean> means, const MeanLine& line) {
  double sum = 0;
  for (const StepMean& mean : means) {
    const double rest = mean.value - line.at(mean.time);
    sum += rest * rest;
  }
  return sum;
}

} // namespace

MeanLine line_through(std::span<const StepMean> means) {
  assert(!means.empty());
  const auto count = static_cast<double>(means.size());
  double time = 0;
  double value = 0;
  for (const StepMean& mean : means) {
    time += mean.time / count;
    value += mean.value / count;
  }
  double square = 0;
  double product = 0;
  for (const StepMean& mean : means) {
    square += (mean.time - time) * (mean.time - time);
    product += (mean.time - time) * (mean.value - value);
  }
  return {time, value, square > 0 ? product / square : 0};
}

std::span<const StepMean> last_means(std::span<const StepMean> means, std::size_t least,
                                     double volume) {
  std::size_t first = means.size();
  double held = 0;
  while (first > 0 && (held < volume || means.size() - first < least)) {
    held += means[--first].volume;
  }
  return means.subspan(first);
}

double CurveOfMeans::at(double volume) const {
  return line.at(is_logarithmic ? std::log(volume) : volume);
}

double CurveOfMeans::volume_at(double value) const {
  const double x = line.time + (value - line.value) / line.slope;
  return is_logarithmic ? std::exp(x) : x;
}

CurveOfMeans curve_through(std::span<const StepMean> means) {
  const CurveOfMeans straight{line_through(means), false};
  if (!(means.front().time > 0)) {
    return straight;
  }
  std::vector<StepMean> over_logarithm(means.begin(), means.end());
  for (StepMean& mean : over_logarithm) {
    mean.time = std::log(mean.time);
  }
  const MeanLine line = line_through(over_logarithm);
  const bool is_better =
      means.size() < 3 || // which any line meets: the one that rises less
      sum_of_squares(over_logarithm, line) < sum_of_squares(means, straight.line);
  return is_better ? CurveOfMeans{line, true} : straight;
}

} // namespace tidemark
