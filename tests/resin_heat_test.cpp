// Heat in single cells, worked out by hand.
#include "solver/resin_heat.hpp"

#include "support/closeness.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

TEST_CASE("a vessel that only loses goes down exponentially") {
  // w = 2, loss 1: x1 = 5 exp(-1/2), mean 5 (1 - exp(-1/2)) / (1/2).
  const StirredState state = stir({2, 2, 0, 0, 1, 0}, 5);
  CHECK(relative_error(state.at_end, 5 * std::exp(-0.5)) < 1e-14);
  CHECK(relative_error(state.mean, 10 * (1 - std::exp(-0.5))) < 1e-13);
  // However long: to what surrounds it, never beyond.
  CHECK(stir({2, 2, 0, 0, 1e6, 0}, 5).at_end == 0);
  // Nothing at all.
  CHECK(stir({2, 2, 0, 0, 0, 0}, 5).at_end == 5);
  CHECK(stir({2, 2, 0, 0, 0, 0}, 5).mean == 5);
}

TEST_CASE("a vessel that is flushed takes on what comes in") {
  // w = 1, inflow 3 of x = 4: x1 = 4 - 4 exp(-3).
  CHECK(relative_error(stir({1, 1, 3, 12, 0, 0}, 0).at_end, 4 * (1 - std::exp(-3.0))) < 1e-14);
  // A source alone: x1 = x0 + 2, the mean x0 + 1.
  const StirredState heated = stir({1, 1, 0, 0, 0, 2}, 3);
  CHECK(relative_error(heated.at_end, 5) < 1e-14);
  CHECK(relative_error(heated.mean, 4) < 1e-14);
}

TEST_CASE("a vessel that fills mixes, and keeps its account") {
  // From 1 to 3 with 2 of x = 6, nothing leaves: (1 x 3 + 12) / 3 = 5.
  CHECK(relative_error(stir({1, 3, 2, 12, 0, 0}, 3).at_end, 5) < 1e-14);
  // From empty: what comes in, whatever x was.
  CHECK(relative_error(stir({0, 2, 2, 12, 0, 0}, 99).at_end, 6) < 1e-14);
  // From empty with a loss 2 beside the inflow 2: x = 12 / 4 all along.
  const StirredState cooled = stir({0, 2, 2, 12, 2, 0}, 99);
  CHECK(relative_error(cooled.at_end, 3) < 1e-14);
  CHECK(relative_error(cooled.mean, 3) < 1e-14);
  // w1 x1 = w0 x0 + carried + source - (inflow - w1 + w0 + loss) mean.
  const StirredState state = stir({1, 1.5, 2, 8, 0.7, 0.3}, 10);
  CHECK(relative_error(1.5 * state.at_end, 10 + 8 + 0.3 - (2 - 0.5 + 0.7) * state.mean) < 1e-13);
  CHECK(state.mean < 10);
  CHECK(state.mean > 8.3 / 2.7);
}

TEST_CASE("conversion and age are each other's inverse on a course") {
  // First order: t = -ln(1 - alpha) / k.
  const CureCourse course = cure_course(FirstOrderCure{1e-3}, 0.6);
  for (const double alpha : {0.01, 0.2, 0.5}) {
    CHECK(relative_error(age_at(course, alpha), -std::log(1 - alpha) / 1e-3) < 1e-4);
  }
  CHECK(age_at(course, 0) == 0);
  CHECK(age_at(course, 0.7) == course.gel_age());
}

TEST_CASE("kinetics at a temperature") {
  // 4e5 exp(-50e3 / (8.314463 x 300)) = 4e5 x 1.9666e-9.
  CureKinetics kinetics;
  kinetics.rate_1 = {4e5, 50e3};
  const double expected = 4e5 * std::exp(-50e3 / (8.31446261815324 * 300));
  CHECK(relative_error(cure_rate(law_at(kinetics, 300), 0.5), 0.5 * expected) < 1e-13);
  kinetics.is_autocatalytic = true;
  kinetics.rate_2 = {2e-3, 0};
  kinetics.exponent_m = 1;
  kinetics.exponent_n = 2;
  CHECK(relative_error(cure_rate(law_at(kinetics, 300), 0.5), (expected + 1e-3) * 0.25) < 1e-13);
}
