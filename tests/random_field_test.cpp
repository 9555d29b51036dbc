#include "io/random_field.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;

TEST_CASE("random field: mean, variance and covariance exp(-(d / l)^2) over many fields") {
  // Points at distances 0, l/2, l, 2 l of the first, in different directions.
  const double length = 0.2;
  const std::vector<Vector3> points{{0.3, 0.1, 0}, {0.4, 0.1, 0}, {0.3, 0.3, 0}, {0.3, 0.1, 0.4}};
  const std::vector<double> expected{1, 0.778801, 0.367879, 0.0183156}; // e^0, e^-1/4, e^-1, e^-4
  constexpr int fields = 4000;
  std::vector<double> products(points.size(), 0.0);
  double sum = 0;
  for (std::uint64_t sample = 0; sample < fields; ++sample) {
    const auto field = gaussian_field(points, length, RandomNumbers({5, sample, 0}));
    sum += field[0];
    for (std::size_t i = 0; i < points.size(); ++i) {
      products[i] += field[0] * field[i];
    }
  }
  // Errors of the estimates: 1 / sqrt(4000) = 0.016, sqrt((1 + rho^2) / 4000) = 0.016 to 0.022.
  CHECK(std::abs(sum / fields) < 4 * 0.016);
  for (std::size_t i = 0; i < points.size(); ++i) {
    CAPTURE(i);
    CHECK(std::abs(products[i] / fields - expected[i]) < 4 * 0.0224);
  }
}

TEST_CASE("random field: a value is normal") {
  // Of 4000 fields 95 % lie within 1.96 (error 0.35 %), and the fourth moment is 3 (1 - 1/800)
  // (error sqrt(96 / 4000) = 0.15).
  constexpr int fields = 4000;
  int inside = 0;
  double fourth = 0;
  for (std::uint64_t sample = 0; sample < fields; ++sample) {
    const double value =
        gaussian_field({{0.1, 0.2, 0.3}}, 0.05, RandomNumbers({6, sample, 0})).front();
    inside += std::abs(value) < 1.96 ? 1 : 0;
    fourth += std::pow(value, 4);
  }
  CHECK(std::abs(static_cast<double>(inside) / fields - 0.95) < 4 * 0.0035);
  CHECK(std::abs(fourth / fields - 3) < 4 * 0.155);
}

TEST_CASE("random field: far apart in one field it takes on the law, near it hardly changes") {
  std::vector<Vector3> points;
  for (int i = 0; i < 2000; ++i) {
    points.emplace_back(0.01 * i, 0, 0); // 20 m, correlation length 0.2 m
  }
  const auto field = gaussian_field(points, 0.2, RandomNumbers({1, 1, 1}));
  double squares = 0;
  double steps = 0;
  for (std::size_t i = 0; i + 1 < field.size(); ++i) {
    squares += field[i] * field[i];
    steps += (field[i + 1] - field[i]) * (field[i + 1] - field[i]);
  }
  // Variogram at d = l / 20: 2 (1 - exp(-1/400)) = 0.0049938. Some 100 independent stretches: the
  // mean squares are known to sqrt(2 / 100) = 14 %.
  CHECK(std::abs(squares / 2000 - 1) < 0.5);
  CHECK(std::abs(steps / 1999 / 0.0049938 - 1) < 0.5);
}
