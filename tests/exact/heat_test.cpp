// A cold resin in a warm mould, and cure that gives off heat, against closed forms. All follow from
// the balance of heat over the thickness and are derived here, no published source; strip of the
// common data: pores 9.6e-4 m2 across, D = 1.25e-3 m2/s at 1e5 Pa, 1 m in 400 s; at 2e-6 m3/s in
// 480 s. Resin rho c = 1100 x 1800 = 1.98e6 J/(m3 K), fibres 2540 x 800 = 2.032e6.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/random_layout.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr double cold = 288.15;
constexpr double warm = 318.15;
constexpr double flow_rate = 2e-6;
/// Time of the thermal front over that of the resin: (phi rho c + Vf rho_f c_f) / (phi rho c).
const double retardation = (0.8 * 1.98e6 + 0.2 * 2.032e6) / (0.8 * 1.98e6);

/// 0.2 Pa s at 15 degC, 0.05 Pa s at 45 degC, straight in ln mu.
TemperatureLaws two_points() {
  return {TabulatedViscosity{{cold, warm}, {std::log(0.2), std::log(0.05)}}};
}

FillProblem heated_strip(double wall, int cells, double fibre_specific_heat = 800) {
  FillProblem problem = strip({.cells = cells});
  problem.resin.density = 1100;
  problem.resin.laws = two_points();
  problem.regions.front().fibre_density = 2540;
  problem.heat = Heat{cold, warm, wall, 1800, fibre_specific_heat};
  return problem;
}

FillProblem at_flow(FillProblem problem) {
  problem.injector.pressure_cap.reset();
  problem.injector.flow_rate = flow_rate;
  return problem;
}

double balance_error(const FillResult& result) {
  REQUIRE(result.heat);
  const HeatBalance& b = result.heat->balance;
  const double size =
      std::abs(b.carried_in) + std::abs(b.reaction) + std::abs(b.stored) + std::abs(b.to_mould);
  return std::abs(b.carried_in + b.reaction - b.stored - b.to_mould - b.carried_out) / size;
}

/// Mean error of the temperature up to 0.4 m, well behind the thermal front at 0.8 m, over the
/// difference at the inlet.
double steady_error(int cells) {
  FillProblem problem = at_flow(heated_strip(20, cells));
  const FillResult result = watched_fill(problem, {.steps = 100});
  CHECK(balance_error(result) < 1e-8);
  const double per_metre = 20 * 0.3 / (1.98e6 * flow_rate); // U W / (rho c Q): 1.515 / m
  double sum = 0;
  for (int i = 1; i <= cells * 2 / 5; ++i) {
    const double x = static_cast<double>(i) / cells;
    const double expected = warm + (cold - warm) * std::exp(-per_metre * x);
    sum += std::abs(result.temperature[across(problem.mesh, x).front()] - expected);
  }
  return sum / (0.4 * cells) / (warm - cold);
}

/// A random layout with heat: mould warm or as the resin, cure of both kinds or of none that warms.
RandomLayout heated_layout(std::uint32_t seed) {
  RandomLayout layout = random_layout(seed);
  FillProblem& problem = layout.problem;
  Resin& resin = problem.resin;
  const double time = 300 * resin.viscosity / 0.2 * (0.5 + 0.5 * (seed % 7));
  resin.density = resin.density.value_or(1100);
  resin.mixing = seed % 3 == 0 ? Mixing::batch : Mixing::inline_head;
  resin.laws = TemperatureLaws{ArrheniusViscosity{resin.viscosity, cold, 40e3}};
  resin.laws.highest = cold + 60;
  problem.heat = Heat{cold, seed % 2 == 0 ? warm : cold, 10.0 * (seed % 5), 1800, 800};
  problem.heat->heat_of_cure = seed % 4 == 0 ? 0 : 3e5;
  for (Region& region : problem.regions) {
    region.fibre_density = 2540;
  }
  CureKinetics kinetics;
  kinetics.is_autocatalytic = seed % 4 == 1;
  const double factor = std::exp(50e3 / (gas_constant * cold)) / time;
  kinetics.rate_1 = {kinetics.is_autocatalytic ? 0.05 * factor : factor, 50e3};
  kinetics.rate_2 = {2 * factor, 50e3};
  kinetics.gel_conversion = 0.6;
  resin.laws.cure = kinetics;
  const CureCourse course = cure_course(law_at(kinetics, cold), 0.6);
  resin.gel_time = course.gel_age();
  if (seed % 2 == 1) {
    resin.thickening = CureThickening{course, 1.5, 1};
  }
  return layout;
}

} // namespace

TEST_CASE("Steady flow past the wall: temperature approaches the mould's exponentially") {
  const std::array<double, 3> errors{steady_error(40), steady_error(80), steady_error(160)};
  CHECK(errors[2] < 0.004);
  for (std::size_t i = 1; i < errors.size(); ++i) {
    const double order = std::log2(errors[i - 1] / errors[i]);
    CHECK(order > 0.85);
    CHECK(order < 1.15);
  }
}

