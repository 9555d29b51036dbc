// Runners and race tracks of a case file; messages are in bad_input_test.cpp.
#include "support/small_case.hpp"

#include <doctest/doctest.h>

#include <array>
#include <numbers>
#include <string>
#include <vector>

using namespace tidemark;
using namespace tidemark::small_case;

namespace {

const std::string whole = head + two_regions + resin_and_injector + gate + vent;

std::string runner_text(const std::string& keys) {
  return "[[runner]]\nname = \"R1\"\n" + keys;
}

std::string track_text(const std::string& keys) {
  return "[[race_track]]\nname = \"T1\"\ngap = \"2 mm\"\n" + keys;
}

Channel channel_with(const std::string& text) {
  const Outcome outcome = outcome_of(whole + text);
  CHECK(outcome.errors.empty());
  CHECK(outcome.warnings.empty());
  REQUIRE(outcome.problem.channels.size() == 1);
  return outcome.problem.channels[0];
}

using Segments = std::vector<std::array<NodeId, 2>>;

Segments chain(const std::vector<int>& nodes) {
  Segments segments;
  for (std::size_t i = 0; i + 1 < nodes.size(); ++i) {
    segments.push_back({NodeId(nodes[i]), NodeId(nodes[i + 1])});
  }
  return segments;
}

} // namespace

TEST_CASE("a runner of round bore along a group of lines") {
  const Channel channel = channel_with(runner_text("group = \"edge\"\nbore = \"8 mm\"\n"));
  CHECK(channel.name == "R1");
  CHECK(channel.segments == chain({0, 4, 8}));
  // pi/4 d^2 and d^2/32 with d = 8 mm.
  for (std::size_t i = 0; i < 2; ++i) {
    CHECK(is_near(channel.area[i], std::numbers::pi * 1.6e-5));
    CHECK(is_near(channel.permeability[i], 2e-6));
  }
}

TEST_CASE("a runner of rectangular cross-section") {
  const Channel square =
      channel_with(runner_text("group = \"edge\"\nwidth = \"6 mm\"\ndepth = \"6 mm\"\n"));
  CHECK(is_near(square.area[0], 3.6e-5));
  // Square duct: K = 0.0351 a^2 (White, Viscous Fluid Flow, from memory).
  CHECK(square.permeability[0] / 3.6e-5 == doctest::Approx(0.0351).epsilon(0.002));
  const Channel flat =
      channel_with(runner_text("group = \"edge\"\nwidth = \"12 mm\"\ndepth = \"3 mm\"\n"));
  const Channel turned =
      channel_with(runner_text("group = \"edge\"\nwidth = \"3 mm\"\ndepth = \"12 mm\"\n"));
  CHECK(is_near(flat.permeability[0], turned.permeability[0]));
  CHECK(is_near(flat.area[0], 3.6e-5));
}

TEST_CASE("a runner along a path of points takes the edges between the nearest nodes") {
  const Channel channel =
      channel_with(runner_text("path = [[1, 1, 0], [29, 0, 0], [30, 20, 1]]\nbore = \"8 mm\"\n"));
  CHECK(channel.segments == chain({0, 1, 2, 3, 7, 11}));
}

TEST_CASE("a path that goes back over an edge has it once") {
  const Channel channel =
      channel_with(runner_text("path = [[0, 0, 0], [20, 0, 0], [10, 0, 0]]\nbore = \"8 mm\"\n"));
  CHECK(channel.segments == chain({0, 1, 2}));
}

TEST_CASE("a race track along the free edges goes round the plate") {
  const Channel channel = channel_with(track_text("along = \"free edges\"\n"));
  CHECK(channel.segments.size() == 10);
  // The left side lies in the region of 4 mm, the right side in that of 6 mm; gap 2 mm.
  for (std::size_t i = 0; i < channel.segments.size(); ++i) {
    CHECK(is_near(channel.permeability[i], 4e-6 / 12));
    if (channel.segments[i] == std::array{NodeId(0), NodeId(4)}) {
      CHECK(is_near(channel.area[i], 8e-6));
    } else if (channel.segments[i] == std::array{NodeId(3), NodeId(7)}) {
      CHECK(is_near(channel.area[i], 12e-6));
    }
  }
}

