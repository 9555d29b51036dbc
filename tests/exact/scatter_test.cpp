// What a scatter of the permeability does to a strip at constant pressure is known: t goes as 1/K,
// so that the law of t follows from that of K.
#include "io/scatter_run.hpp"
#include "io/scatter_summary.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <functional>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr std::size_t samples = 150;

/// A strip whose permeability scatters.
Case strip_case(RandomLaw law, double variation) {
  Case input = sample_case();
  input.problem = strip({.cells = 25});
  input.scatter.inputs = {{.kind = ScatteredInput::Kind::permeability,
                           .part = 0,
                           .name = "permeability of strip",
                           .column = "permeability_factor[strip]",
                           .law = law,
                           .spread = variation}};
  input.scatter.layups.resize(input.problem.regions.size());
  return input;
}

std::vector<ScatterSample> computed(const Case& input) {
  const ScatterPlan plan = plan_scatter(input, samples, 11);
  std::vector<ScatterSample> result;
  for (std::size_t number = 1; number <= samples; ++number) {
    const auto sample = computed_sample(input, plan, number, {}, [] { return true; });
    REQUIRE(sample);
    REQUIRE(sample->state == SampleState::filled);
    result.push_back(*sample);
  }
  return result;
}

/// Largest distance between the steps of the samples and a distribution function.
double kolmogorov_smirnov(std::vector<double> values, const std::function<double(double)>& below) {
  std::ranges::sort(values);
  double largest = 0;
  const auto n = static_cast<double>(values.size());
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double expected = below(values[i]);
    largest = std::max({largest, expected - static_cast<double>(i) / n,
                        static_cast<double>(i + 1) / n - expected});
  }
  return largest;
}

std::vector<double> times_of(const std::vector<ScatterSample>& all) {
  std::vector<double> times;
  for (const ScatterSample& sample : all) {
    times.push_back(sample.fill_time.value());
  }
  return times;
}

/// t0 = L^2 / (2 D) = 400 s with D = K dp / (mu phi) = 1.25e-3 m2/s (1-D filling, textbook).
constexpr double mean_k_time = 400;

/// Kolmogorov and Smirnov at 1 %: 1.63 / sqrt(n) (tables, from memory).
const double most_distance = 1.63 / std::sqrt(static_cast<double>(samples));

void check_figures(const Case& input, const std::vector<ScatterSample>& all, double mean,
                   double median, double q95) {
  const ScatterSummary summary = summarise_scatter(input, all);
  const Distribution& time = summary.distributions.front();
  REQUIRE(std::string(time.key) == "fill_time_s");
  CHECK(std::abs(time.mean - mean) < 3 * time.standard_error);
  CHECK(time.quantiles[2].interval.low < median);
  CHECK(median < time.quantiles[2].interval.high);
  CHECK(time.quantiles[4].interval.low < q95);
  CHECK(q95 < time.quantiles[4].interval.high);
  // One input alone, all order: nothing else matters.
  CHECK(summary.importance.front().weights.front().rank_correlation < -0.999999);
  CHECK(summary.short_fill.events == 0);
}

} // namespace

TEST_CASE("scatter: lognormal K on a strip makes lognormal times") {
  // ln t = ln t0 - ln f: normal with mean ln t0 + s^2 / 2 and variance s^2 = ln(1 + v^2). Mean
  // t0 (1 + v^2), median t0 sqrt(1 + v^2).
  const double v = 0.5;
  const double s = std::sqrt(std::log(1.25));
  const Case input = strip_case(RandomLaw::lognormal, v);
  const std::vector<ScatterSample> all = computed(input);
  const auto below = [&](double t) {
    const double score = (std::log(t / mean_k_time) - s * s / 2) / s;
    return std::erfc(-score / std::sqrt(2.0)) / 2;
  };
  CHECK(kolmogorov_smirnov(times_of(all), below) < most_distance);
  const double median = mean_k_time * std::sqrt(1.25);
  check_figures(input, all, mean_k_time * 1.25, median, median * std::exp(1.644854 * s));
}

