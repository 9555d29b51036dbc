#include "io/random_laws.hpp"
#include "io/random_numbers.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <vector>

using namespace tidemark;

namespace {

bool is_close(double value, double expected, double tolerance) {
  return std::abs(value - expected) <= tolerance;
}

// Scores of 5, 50, 95 % of the standard normal law (NIST/SEMATECH e-Handbook, table 1.3.6.7.1).
constexpr double score_95 = 1.6448536;

/// Mean and coefficient of variation over many even probabilities.
struct Moments {
  double mean, variation;
};
Moments moments_of(RandomLaw law, double variation) {
  constexpr int count = 200000;
  double sum = 0;
  double squares = 0;
  for (int i = 0; i < count; ++i) {
    const double factor = factor_of_score(law, variation, normal_score((i + 0.5) / count));
    sum += factor;
    squares += factor * factor;
  }
  const double mean = sum / count;
  return {mean, std::sqrt(squares / count - mean * mean) / mean};
}

} // namespace

TEST_CASE("random laws: the normal score is that of the tables") {
  CHECK(is_close(normal_score(0.5), 0, 1e-15));
  CHECK(is_close(normal_score(0.95), score_95, 1e-6));
  CHECK(is_close(normal_score(0.025), -1.959964, 1e-6));
}

TEST_CASE("random laws: a gamma factor is chi square over its degrees of freedom") {
  // Variation 1/2: shape 4, that is chi square with 8 degrees of freedom over 8. Chi square of 5
  // and 95 %: 2.733 and 15.507 (NIST/SEMATECH e-Handbook, tables 1.3.6.7.4).
  CHECK(is_close(factor_of_score(RandomLaw::gamma, 0.5, -score_95), 2.733 / 8, 1e-4));
  CHECK(is_close(factor_of_score(RandomLaw::gamma, 0.5, score_95), 15.507 / 8, 1e-4));
  // Variation 1: the exponential law, median ln 2.
  CHECK(is_close(factor_of_score(RandomLaw::gamma, 1, 0), std::log(2.0), 1e-12));
}

TEST_CASE("random laws: a lognormal factor has the median 1 / sqrt(1 + v^2)") {
  CHECK(is_close(factor_of_score(RandomLaw::lognormal, 0.75, 0), 0.8, 1e-12));
  // One deviation of ln K further: exp(sqrt(ln 1.5625)).
  const double ratio = factor_of_score(RandomLaw::lognormal, 0.75, 1) / 0.8;
  CHECK(is_close(std::log(ratio) * std::log(ratio), std::log(1.5625), 1e-12));
}

TEST_CASE("random laws: the mean is 1 and the variation what was asked for") {
  for (const RandomLaw law : {RandomLaw::lognormal, RandomLaw::gamma}) {
    for (const double variation : {0.05, 0.44, 0.8}) {
      CAPTURE(law_word(law));
      CAPTURE(variation);
      const Moments moments = moments_of(law, variation);
      CHECK(is_close(moments.mean, 1, 1e-3));
      CHECK(is_close(moments.variation, variation, 5e-3 * variation + 1e-4));
    }
  }
  // Cut off at three deviations: 1 - 6 phi(3) / (2 Phi(3) - 1) = 0.97334 of the variance.
  const Moments moments = moments_of(RandomLaw::normal, 0.2);
  CHECK(is_close(moments.mean, 1, 1e-6));
  CHECK(is_close(moments.variation, 0.2 * std::sqrt(0.97334), 1e-5));
  CHECK(factor_of_score(RandomLaw::normal, 0.3, 8) <= 1.9);
  CHECK(factor_of_score(RandomLaw::normal, 0.3, -8) >= 0.1);
}

TEST_CASE("random laws: without variation nothing varies, and names are found") {
  CHECK(factor_of_score(RandomLaw::gamma, 0, 2.5) == 1);
  CHECK(law_named("gamma") == RandomLaw::gamma);
  CHECK(!law_named("Gamma"));
  CHECK(std::string_view(law_word(RandomLaw::lognormal)) == "lognormal");
}

TEST_CASE("random laws: far out factors are finite and above zero") {
  for (const double score : {-8.0, 8.0}) {
    for (const RandomLaw law : {RandomLaw::lognormal, RandomLaw::gamma}) {
      const double factor = factor_of_score(law, 1, score);
      CHECK(factor > 0);
      CHECK(std::isfinite(factor));
    }
  }
}

TEST_CASE("random numbers: even between 0 and 1, whole numbers as likely as each other") {
  RandomNumbers random({7, 1});
  double sum = 0;
  std::vector<int> counts(7, 0);
  for (int i = 0; i < 70000; ++i) {
    const double value = random.uniform();
    REQUIRE(value > 0);
    REQUIRE(value < 1);
    sum += value;
    ++counts[random.below(7)];
  }
  CHECK(is_close(sum / 70000, 0.5, 5 * 0.2887 / std::sqrt(70000.0)));
  for (const int count : counts) {
    CHECK(is_close(count, 10000, 5 * 93)); // sqrt(70000 x 1/7 x 6/7) = 93
  }
}

TEST_CASE("random numbers: the same everywhere") {
  // The 64-bit Mersenne twister and seed_seq are fixed by the standard: these numbers were made
  // once, and another machine or library must make them too.
  RandomNumbers random({1, 2});
  RandomNumbers same({1, 2});
  RandomNumbers other({1, 3});
  const double first = random.uniform();
  CHECK(first == same.uniform());
  CHECK(first != other.uniform());
}

TEST_CASE("Latin hypercube: one sample in each stratum of each input") {
  constexpr std::size_t samples = 37;
  const auto columns = latin_hypercube(samples, 5, 3);
  REQUIRE(columns.size() == 5);
  for (const auto& column : columns) {
    std::vector<int> met(samples, 0);
    for (const double probability : column) {
      REQUIRE(probability > 0);
      REQUIRE(probability < 1);
      ++met[static_cast<std::size_t>(probability * samples)];
    }
    CHECK(std::ranges::all_of(met, [](int count) { return count == 1; }));
  }
}

TEST_CASE("Latin hypercube: another seed, another order; one more input, the others as before") {
  const auto one = latin_hypercube(20, 2, 1);
  CHECK(one != latin_hypercube(20, 2, 2));
  CHECK(one[0] != one[1]);
  const auto more = latin_hypercube(20, 3, 1);
  CHECK(one[0] == more[0]);
  CHECK(one[1] == more[1]);
}
