#include "io/random_field.hpp"

#include <cmath>
#include <numbers>

namespace tidemark {

std::vector<double> gaussian_field(const std::vector<Vector3>& points, double correlation_length,
                                   RandomNumbers random) {
  constexpr int waves = 400;
  std::vector<double> field(points.size(), 0.0);
  const double deviation = std::numbers::sqrt2 / correlation_length;
  for (int m = 0; m < waves; ++m) {
    const double x = random.normal(); // one after the other: the order of arguments is not fixed
    const double y = random.normal();
    const double z = random.normal();
    const Vector3 wave = deviation * Vector3(x, y, z);
    const double phase = 2 * std::numbers::pi * random.uniform();
    for (std::size_t i = 0; i < points.size(); ++i) {
      field[i] += std::cos(wave.dot(points[i]) + phase);
    }
  }
  const double scale = std::sqrt(2.0 / waves);
  for (double& value : field) {
    value *= scale;
  }
  return field;
}

} // namespace tidemark