TEST_CASE("Without exchange the thermal front lags behind the resin's by what fibres store") {
  // At the end resin is at 1 m, its cold at 1 / 1.25657 = 0.79582 m; in front of that it has the
  // fibres' temperature. Half the difference is where it is cold up to.
  CHECK(retardation == doctest::Approx(1.25657).epsilon(1e-5));
  const FillProblem problem = at_flow(heated_strip(0, 400));
  const FillResult result = watched_fill(problem, {.steps = 400});
  double half = 0;
  for (int i = 0; i <= 400; ++i) {
    const double x = i / 400.0;
    half = result.temperature[across(problem.mesh, x).front()] < (cold + warm) / 2 ? x : half;
  }
  CHECK(relative_error(half, 1 / retardation) < 0.01);
  CHECK(result.temperature[across(problem.mesh, 0.4).front()] ==
        doctest::Approx(cold).epsilon(1e-6));
  CHECK(result.temperature[across(problem.mesh, 1).front()] == doctest::Approx(warm).epsilon(1e-5));
  CHECK(balance_error(result) < 1e-8);
  REQUIRE(result.heat);
  // 9.6e-4 m3 of resin came in 30 K below the mould, at 1.98e6 J/(m3 K).
  CHECK(relative_error(result.heat->balance.carried_in, -9.6e-4 * 1.98e6 * 30) < 1e-9);
}

TEST_CASE("At constant pressure a warm mould fills faster: viscosity weighted over the way") {
  // Thick up to the thermal front, thin beyond: the time is that of one viscosity, their mean over
  // the way: 400 s x (0.79582 x 0.2 + 0.20418 x 0.05) / 0.2 = 338.75 s.
  const double expected = 400 * (1 / retardation + (1 - 1 / retardation) * 0.25);
  CHECK(expected == doctest::Approx(338.745).epsilon(1e-5));
  const auto time = [](int cells) {
    return watched_fill(heated_strip(0, cells), {.steps = cells}).fill_time.value_or(0);
  };
  // The jump is blurred over sqrt(cell x way), and in between ln mu is on a straight line, below
  // mu.
  const double coarse = relative_error(time(100), expected);
  const double fine = relative_error(time(400), expected);
  CHECK(coarse < 0.05);
  CHECK(fine < 0.6 * coarse);
}

TEST_CASE("The mould's temperature at once, or never") {
  // 1e5 W/(m2 K): warm from the gate on, 0.05 Pa s but for the gate itself; without exchange and
  // with fibres that store nothing: 0.2 Pa s.
  CHECK(relative_error(watched_fill(heated_strip(1e5, 200), {}).fill_time.value_or(0), 100) < 0.02);
  const double drum = watched_fill(heated_strip(0, 200, 1e-6), {}).fill_time.value_or(0);
  FillProblem plain = heated_strip(0, 200);
  plain.heat.reset();
  CHECK(relative_error(drum, watched_fill(plain, {}).fill_time.value_or(0)) < 1e-6);
  CHECK(relative_error(drum, 400) < 1e-3);
}

TEST_CASE("At constant flow the pressure is that of the viscosities on the way") {
  // Fibres that store nothing: T(x) = Tm + (Tin - Tm) exp(-x U W / (rho c Q)) behind the front at
  // any time. p = Q / (K W h) integral of mu(T(x)) dx, by the midpoint rule.
  constexpr double wall = 20;
  double integral = 0;
  for (int i = 0; i < 10000; ++i) {
    const double x = (i + 0.5) / 10000;
    const double to_warm = 1 - std::exp(-x * wall * 0.3 / (1.98e6 * flow_rate)); // of the 30 K
    integral += 0.2 * std::exp(-to_warm * std::log(4.0)) / 10000;
  }
  const double expected = flow_rate / (2e-9 * 1.2e-3) * integral;
  CHECK(expected < 0.7 * 166666.667);
  const FillResult result = watched_fill(at_flow(heated_strip(wall, 400, 1e-6)), {.steps = 400});
  CHECK(relative_error(result.history.back().head_pressure, expected) < 0.01);
}

