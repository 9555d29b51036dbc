#include "io/statistics.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;

namespace {

bool is_close(double value, double expected, double tolerance = 1e-12) {
  return std::abs(value - expected) <= tolerance;
}

} // namespace

TEST_CASE("statistics: mean, deviation and standard error") {
  const std::vector<double> values{2, 4, 4, 4, 5, 5, 7, 9}; // mean 5, squares 32
  CHECK(mean_of(values) == 5);
  CHECK(is_close(standard_deviation(values), std::sqrt(32.0 / 7)));
  CHECK(is_close(standard_error(values), std::sqrt(32.0 / 7 / 8)));
  CHECK(standard_deviation({3}) == 0);
}

TEST_CASE("statistics: quantiles lie on straight lines between the order statistics") {
  const std::vector<double> values{40, 10, 30, 20};
  CHECK(quantile(values, 0) == 10);
  CHECK(quantile(values, 1) == 40);
  CHECK(quantile(values, 0.5) == 25);
  CHECK(is_close(quantile(values, 0.1), 13)); // (4 - 1) 0.1 = 0.3 of the way from 10 to 20
  CHECK(quantile({7}, 0.3) == 7);
}

TEST_CASE("statistics: the interval of a median is that of the tables") {
  // Of 10 values the 2nd and the 9th hold the median with 97.9 %, of 20 the 6th and the 15th with
  // 95.9 % (binomial law with p = 1/2: 2 (1 + 10) / 1024; textbooks on rank methods, from memory).
  std::vector<double> values;
  for (int i = 1; i <= 10; ++i) {
    values.push_back(i);
  }
  CHECK(quantile_interval(values, 0.5).low == 2);
  CHECK(quantile_interval(values, 0.5).high == 9);
  for (int i = 11; i <= 20; ++i) {
    values.push_back(i);
  }
  CHECK(quantile_interval(values, 0.5).low == 6);
  CHECK(quantile_interval(values, 0.5).high == 15);
  // 20 values cannot bound the 99 % quantile from above: 0.99^20 = 0.82 lie below it.
  CHECK(quantile_interval(values, 0.99).high == 20);
  CHECK(quantile_interval({3}, 0.5).low == 3);
}

TEST_CASE("statistics: the interval of a probability is that of the handbook") {
  // NIST/SEMATECH e-Handbook of Statistical Methods 7.2.4.1, 4 defectives of 20, 90 %: 0.071354
  // and 0.401029 (from memory; the tail sums of the binomial law agree to 1e-6).
  const ConfidenceInterval handbook = probability_interval(4, 20, 0.90);
  CHECK(is_close(handbook.low, 0.071354, 2e-6));
  CHECK(is_close(handbook.high, 0.401029, 2e-6));
  // None of n: the upper end p has (1 - p)^n = 0.025.
  CHECK(probability_interval(0, 10).low == 0);
  CHECK(is_close(probability_interval(0, 10).high, 1 - std::pow(0.025, 0.1), 1e-12));
  CHECK(is_close(probability_interval(10, 10).low, std::pow(0.025, 0.1), 1e-12));
  CHECK(probability_interval(10, 10).high == 1);
  // 10 of 100: 4.90 % to 17.62 % (tables of Clopper & Pearson's intervals, from memory; the tail
  // sums agree).
  CHECK(is_close(probability_interval(10, 100).low, 0.0490047, 1e-6));
  CHECK(is_close(probability_interval(10, 100).high, 0.1762226, 1e-6));
}

TEST_CASE("statistics: ranks, equal values sharing theirs") {
  CHECK(ranks_of({10, 30, 20}) == std::vector<double>{1, 3, 2});
  CHECK(ranks_of({5, 1, 5, 5}) == std::vector<double>{3, 1, 3, 3});
}

TEST_CASE("statistics: rank correlation on a known case") {
  // One of each pair of ranks differs by 1: 1 - 6 sum d^2 / (n (n^2 - 1)) = 1 - 6 x 4 / 120 = 0.8
  // (Spearman 1904).
  CHECK(is_close(rank_correlation({1, 2, 3, 4, 5}, {20, 10, 40, 30, 500}), 0.8));
  CHECK(is_close(rank_correlation({1, 2, 3, 4}, {1, 8, 27, 64}), 1));
  CHECK(is_close(rank_correlation({1, 2, 3, 4}, {-1, -8, -27, -64}), -1));
  CHECK(rank_correlation({1, 2, 3}, {4, 4, 4}) == 0);
  // Tables of the correlation coefficient at 5 % and 1 % for 10 degrees of freedom: 0.576, 0.708;
  // five inputs take the latter.
  CHECK(std::abs(chance_correlation(12, 1) - 0.576) < 5e-4);
  CHECK(std::abs(chance_correlation(12, 5) - 0.708) < 5e-4);
  CHECK(std::abs(chance_correlation(101, 1) - 0.1956) < 5e-5);
  CHECK(chance_correlation(2, 1) == 1);
}

TEST_CASE("statistics: rank regression tells inputs apart") {
  // A full factorial of two inputs with three levels: uncorrelated, so that each coefficient is the
  // rank correlation, and y = 3 a + b is ranked as 3 a + b itself.
  std::vector<double> a;
  std::vector<double> b;
  std::vector<double> y;
  for (int i = 0; i < 3; ++i) {
    for (int j = 0; j < 3; ++j) {
      a.push_back(i);
      b.push_back(j);
      y.push_back(3 * i + j);
    }
  }
  // Ranks 1 to 9 of variance 60/9; those of a are 2, 5, 8 of variance 6: sqrt(0.9), b sqrt(0.1).
  const RankRegression regression = rank_regression({a, b}, y);
  CHECK(is_close(regression.coefficients[0], std::sqrt(0.9)));
  CHECK(is_close(regression.coefficients[1], std::sqrt(0.1)));
  CHECK(is_close(regression.determination, 1));
}

TEST_CASE("statistics: an input that does not vary, and one too many") {
  const std::vector<double> y{1, 2, 3, 4, 5};
  const std::vector<double> same(5, 1.0);
  const RankRegression regression = rank_regression({y, same}, y);
  CHECK(is_close(regression.coefficients[0], 1));
  CHECK(is_close(regression.coefficients[1], 0));
  CHECK(rank_regression({y, y, y, y}, y).determination == 0);
  CHECK(rank_regression({}, y).coefficients.empty());
}
