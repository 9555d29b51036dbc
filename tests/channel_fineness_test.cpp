#include "io/channel_fineness.hpp"

#include "tests/support/sample_run.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>

using namespace tidemark;

TEST_CASE("channel fineness: a note for what is coarse, none for what is not") {
  FillProblem problem = sample_case().problem;
  problem.channels = {{"wide", {{NodeId(0), NodeId(1)}}, {1e-2}, {1e-6}}, // 1.15
                      {"middle", {{NodeId(1), NodeId(4)}}, {5e-3}, {1e-6}}};
  std::vector<std::string> notes = channel_notes(problem, 1);
  REQUIRE(notes.size() == 1);
  CHECK(notes[0] == "The front in the race track \"middle\" comes up to 1.4 times too late, most "
                    "where the laminate is tight: half of each element beside it fills with it. "
                    "The option --finer-channels divides these elements.");
  CHECK(is_channel_note(notes[0]));
  CHECK_FALSE(is_channel_note("The front in the runner comes late."));
  notes = channel_notes(problem, 2);
  REQUIRE(notes.size() == 1);
  CHECK(says(notes[0], "in the runner \"middle\""));
}
