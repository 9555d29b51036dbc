// A layout's run in the record and back.
#include "io/gate_record.hpp"

#include "mesh/error.hpp"
#include "tests/support/json_text.hpp"
#include "tests/support/sample_run.hpp"

#include <doctest/doctest.h>

using namespace tidemark;
using Json = nlohmann::ordered_json;

namespace {

LayoutRun some_run() {
  LayoutRun run;
  run.row.state = RunState::filled;
  run.row.fill_time = 1.0 / 3;
  run.row.filled_fraction = 1;
  run.row.peak_head_pressure = 0.1 + 0.2; // not 0.3
  run.row.peak_till_near_end = 0.1 + 0.7;
  run.row.peak_force = 17e3;
  run.row.push_climbs = true;
  run.row.gel_share = 0.7;
  run.row.gel_margin = 1e3 / 7;
  run.row.last = {{{0.1, -0.0, 1e-17}, "skin", 12.5, "x 100 mm"},
                  {{1, 2, 3}, "ribs", std::nullopt, "x 1000 mm"}};
  run.row.closed_air = {{{{0.7, 0, 0}, "ribs", 3.5, "x 700 mm"}, 1e-6, -5e4}};
  run.row.vents = 2;
  run.row.warnings = {"Mind the \"gap\"."};
  run.vents = {NodeId(7), NodeId(0)};
  run.picture = RunPicture{
      "layout 1", {{"fields", {1.0, nullptr}}}, {{0.1, 0.2, 3e-5, 1e5}, {1.0 / 7, 1, 0, 2e5}}, 0.3};
  return run;
}

/// As a command that goes on finds it.
LayoutRun read_again(const LayoutRun& run) {
  return layout_run_from_record(ordered_json_of(to_record(run).dump()), 8);
}

} // namespace

TEST_CASE("gate record: all that a run tells comes back, to the last bit") {
  const LayoutRun run = some_run();
  const LayoutRun read = read_again(run);
  CHECK(to_record(read).dump() == to_record(run).dump());
  CHECK(read.row.state == RunState::filled);
  CHECK(read.row.fill_time == 1.0 / 3);
  CHECK(read.row.peak_head_pressure == 0.1 + 0.2);
  CHECK(read.row.peak_till_near_end == 0.1 + 0.7);
  CHECK(read.row.peak_force == 17e3);
  CHECK(read.row.push_climbs);
  CHECK(read.row.gel_share == 0.7);
  CHECK(read.row.gel_margin == 1e3 / 7);
  REQUIRE(read.row.last.size() == 2);
  CHECK(read.row.last[0].position == run.row.last[0].position);
  CHECK(read.row.last[0].time == 12.5);
  CHECK(read.row.last[0].region == "skin");
  CHECK(!read.row.last[1].time);
  CHECK(read.row.last[1].text == "x 1000 mm");
  REQUIRE(read.row.closed_air.size() == 1);
  CHECK(read.row.closed_air[0].volume == 1e-6);
  CHECK(read.row.closed_air[0].air_pressure == -5e4);
  CHECK(read.row.vents == 2);
  CHECK(read.vents == run.vents);
  CHECK(read.row.warnings == run.row.warnings);
  REQUIRE(read.picture);
  CHECK(read.picture->name == "layout 1");
  CHECK(read.picture->view == run.picture->view);
  REQUIRE(read.picture->course.size() == 2);
  CHECK(read.picture->course[1].time == 1.0 / 7);
  CHECK(read.picture->course[0].flow_rate == 3e-5);
  CHECK(read.picture->end_time == 0.3);
}

TEST_CASE("gate record: the picture of a real filling comes back as it was") {
  LayoutRun run;
  run.picture = run_picture(sample_case(), sample_result(), "as it is");
  const LayoutRun read = read_again(run);
  CHECK(read.picture->view.dump() == run.picture->view.dump());
  CHECK(read.picture->course.size() == sample_result().history.size());
}

TEST_CASE("gate record: short, without vents of its own, without a picture") {
  LayoutRun run;
  run.row.reason = "trapped air";
  run.row.filled_fraction = 0.7;
  const LayoutRun read = read_again(run);
  CHECK(read.row.state == RunState::short_fill);
  CHECK(read.row.reason == "trapped air");
  CHECK(!read.row.fill_time);
  CHECK(!read.row.vents);
  CHECK(!read.picture);
}

TEST_CASE("gate record: what is no run is refused") {
  Json json = to_record(some_run());
  json["reason"] = "interrupted";
  CHECK_THROWS_AS(layout_run_from_record(json, 8), InputError);
  CHECK_THROWS_WITH_AS(layout_run_from_record(to_record(some_run()), 7),
                       "found node 7, expected a whole number from 0 to 6, one of the mesh",
                       InputError);
  json.erase("reason");
  CHECK_THROWS_AS(layout_run_from_record(json, 8), nlohmann::json::exception);
}

TEST_CASE("gate record: a run leaves name, gates and ranking of its layout alone") {
  LayoutRow row;
  row.name = "layout 3";
  row.ranked_time = 5;
  row.longest_way = 0.4;
  row.gates = {{"G1", std::nullopt, "here"}};
  put_run(some_run().row, row);
  CHECK(row.name == "layout 3");
  CHECK(row.ranked_time == 5);
  CHECK(row.longest_way == 0.4);
  CHECK(row.gates.size() == 1);
  CHECK(row.fill_time == 1.0 / 3);
}
