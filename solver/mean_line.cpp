#include "solver/mean_line.hpp"

#include <cassert>

namespace tidemark {

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

} // namespace tidemark
