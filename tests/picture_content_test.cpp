#include "io/picture_content.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <limits>

using namespace tidemark;

namespace {

constexpr double never = std::numeric_limits<double>::quiet_NaN();

bool has_row(const Picture& picture, const std::string& text) {
  return std::ranges::any_of(picture.legend,
                             [&](const LegendRow& row) { return row.text == text; });
}

std::ptrdiff_t marks_of(const Picture& picture, MarkKind kind) {
  return std::ranges::count(picture.marks, kind, &PictureMark::kind);
}

const FieldColours& field_of(const Picture& picture) {
  return std::get<FieldColours>(picture.surface);
}

} // namespace

TEST_CASE("pictures name the part and say the verdict") {
  const auto filled = pictures_of(sample_case(), sample_result());
  REQUIRE(filled.size() == 4);
  for (const Picture& picture : filled) {
    CHECK(picture.title == "Sample plate");
    CHECK(picture.verdict == "The part fills. It takes about 10:00 min.");
  }
  FillResult dry = trapped_air_result();
  dry.end_time = 480;
  dry.filled_fraction = 0.8372;
  CHECK(pictures_of(sample_case(), dry)[0].verdict ==
        "The part does not fill: trapped air. At the end, after 8:00 min, 83.7 % of it is filled.");
}

TEST_CASE("the picture of fill times carries them on to where the front stands, and no further") {
  FillResult result = sample_result();
  result.fill_time_field = {0, 100, never, 0, 120, never};
  result.fill_fraction = {1, 1, 0.3, 1, 1, 0.9};
  const Picture picture = pictures_of(sample_case(), result)[0];
  const FieldColours& field = field_of(picture);
  CHECK(field.scale.high == 120);
  CHECK(field.values == PerNode<double>{0, 100, 100, 0, 120, 120});
  CHECK(field.coverage[NodeId(1)] == 1);
  CHECK(field.coverage[NodeId(2)] == 0.3);
  CHECK(field.coverage[NodeId(5)] < 0.5);
  CHECK(has_row(picture, "resin never came"));
  CHECK_FALSE(has_row(pictures_of(sample_case(), sample_result())[0], "resin never came"));
}

TEST_CASE("the scale of pressures leaves out where no resin is") {
  FillResult result = sample_result();
  result.fill_time_field = {0, 100, never, 0, 120, never};
  result.pressure = {1e5, 6e4, -9e5, 1e5, 6e4, -9e5};
  const FieldColours field = field_of(pictures_of(sample_case(), result)[1]);
  CHECK(field.scale.low == doctest::Approx(6e4));
  CHECK(field.scale.high == doctest::Approx(1e5));
}

TEST_CASE("last places are numbered, with what is there and where") {
  const Picture picture = pictures_of(sample_case(), sample_result())[2];
  CHECK(marks_of(picture, MarkKind::last_place) == 1);
  const auto mark = std::ranges::find(picture.marks, MarkKind::last_place, &PictureMark::kind);
  CHECK(mark->sign == "1");
  CHECK(mark->place == Vector3(2, 1, 0));
  CHECK(has_row(picture, "Last to fill:"));
  CHECK(has_row(picture, "10:00 min, core"));
  CHECK(has_row(picture, "x 2000, y 1000, z 0.0 mm"));
  CHECK(has_row(picture, "Air shut in is not computed."));
}

TEST_CASE("air shut in, air closed up and dry places are told apart") {
  Case input = sample_case();
  input.problem.sealed_air = true;
  CHECK(has_row(pictures_of(input, sample_result())[2], "No air is shut in."));

  FillResult result = sample_result();
  result.dry_spots = {{Vector3(2, 1, 0), 6.5e-4, 8e4, RegionId(1), true, 300, 9e4},
                      {Vector3(2, 0, 0), 1e-5, 0, RegionId(1)}};
  result.suspect_zones = {{Vector3(1, 1, 0), 2e-6, -5e4, 200, RegionId(0)}};
  const Picture picture = pictures_of(input, result)[2];
  CHECK(marks_of(picture, MarkKind::shut_in_air) == 1);
  CHECK(marks_of(picture, MarkKind::dry) == 1);
  CHECK(marks_of(picture, MarkKind::closed_air) == 1);
  CHECK(has_row(picture, "0.650 L of air, 0.80 bar"));
  CHECK(has_row(picture, "0.0100 L"));
  CHECK(has_row(picture, "2.00 mL at -0.50 bar"));
  CHECK(has_row(picture, "air shut in"));
  CHECK_FALSE(has_row(picture, "No air is shut in."));
}