TEST_CASE("a race track between two regions lies on their border") {
  const Channel channel = channel_with(track_text("between = [\"rest\", \"skin\"]\n"));
  CHECK(channel.segments == chain({1, 5, 9}));
  CHECK(is_near(channel.area[0], 10e-6)); // gap 2 mm times the mean of 4 and 6 mm
}

TEST_CASE("a race track along a path of points") {
  const Channel channel = channel_with(track_text("path = [[0, 0, 0], [0, 20, 0]]\n"));
  CHECK(channel.segments == chain({0, 4, 8}));
  CHECK(is_near(channel.area[0], 8e-6)); // gap 2 mm times 4 mm
}

TEST_CASE("a race track with a permeability given keeps it") {
  const Channel channel =
      channel_with(track_text("group = \"edge\"\npermeability = \"1e-7 m2\"\n"));
  CHECK(channel.segments == chain({0, 4, 8}));
  CHECK(is_near(channel.permeability[0], 1e-7));
  CHECK(is_near(channel.area[0], 8e-6));
}

TEST_CASE("a closed surface has no free edges to run along") {
  ShellMesh closed;
  const std::array<Vector3, 4> corners{Vector3(0, 0, 0), Vector3(0.03, 0, 0), Vector3(0, 0.03, 0),
                                       Vector3(0, 0, 0.03)};
  for (int i = 0; i < 4; ++i) {
    closed.positions.push_back(corners[static_cast<std::size_t>(i)]);
    closed.node_labels.push_back(i + 1);
  }
  const std::array<std::array<int, 3>, 4> faces{{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}}};
  for (const auto& face : faces) {
    closed.elements.push_back({{NodeId(face[0]), NodeId(face[1]), NodeId(face[2]), NodeId()}});
    closed.element_labels.push_back(face[0]);
  }
  closed.element_sets = {{"skin", {ElementId(0)}}};
  const std::string text =
      head + two_regions + resin_and_injector +
      "[[gate]]\nname = \"G\"\nat = [0, 0, 0]\nradius = \"1 mm\"\n"
      "[[vent]]\nname = \"V\"\nat = [0, 0, 30]\nradius = \"1 mm\"\npressure = \"0 bar\"\n" +
      track_text("along = \"free edges\"\n");
  const Outcome outcome = outcome_of(text, closed);
  REQUIRE(outcome.errors.size() == 1);
  CHECK(outcome.errors[0].ends_with("race_track[T1].along: found a part without free edges, "
                                    "expected a group of lines or two regions"));
}

TEST_CASE("regions without an element are not reported as apart as well") {
  const std::string text =
      head +
      "[[region]]\nname = \"a\"\ngroups = [\"skni\"]\nthickness = \"4 mm\"\n"
      "permeability = \"1e-9 m2\"\nporosity = 0.8\n" +
      "[[region]]\nname = \"b\"\nthickness = \"4 mm\"\npermeability = \"1e-9 m2\"\n"
      "porosity = 0.8\n" +
      resin_and_injector + gate + vent + track_text("between = [\"a\", \"b\"]\n");
  CHECK(error_of(text).find("region[a].groups") != std::string::npos);
}

TEST_CASE("the list of values has the channels") {
  const Outcome outcome =
      outcome_of(whole + runner_text("path = [[0, 0, 0], [20, 0, 0]]\nbore = \"8 mm\"\n") +
                 track_text("between = [\"rest\", \"skin\"]\n"));
  CHECK(outcome.errors.empty());
  CHECK(outcome.problem.channels.size() == 2);
  CHECK(value_of(outcome, "runner[R1].path").value == "[[0, 0, 0], [20, 0, 0]]");
  CHECK(value_of(outcome, "runner[R1].bore").value == "8 mm");
  CHECK(value_of(outcome, "race_track[T1].between").value == "[rest, skin]");
  CHECK(value_of(outcome, "race_track[T1].gap").value == "2 mm");
  CHECK_FALSE(value_of(outcome, "race_track[T1].permeability").given);
  CHECK_FALSE(value_of(outcome, "race_track[T1].permeability").value.empty());
}
