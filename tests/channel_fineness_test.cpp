#include "io/channel_fineness.hpp"

#include "mesh/error.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>

using namespace tidemark;

TEST_CASE("channel fineness: laminate on one side, by hand") {
  FillProblem problem = sample_case().problem;
  // Below the square of 1 m: 0.75 * 4 mm * 0.5 m * 1 m = 1.5e-3 m3 beside 5e-3 m3 of gap.
  const Channel rim{"rim", {{NodeId(0), NodeId(1)}}, {5e-3}, {1e-6}};
  CHECK(channel_delay(problem, rim).factor == doctest::Approx(1.3));
  CHECK(channel_delay(problem, rim).across == doctest::Approx(1));
}

TEST_CASE("channel fineness: laminate on both sides, a quadrilateral and a triangle, by hand") {
  FillProblem problem = sample_case().problem;
  // Besides the square a triangle 1 m high: 0.5 * 2 mm * 0.5 m * 1 m = 0.5e-3 m3 more.
  const Channel middle{"middle", {{NodeId(4), NodeId(1)}}, {5e-3}, {1e-6}};
  CHECK(channel_delay(problem, middle).factor == doctest::Approx(1.4));
  CHECK(channel_delay(problem, middle).across == doctest::Approx(1));
}

TEST_CASE("channel fineness: a note for what is coarse, none for what is not") {
  FillProblem problem = sample_case().problem;
  problem.channels = {{"wide", {{NodeId(0), NodeId(1)}}, {1e-2}, {1e-6}}, // 1.15
                      {"middle", {{NodeId(1), NodeId(4)}}, {5e-3}, {1e-6}}};
  std::vector<std::string> notes = channel_notes(problem, 1);
  REQUIRE(notes.size() == 1);
  // 1 m * 0.1 / 0.4
  CHECK(notes[0] == "The front in the race track \"middle\" comes up to about 1.4 times too late: "
                    "half of each element beside it fills with it. Elements 250 mm across instead "
                    "of 1000 mm bring that to 1.1.");
  notes = channel_notes(problem, 2);
  REQUIRE(notes.size() == 1);
  CHECK(says(notes[0], "in the runner \"middle\""));
}

TEST_CASE("channel fineness: a segment that is no edge of the mesh") {
  const FillProblem problem = sample_case().problem;
  const Channel off{"off", {{NodeId(0), NodeId(4)}}, {5e-3}, {1e-6}};
  CHECK_THROWS_AS(channel_delay(problem, off), InputError);
}