TEST_CASE("of many places five are marked, and their coordinates left to the summary") {
  FillResult result = sample_result();
  result.last_filled.assign(8, {NodeId(5), 600, RegionId(1)});
  result.suspect_zones.assign(3, {Vector3(1, 1, 0), 2e-6, -5e4, 200, RegionId(0)});
  const Picture picture = pictures_of(sample_case(), result)[2];
  CHECK(marks_of(picture, MarkKind::last_place) == 5);
  CHECK(has_row(picture, "and 3 more places"));
  CHECK_FALSE(has_row(picture, "x 2000, y 1000, z 0.0 mm"));
}

TEST_CASE("the layout has regions, ports with their names, runners and race tracks") {
  Case input = sample_case();
  const std::vector<std::array<NodeId, 2>> edge = {{NodeId(0), NodeId(1)}};
  input.problem.channels = {{"feed", edge, {1e-4}, {1e-7}}, {"rear", edge, {1e-5}, {1e-8}}};
  input.values.push_back({"runner[feed].bore", "8 mm", true});
  input.values.push_back({"race_track[rear].gap", "2 mm", true});
  const Picture picture = pictures_of(input, sample_result())[3];
  for (const char* text : {"skin", "core", "runner feed", "race track rear", "gate", "vent"}) {
    CAPTURE(text);
    CHECK(has_row(picture, text));
  }
  const auto gate = std::ranges::find(picture.marks, MarkKind::gate, &PictureMark::kind);
  const auto vent = std::ranges::find(picture.marks, MarkKind::vent, &PictureMark::kind);
  CHECK(gate->label == "G1");
  CHECK(vent->label == "V1");
  CHECK(vent->place == Vector3(2, 1, 0));
  const auto& colours = std::get<ElementColours>(picture.surface);
  CHECK(colours[ElementId(0)] != colours[ElementId(1)]);
  CHECK(colours[ElementId(1)] == colours[ElementId(2)]);
}

TEST_CASE("a case with many regions and runners keeps a legend that fits") {
  Case input = sample_case();
  input.problem.regions.resize(30, input.problem.regions.front());
  const std::vector<std::array<NodeId, 2>> edge = {{NodeId(0), NodeId(1)}};
  input.problem.channels.assign(20, {"feed", edge, {1e-4}, {1e-7}});
  const Picture picture = pictures_of(input, sample_result())[3];
  CHECK(picture.legend.size() < 26);
  CHECK(has_row(picture, "and 20 more regions"));
  CHECK(has_row(picture, "and 12 more lines"));
}

TEST_CASE("names with signs that no font has are numbers in the pictures, and that is said") {
  Case input = sample_case();
  CHECK(undrawable_names(input).empty());
  input.title = "屋根";
  input.problem.gates[0].name = "左のゲート";
  input.problem.regions[1].name = "芯 2";
  const std::vector<Picture> pictures = pictures_of(input, sample_result());
  CHECK(pictures[0].title == "plate"); // the case file's name
  CHECK(has_row(pictures[3], "skin"));
  CHECK(has_row(pictures[3], "region 2"));
  CHECK(std::ranges::any_of(pictures[3].marks,
                            [](const PictureMark& mark) { return mark.label == "gate 1"; }));
  CHECK(std::ranges::any_of(pictures[3].marks,
                            [](const PictureMark& mark) { return mark.label == "V1"; }));
  CHECK(undrawable_names(input) == "屋根芯左のゲート; there \"屋根\" is \"plate\", \"芯 2\" is "
                                   "\"region 2\", \"左のゲート\" is \"gate 1\"");
}

TEST_CASE("a number for a name that no font has is none that another gate is called by") {
  Case input = sample_case();
  std::vector<Gate>& gates = input.problem.gates;
  gates.assign(4, gates[0]);
  gates[0].name = "左";
  gates[1].name = "右";
  gates[2].name = "gate 1"; // so is the first called, by its number
  gates[3].name = "後";
  const std::vector<Picture> pictures = pictures_of(input, sample_result());
  std::vector<std::string> labels;
  for (const PictureMark& mark : pictures[3].marks) {
    if (mark.kind == MarkKind::gate) {
      labels.push_back(mark.label);
    }
  }
  CHECK(labels == std::vector<std::string>{"gate 2", "gate 3", "gate 1", "gate 4"});
  CHECK(says(undrawable_names(input), "\"左\" is \"gate 2\", \"右\" is \"gate 3\", "
                                      "\"後\" is \"gate 4\""));
}