TEST_CASE("scatter: gamma K on a strip makes inverse gamma times") {
  // Shape 4 (v = 1/2): P(f < x) = 1 - exp(-4 x) (1 + 4 x + (4 x)^2 / 2 + (4 x)^3 / 6) (Erlang).
  // Mean of 1 / f: 4 / 3. Quantiles of f from chi square with 8 degrees of freedom over 8: median
  // 7.344, 5 % 2.733 (NIST/SEMATECH e-Handbook, table 1.3.6.7.4; the median from memory).
  const Case input = strip_case(RandomLaw::gamma, 0.5);
  const std::vector<ScatterSample> all = computed(input);
  const auto below = [](double t) {
    const double x = 4 * mean_k_time / t;
    return std::exp(-x) * (1 + x + x * x / 2 + x * x * x / 6); // f > t0 / t
  };
  CHECK(kolmogorov_smirnov(times_of(all), below) < most_distance);
  check_figures(input, all, mean_k_time * 4 / 3, mean_k_time * 8 / 7.344, mean_k_time * 8 / 2.733);
}

TEST_CASE("scatter: along a strip the time is the mean of the resistance on the way") {
  // t = phi mu / dp times the integral of the way behind: integral over x of the integral up to x
  // of 1 / K. For K = K0 everywhere half L^2; the sample's own field is put in here.
  Case input = strip_case(RandomLaw::lognormal, 0.5);
  input.scatter.inputs[0].correlation_length = 0.15;
  const ScatterPlan plan = plan_scatter(input, 10, 3);
  const DrawnProblem drawn = drawn_problem(input, plan, 4);
  const std::size_t cells = 25;
  std::vector<double> resistance(cells, 0.0); // of each column of elements, 1 / factor
  double nominal = input.problem.regions[0].permeability_1;
  std::vector<std::size_t> count(cells, 0);
  for (const ElementId element : drawn.problem.element_region.ids()) {
    const double x = element_centre(drawn.problem.mesh, element).x();
    const auto column = static_cast<std::size_t>(x * cells);
    resistance[column] += nominal / reinforcement_at(drawn.problem, element).permeability_1;
    ++count[column];
  }
  double behind = 0;
  double integral = 0;
  for (std::size_t column = 0; column < cells; ++column) {
    const double own = resistance[column] / static_cast<double>(count[column]) / cells;
    integral += (behind + own / 2) / cells;
    behind += own;
  }
  const auto sample = computed_sample(input, plan, 4, {}, [] { return true; });
  REQUIRE(sample);
  CHECK(relative_error(sample->fill_time.value(), 2 * mean_k_time * integral) < 0.02);
  CHECK(relative_error(integral, 0.5) > 0.02); // and the field is felt
}

TEST_CASE("Scatter: a little that stays dry with its air shut in may be allowed") {
  // 1 m of 9.6e-4 m3, closed at the far end, air at 2e4 Pa against 2e5 Pa, absolute: a tenth stays
  // dry, and the front comes to rest there.
  Case input = strip_case(RandomLaw::lognormal, 0.01);
  input.problem.ambient = 1e5;
  input.problem.injector.pressure_cap = 1e5;
  input.problem.cavity_pressure = -8e4;
  input.problem.sealed_air = true;
  const ScatterPlan plan = plan_scatter(input, 4, 11);
  const auto sample_with = [&](double allowed) {
    return computed_sample(
        input, plan, 1, {}, [] { return true; }, allowed);
  };
  const auto none = sample_with(0);
  REQUIRE(none);
  CHECK(none->state == SampleState::short_fill);
  CHECK(none->reason == "trapped air");
  CHECK(none->dry_spots == 1);
  const auto less = sample_with(9e-5);
  REQUIRE(less);
  CHECK(less->state == SampleState::short_fill);
  const auto enough = sample_with(1e-4);
  REQUIRE(enough);
  CHECK(enough->state == SampleState::filled);
  CHECK(enough->reason.empty());
  CHECK(enough->dry_spots == 0);
  CHECK(enough->dry.empty());
  CHECK(relative_error(enough->left_dry, 9.6e-5) < 0.02);
  CHECK(enough->fill_time.value_or(1e9) <= none->end_time);
  const ScatterSample again = from_record(1, to_record(*enough), input);
  CHECK(again.left_dry == enough->left_dry);
}
