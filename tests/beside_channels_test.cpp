#include "solver/beside_channels.hpp"

#include "tests/support/sample_run.hpp"

#include <doctest/doctest.h>

using namespace tidemark;

TEST_CASE("beside channels: laminate on one side, by hand") {
  FillProblem problem = sample_case().problem;
  // Below the square of 1 m: 0.75 * 4 mm * 0.5 m * 1 m = 1.5e-3 m3 beside 5e-3 m3 of gap.
  const Channel rim{"rim", {{NodeId(0), NodeId(1)}}, {5e-3}, {1e-6}};
  CHECK(delay_by_laminate(problem, rim) == doctest::Approx(1.3));
}

TEST_CASE("beside channels: laminate on both sides, a quadrilateral and a triangle, by hand") {
  FillProblem problem = sample_case().problem;
  // Besides the square a triangle 1 m high: 0.5 * 2 mm * 0.5 m * 1 m = 0.5e-3 m3 more.
  const Channel middle{"middle", {{NodeId(4), NodeId(1)}}, {5e-3}, {1e-6}};
  CHECK(delay_by_laminate(problem, middle) == doctest::Approx(1.4));
}

TEST_CASE("beside channels: a segment that is no edge of the mesh has nothing beside it") {
  const FillProblem problem = sample_case().problem;
  const Channel off{"off", {{NodeId(0), NodeId(4)}}, {5e-3}, {1e-6}};
  CHECK(delay_by_laminate(problem, off) == 1);
}