TEST_CASE("Bleeding on with heat: the thermal front goes on to the end of the part") {
  // Cold up to x, warm beyond: Q = 1.2e-6 m3/s / (0.25 + 0.75 x). All is full with x = 1 / 1.25657;
  // that goes to 1 as 1.25657 dx pores of resin pass: 800 s x 1.25657 times the integral of
  // 0.25 + 0.75 x. The rest of one part's worth runs out at 1.2e-6 m3/s.
  const double x = 1 / retardation;
  const double to_end = 800 * retardation * (0.25 * (1 - x) + 0.375 * (1 - x * x));
  const double expected = to_end + 800 * (1 - retardation * (1 - x));
  CHECK(expected == doctest::Approx(784.28).epsilon(1e-4));
  const auto took = [](int cells, int steps) {
    FillProblem problem = heated_strip(0, cells);
    add_vent(problem, 1).bleed = 9.6e-4;
    const FillResult result = watched_fill(problem, {.steps = steps});
    CHECK(balance_error(result) < 1e-8);
    REQUIRE(result.bleeding);
    return result.bleeding->ended_at.value_or(0) - result.fill_time.value_or(0);
  };
  const double coarse = took(100, 100);
  CHECK(relative_error(coarse, expected) < 0.02);
  CHECK(relative_error(took(400, 400), expected) < 0.6 * relative_error(coarse, expected));
  // On one mesh halving the steps converges.
  const double fine = took(100, 320);
  const double error_10 = relative_error(took(100, 10), fine);
  const double error_20 = relative_error(took(100, 20), fine);
  CHECK(error_10 < 0.01);
  CHECK(error_20 < 0.5 * error_10);
  CHECK(relative_error(took(100, 40), fine) < 0.5 * error_20);
}

TEST_CASE("Long bleeding comes to the steady flow past the wall") {
  // Q integral of mu(T(x)) dx = K W h dp, with T(x) as behind the front at that flow.
  double flow = 1.2e-6;
  for (int pass = 0; pass < 100; ++pass) {
    double integral = 0;
    for (int i = 0; i < 1000; ++i) {
      const double x = (i + 0.5) / 1000;
      const double to_warm = 1 - std::exp(-x * 20 * 0.3 / (1.98e6 * flow));
      integral += 0.2 * std::exp(-to_warm * std::log(4.0)) / 1000;
    }
    flow = 0.5 * (flow + 2e-9 * 1.2e-3 * 1e5 / integral);
  }
  FillProblem problem = heated_strip(20, 200);
  add_vent(problem, 1).bleed = 20 * 9.6e-4;
  const FillResult result = watched_fill(problem);
  CHECK(relative_error(result.history.back().flow_rate, flow) < 0.01);
  CHECK(result.work.steps < 600);
}

TEST_CASE("Bleeding on with heat, the way to the gel is that of what is in the part") {
  // Past a wall that takes nothing, 480 s from end to end, in the 480 s in which as much runs out.
  FillProblem problem = at_flow(heated_strip(0, 100));
  problem.resin.mixing = Mixing::inline_head;
  problem.resin.gel_time = 700;
  add_vent(problem, 1).bleed = 9.6e-4;
  const FillResult result = watched_fill(problem);
  REQUIRE(result.heat);
  CHECK(relative_error(result.heat->gel_share, 480.0 / 700) < 0.02);
}

TEST_CASE("Cure without exchange warms by phi rho H / (rho c of all)") {
  // Filled half way in 240 s, then the gate closes and the resin cures through where it is. H = 200
  // kJ/kg: 0.8 x 1100 x 2e5 / (0.8 x 1.98e6 + 0.2 x 2.032e6) = 88.4244 K.
  FillProblem problem = at_flow(heated_strip(0, 50));
  problem.heat->inlet_temperature = warm;
  problem.heat->heat_of_cure = 2e5;
  problem.gates.front().closes.time = 240;
  add_gate(problem, 1).opens.time = 2e6;
  CureKinetics kinetics;
  kinetics.rate_1 = {1e-5, 0};
  kinetics.gel_conversion = 0.6;
  problem.resin.laws.cure = kinetics;
  problem.resin.gel_time = -std::log(0.4) / 1e-5;
  problem.resin.mixing = Mixing::inline_head; // a batch would cure in its pot too
  const FillResult result = watched_fill(problem, {.steps = 50, .time_limit = 1.9e6});
  constexpr double rise = 0.8 * 1100 * 2e5 / (0.8 * 1.98e6 + 0.2 * 2.032e6);
  CHECK(rise == doctest::Approx(88.4244).epsilon(1e-5));
  const NodeId node = across(problem.mesh, 0.2).front();
  CHECK(result.conversion[node] == doctest::Approx(1).epsilon(1e-6));
  CHECK(relative_error(result.temperature[node] - warm, rise) <
        2e-3); // what it gave off on its way
  CHECK(balance_error(result) < 1e-8);
  // All that was injected has cured: 4.8e-4 m3 x 1100 x 2e5 J.
  CHECK(relative_error(result.heat->balance.reaction, 4.8e-4 * 1100 * 2e5) < 1e-6);
}

