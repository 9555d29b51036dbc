// A batch whose resin is all of one age: the viscosity only rescales time, x^2 = (2 K dp / phi)
// times the integral of dt / mu. Closed forms derived by integrating the front's motion, checked by
// quadrature. Common data: K = 2e-9 m2, mu0 = 0.2 Pa s, phi = 0.8, h = 4 mm, 1e5 Pa above the
// front: D = K dp / (phi mu0) = 1.25e-3 m2/s.
#include "solver/cure.hpp"
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <utility>

using namespace tidemark;
using namespace tidemark::test;

namespace {

FillProblem ageing_strip(Thickening thickening, double length = 1) {
  FillProblem problem = strip({.to = length, .cells = 200});
  problem.resin.thickening = std::move(thickening);
  return problem;
}

/// How far the front is on a strip 0.3 m wide, from the resin in it.
double front_of(const FillResult& result) {
  return result.resin_in_part / (0.8 * 0.3 * 0.004);
}

CureThickening thickening_by(const CureLaw& law, double a, double b) {
  return {cure_course(law, 0.6), a, b};
}

} // namespace

TEST_CASE("A batch that thickens exponentially: times and limits") {
  // x_lim = sqrt(2 D tau).
  const FillProblem fast = ageing_strip(ExponentialThickening{300});
  const CheckedFill stuck = checked_fill(fast);
  CHECK(stuck.verdict == Verdict::short_fill);
  CHECK(stuck.reason == ShortReason::gel);
  CHECK(relative_error(front_of(stuck), 0.866025404) <= 1e-3);
  CHECK(relative_error(time_across(fast, stuck, 0.8), 575.877852) <= 2e-3);

  const CheckedFill filled = checked_fill(ageing_strip(ExponentialThickening{600}));
  REQUIRE(filled.fill_time);
  CHECK(relative_error(*filled.fill_time, 659.167373) <= 1e-3);
}

TEST_CASE("A batch that thickens exponentially in a plate with a round gate") {
  // phi mu0 / (4 K dp) [R^2 (2 ln(R / r0) - 1) + r0^2] = tau: R = 0.472726155 m.
  FillProblem problem = problem_on(annulus(0.01, 0.6, 120, 12, std::numbers::pi / 2), {});
  problem.gates.front().nodes =
      nodes_where(problem.mesh, [](const Vector3& x) { return x.norm() < 0.01 + 1e-9; });
  problem = with_pressure(std::move(problem));
  problem.resin.thickening = ExponentialThickening{300};
  const CheckedFill result = checked_fill(problem);
  CHECK(result.reason == ShortReason::gel);
  const double area = result.resin_in_part / (0.8 * 0.004);
  CHECK(relative_error(std::sqrt(4 * area / std::numbers::pi + 0.01 * 0.01), 0.472726155) <= 3e-3);
}

TEST_CASE("A batch whose viscosity rises as a power of the time left to the gel") {
  // x_lim = sqrt(2 D tg / (n + 1)).
  const auto with_exponent = [](double n, double length) {
    FillProblem problem = ageing_strip(PowerThickening{900, n}, length);
    problem.resin.gel_time = 900;
    return problem;
  };
  const CheckedFill filled = checked_fill(with_exponent(1, 1));
  REQUIRE(filled.fill_time);
  CHECK(relative_error(*filled.fill_time, 600.0) <= 1e-3);
  const CheckedFill stuck = checked_fill(with_exponent(1, 1.2));
  CHECK(stuck.reason == ShortReason::gel);
  CHECK(relative_error(front_of(stuck), 1.06066017) <= 1e-3);
  CHECK(relative_error(front_of(checked_fill(with_exponent(2, 1))), 0.866025404) <= 1e-3);
}

TEST_CASE("A batch that cures by first order, gel at 0.6") {
  // T mu0 = t (1 - 1 / alpha_g) + (1 - exp(-k t)) / (k alpha_g).
  FillProblem problem = ageing_strip(thickening_by(FirstOrderCure{1e-3}, 1, 0));
  problem.resin.gel_time = std::get<CureThickening>(problem.resin.thickening).course.gel_age();
  const CheckedFill result = checked_fill(problem, {.steps = 400});
  CHECK(result.reason == ShortReason::gel);
  CHECK(relative_error(front_of(result), 0.986330969) <= 1e-3);
  CHECK(relative_error(time_across(problem, result, 0.5), 109.665585) <= 2e-3);
  CHECK(relative_error(time_across(problem, result, 0.9), 504.536329) <= 2e-3);
}

TEST_CASE("A batch that cures autocatalytically") {
  const AutocatalyticCure law{1e-4, 4e-3, 1, 1};
  CHECK(relative_error(front_of(checked_fill(ageing_strip(thickening_by(law, 1, 0), 1.4))),
                       1.29307140) <= 1e-3);
  CHECK(relative_error(front_of(checked_fill(ageing_strip(thickening_by(law, 1.5, 1), 1.4))),
                       1.18713851) <= 1e-3);
}

TEST_CASE("A batch at constant flow that meets its cap, exponential") {
  // mu0 exp(t / tau) Q^2 t / (phi K A^2) = cap; then as at constant pressure.
  const auto with_tau = [](double tau) {
    FillProblem problem = ageing_strip(ExponentialThickening{tau});
    problem.injector.flow_rate = 2e-6;
    return checked_fill(problem);
  };
  const CheckedFill slow = with_tau(1200);
  REQUIRE(slow.time_cap_reached);
  REQUIRE(slow.fill_time);
  CHECK(relative_error(*slow.time_cap_reached, 236.485961) <= 0.01);
  CHECK(relative_error(*slow.fill_time, 677.262897) <= 2e-3);
  const CheckedFill middle = with_tau(600);
  REQUIRE(middle.time_cap_reached);
  REQUIRE(middle.fill_time);
  CHECK(relative_error(*middle.time_cap_reached, 204.737903) <= 0.01);
  CHECK(relative_error(*middle.fill_time, 1079.20444) <= 5e-3);
  const CheckedFill fast = with_tau(300);
  REQUIRE(fast.time_cap_reached);
  CHECK(relative_error(*fast.time_cap_reached, 165.747849) <= 0.01);
  CHECK(fast.reason == ShortReason::gel);
  CHECK(relative_error(front_of(fast), 0.742207956) <= 2e-3);
}

TEST_CASE("A batch mixed before the injection gels so much earlier, at an age as if it had stood") {
  // mu0 exp(t / tau) from an age a on is exp(a / tau) mu0 from 0 on: t and T keep, D falls.
  FillProblem early = ageing_strip(ExponentialThickening{600});
  early.resin.mixed_before = 120;
  FillProblem thicker = ageing_strip(ExponentialThickening{600});
  thicker.resin.viscosity *= std::exp(0.2);
  const CheckedFill a = checked_fill(early);
  const CheckedFill b = checked_fill(thicker);
  REQUIRE(a.fill_time);
  REQUIRE(b.fill_time);
  CHECK(relative_error(*a.fill_time, *b.fill_time) <= 1e-9);
  REQUIRE(a.age);
  CHECK(a.age->oldest == doctest::Approx(*a.fill_time + 120).epsilon(1e-12));
  CHECK(a.age->mean == doctest::Approx(*a.fill_time + 120).epsilon(1e-9));

  FillProblem gels = strip();
  gels.resin.gel_time = 300;
  gels.resin.mixed_before = 100;
  const CheckedFill short_fill = checked_fill(gels);
  CHECK(short_fill.reason == ShortReason::gel);
  CHECK(short_fill.end_time == doctest::Approx(200).epsilon(1e-12));
}