TEST_CASE("While two gates of one pump give nothing there is no hottest place") {
  // The air is at more than their pump can do; then a third one opens that can do more. Between the
  // two of them resin may go to and fro.
  FillProblem problem = heated_strip(20, 40);
  problem.injector.pressure_cap = 5e4;
  problem.cavity_pressure = 1e5;
  add_gate(problem, 0.5);
  Gate& late = add_gate(problem, 1);
  late.own_injector = Injector{.flow_rate = flow_rate, .pressure_cap = 6e5};
  late.opens.time = 100;
  const FillResult result = fill(problem);
  REQUIRE(result.heat);
  CHECK(result.heat->highest >= std::ranges::max(result.temperature, {}, [](double kelvin) {
          return std::isnan(kelvin) ? 0 : kelvin;
        }));
  CHECK(result.heat->highest_at > 100);
}

TEST_CASE("Conversion of a plug at the mould's temperature") {
  // k = 2e5 exp(-50e3 / (R T)): 1.236e-3 1/s at 45 degC, which it has from the first cell on. Mixed
  // in the head, it is 480 s x old at x.
  FillProblem problem = at_flow(heated_strip(1e5, 200));
  CureKinetics kinetics;
  kinetics.rate_1 = {2e5, 50e3};
  kinetics.gel_conversion = 0.9;
  problem.resin.laws.cure = kinetics;
  problem.resin.gel_time = -std::log(0.1) / (2e5 * std::exp(-50e3 / (8.314462618 * cold)));
  problem.resin.mixing = Mixing::inline_head;
  const FillResult result = watched_fill(problem, {.steps = 200});
  const double rate = 2e5 * std::exp(-50e3 / (8.314462618 * warm));
  for (const double x : {0.25, 0.5, 0.75}) {
    const double expected = 1 - std::exp(-rate * 480 * x);
    CHECK(relative_error(result.conversion[across(problem.mesh, x).front()], expected) < 0.02);
  }
  CHECK(balance_error(result) < 1e-8);
}

TEST_CASE("Gel times over the temperature: the front gels at the mould's") {
  // 20 min at 15 degC, 5 min at 45 degC; the resin is warm at once: 300 s of the 480.
  FillProblem problem = at_flow(heated_strip(1e5, 200));
  problem.resin.gel_time = 1200;
  problem.resin.laws.gel = GelTable{{cold, warm}, {0.02}, {std::log(1200.0), std::log(300.0)}};
  problem.resin.laws.catalyst = 0.02;
  const FillResult result = fill(problem, {.steps = 200});
  CHECK(result.work.largest_residual < 1e-7); // gelled cells stand beside thin ones
  CHECK(result.reason == ShortReason::gel);
  CHECK(relative_error(result.end_time, 300) < 0.01);
  CHECK(relative_error(result.resin_in_part, 300 * flow_rate) < 0.01);
}

TEST_CASE("One temperature is a filling without heat, to the bit") {
  FillProblem plain = heated_strip(50, 60);
  plain.heat.reset();
  plain.resin.gel_time = 5000;
  FillProblem heated = plain;
  heated.heat = Heat{cold, cold, 50, 1800, 800};
  const FillResult a = watched_fill(plain, {});
  const FillResult b = watched_fill(heated, {});
  CHECK(a.fill_time == b.fill_time);
  CHECK(std::ranges::equal(a.fill_time_field, b.fill_time_field));
  CHECK(std::ranges::equal(a.pressure, b.pressure));
  REQUIRE(b.heat);
  CHECK(b.heat->highest == cold);
}

TEST_CASE("A billionth of a kelvin apart all goes through the balance and comes out the same") {
  FillProblem plain = heated_strip(50, 60);
  plain.heat.reset();
  plain.resin.mixing = Mixing::inline_head;
  plain.resin.thickening = PowerThickening{900, 1.5};
  plain.resin.gel_time = 900;
  FillProblem heated = plain;
  heated.heat = Heat{cold, cold + 1e-9, 50, 1800, 800};
  const FillResult a = watched_fill(plain, {});
  const FillResult b = watched_fill(heated, {});
  REQUIRE(a.fill_time);
  REQUIRE(b.fill_time);
  CHECK(relative_error(*a.fill_time, *b.fill_time) < 0.01);
}

TEST_CASE("Random layouts with heat fill, or say why not, and lose neither resin nor heat") {
  for (std::uint32_t seed = 1; seed <= seeds_tried(60); ++seed) {
    const RandomLayout layout = heated_layout(seed);
    const std::string faults = faults_of_filling(layout);
    CHECK_MESSAGE(faults.empty(), "seed " << seed << ": " << faults);
    const FillResult result = fill(layout.problem, layout.options);
    if (result.heat && has_unequal_temperatures(layout.problem)) {
      CHECK_MESSAGE(balance_error(result) < 1e-6, "seed " << seed);
      CHECK(result.heat->highest < layout.problem.heat->mould_temperature + 400);
      CHECK(result.heat->highest > cold - 1e-6);
    }
  }
}
