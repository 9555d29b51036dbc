// What stands in the page of a filling, for made-up results. How it looks and works: tests/browser.
#include "io/fill_report.hpp"
#include "io/summary.hpp"
#include "io/verdict_text.hpp"
#include "tests/support/json_text.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

using namespace tidemark;
using Json = nlohmann::ordered_json;

namespace {

const double none = std::numeric_limits<double>::quiet_NaN();

std::size_t count_of(const std::string& text, const std::string& part) {
  std::size_t count = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) {
    ++count;
  }
  return count;
}

/// Without the libraries, scripts and style, which are the same in each page.
std::string own_text(const std::string& page) {
  return page.substr(0, page.find("<style>")) +
         page.substr(page.find("</style>"), page.find("<!--") - page.find("</style>"));
}

/// The data of the scripts.
Json data_of(const std::string& page) {
  const std::string start = "id=\"data\">";
  const std::size_t from = page.find(start) + start.size();
  return ordered_json_of(page.substr(from, page.find("</script>", from) - from));
}

Json view_of(const std::string& page) {
  const Json data = data_of(page);
  Json view = data["panels"][0][0];
  view["mesh"] = data["meshes"][view["mesh"].get<std::size_t>()];
  return view;
}

const Json& field_of(const Json& view, const std::string& key) {
  for (const Json& field : view["fields"]) {
    if (field["key"] == key) {
      return field;
    }
  }
  static const Json no_field_there;
  return no_field_there;
}

std::vector<std::string> keys_of(const Json& list, const std::string& key) {
  std::vector<std::string> keys;
  for (const Json& entry : list) {
    keys.push_back(entry[key]);
  }
  return keys;
}

std::string page_of(const Case& input, const FillResult& result) {
  return report_html(fill_report(input, result));
}

/// The sample with a second gate, G2, on a pump of its own at 3 bar.
Case case_with_pump_of_own() {
  Case input = sample_case();
  FillProblem& problem = input.problem;
  problem.gates.push_back(problem.gates[0]);
  problem.gates[1].name = "G2";
  problem.gates[1].own_injector = Injector{std::nullopt, 3e5};
  return input;
}

} // namespace

TEST_CASE("fill_report: what vents let out of what they should, and till when") {
  Case input = sample_case();
  input.problem.vents[0].bleed = 5e-5;
  FillResult result = sample_result();
  result.bleeding = Bleeding{.ended_at = 825};
  result.end_time = 825;
  result.vents[0].bled = 5e-5;
  CHECK(says(page_of(input, result), "<dt>Bleeding ends</dt><dd>13:45 min</dd>"));
  input.problem.resin.gel_time = 700;
  CHECK(says(page_of(input, result), "<dt>Bleeding would end, but for the gel</dt><dd>13:45 min"));
  result.bleeding = Bleeding{.reason = ShortReason::gel};
  result.end_time = 700;
  result.vents[0].bled = 2e-5;
  const std::string page = page_of(input, result);
  CHECK(says(page, "<dt>Bleeding followed to, without an end</dt><dd>11:40 min</dd>"));
  CHECK(says(page, "0.0200 L of the 0.0500 L it should</td>"));
}

TEST_CASE("fill_report: a vent of several nodes is reached bit by bit") {
  Case input = sample_case();
  input.problem.vents[0].nodes = {NodeId(2), NodeId(5)}; // 400 s, 600 s
  FillResult result = sample_result();
  result.vents[0].reached_at = 400;
  CHECK(says(page_of(input, result), "6:40 min, all of it at 10:00 min</td>"));
}

TEST_CASE(
    "fill_report: a peak that comes with the last of the resin stands beside that till then") {
  FillResult result = sample_result();
  CHECK(!says(page_of(sample_case(), result), "until 99 %"));
  result.peak_head_pressure = 3e5;
  result.history = {{590, 0.99, 1e-5, 1.3e5, {{1e-5, 1.3e5}}, {0}},
                    {600, 1, 1e-6, 3e5, {{1e-6, 3e5}}, {0}}};
  CHECK(says(page_of(sample_case(), result),
             "<dt>Peak there until 99 % of the resin is in</dt><dd>1.30 bar</dd>"));
}

TEST_CASE("fill_report: verdict first, then figures, tables and cautions") {
  const std::string page = page_of(sample_case(), sample_result());
  CHECK(says(page, "<p class=\"headline\">The part fills. It takes about 10:00 min.</p>"));
  CHECK(page.find("headline\"") < page.find("data-panel"));
  CHECK(page.find("data-panel") < page.find("data-plot"));
  CHECK(says(page, "<th scope=\"row\">resin.viscosity</th><td class=\"brief\">200 mPa.s</td><td "
                   "class=\"brief\">given</td>"));
  CHECK(says(page, "<th scope=\"row\">ambient</th><td class=\"brief\">1013.25 hPa</td><td "
                   "class=\"brief\">default</td>"));
  for (const char* word : {"rganic peroxide", "tyrene vapour", "xotherm", "ever exceed the rating",
                           "data sheet, local codes and licensed practice", "trial shot"}) {
    CAPTURE(word);
    CHECK(says(page, word));
  }
  Case loose = sample_case();
  loose.problem.regions[0].porosity = 0.8; // 1 - 0.8 is a hair below 0.2 in binary
  CHECK(says(page_of(loose, sample_result()),
             "<td class=\"brief\">4.0 mm</td><td class=\"brief\">20.0 %</td><td "
             "class=\"brief\">80.0 %</td>"));
  const std::string air = page_of(sample_case(), trapped_air_result());
  CHECK(says(
      air,
      "<div class=\"verdict short\"><p class=\"headline\">The part does not fill. Air is shut in"));
  CHECK(says(air, "<caption>Left dry</caption>"));
}

TEST_CASE("fill_report: text of the case can neither end an element nor start one") {
  Case input = sample_case();
  const std::string evil =
      "</script><script>alert(1)</script> & \"quoted\" 'single' <!-- \x01 \xff";
  input.title = evil;
  input.file = evil + ".toml";
  input.mesh_file = evil + ".msh";
  input.values.push_back({evil, evil, true});
  input.notes.push_back(evil);
  input.warnings.push_back(evil);
  input.problem.gates[0].name = evil;
  input.problem.vents[0].name = evil;
  input.problem.regions[0].name = evil;
  FillResult result = sample_result();
  result.gates[0].name = evil;
  result.vents[0].name = evil;
  result.regions[0].name = evil;
  const std::string page = page_of(input, result);
  const std::string plain = page_of(sample_case(), sample_result());
  CHECK(!says(page, "<script>alert"));
  CHECK(count_of(page, "<script") == count_of(plain, "<script"));
  CHECK(count_of(page, "</script") == count_of(plain, "</script"));
  CHECK(count_of(page, "<!--") == count_of(plain, "<!--"));
  CHECK(!says(page, "\x01"));
  CHECK(says(page, "&lt;/script&gt;&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot;quoted&quot; "
                   "&#39;single&#39;"));
  CHECK(keys_of(view_of(page)["marks"], "label")[0].starts_with("</script><script>alert(1)"));
}

TEST_CASE("fill_report: the same bytes for the same filling, and no address to load from") {
  const std::string page = page_of(sample_case(), sample_result());
  CHECK(page == page_of(sample_case(), sample_result()));
  const std::string own = own_text(page);
  CHECK(!says(own, "http:"));
  CHECK(!says(own, "https:"));
  CHECK(!says(own, " src="));
  CHECK(says(own, "default-src 'none'"));
}

TEST_CASE("fill_report: the view holds mesh, fields and marks") {
  const Json view = view_of(page_of(sample_case(), sample_result()));
  CHECK(view["mesh"]["corners"]["bytes"] == 1);
  // A quadrilateral and two triangles: four triangles, three corners each, 16 letters for 12 bytes.
  CHECK(view["mesh"]["corners"]["values"].get<std::string>().size() == 16);
  CHECK(view["mesh"]["extent"] == Json::array({2.0, 1.0, 0.0}));
  CHECK(view["mesh"]["middle"] == Json::array({1.0, 0.5, 0.0}));
  // Split along 0-4 of its corners 0, 1, 4, 3 (a tie): the side opposite to corner 1 in 0-1-4, and
  // to corner 2 in 0-4-3.
  CHECK(view["mesh"]["inner_sides"]["values"] == "AgQAAA=="); // 2, 4, 0, 0
  CHECK(keys_of(view["fields"], "key") ==
        std::vector<std::string>{"fill_time", "pressure", "region", "thickness",
                                 "fibre_volume_fraction", "permeability_1", "permeability_2"});
  CHECK(field_of(view, "fill_time")["packed"]["most"] == 600);
  CHECK(field_of(view, "thickness")["by_region"] == Json::array({4e-3, 2e-3}));
  CHECK(field_of(view, "region")["names"] == Json::array({"skin", "core"}));
  CHECK(keys_of(view["marks"], "kind") == std::vector<std::string>{"gate", "vent", "last"});
  CHECK(view["marks"][2]["at"] == Json::array({2.0, 1.0, 0.0}));
  // Gate G1 has the nodes 0 and 3; the vent is one node, for which its sign does.
  REQUIRE(view["port_nodes"].size() == 1);
  CHECK(view["port_nodes"][0]["nodes"]["values"] == "AAM=");
  CHECK(view["has_never"] == false);
  CHECK(view["course"]["filled"] == Json::array({0, 0.25, 0.75, 1.0}));
}

TEST_CASE("fill_report: what varies is told for each triangle, and where no resin came there is no "
          "value") {
  const Json varied = view_of(page_of(case_that_varies(), sample_result()));
  CHECK(field_of(varied, "thickness")["at"] == "triangle");
  CHECK(field_of(varied, "thickness")["packed"]["least"] == 1e-3);
  CHECK(field_of(varied, "thickness")["packed"]["most"] == 4e-3);
  CHECK(field_of(varied, "shear")["packed"]["least"] == -0.5);

  const Json dry = view_of(page_of(sample_case(), short_result()));
  CHECK(dry["has_never"] == true);
  CHECK(field_of(dry, "fill_time")["packed"]["most"] == 400);
  CHECK(field_of(dry, "fill_time")["packed"]["values"].get<std::string>().ends_with(
      "QP//")); // 64, 255, 255
  CHECK(keys_of(dry["marks"], "kind") == std::vector<std::string>{"gate", "vent", "last", "dry"});
}

TEST_CASE("fill_report: age, heat and the gate of origin show where they are known") {
  Case input = sample_case();
  input.problem.gates.push_back({"G2", {NodeId(2)}, Vector3::Zero(), std::nullopt});
  FillResult result = short_result();
  result.gates.push_back({"G2", 0, 0, 0, 400});
  for (HistoryRow& row : result.history) {
    row.gates.push_back({0, 0});
  }
  result.resin_age = {1, 2, 3, 1, 2, none};
  result.viscosity = {0.2, 0.2, 0.3, 0.2, 0.2, none};
  result.temperature = {300, 301, 302, 300, 301, none};
  result.conversion = {0, 0, 0.1, 0, 0, none};
  const Json view = view_of(page_of(input, result));
  for (const char* key : {"resin_age", "viscosity", "temperature", "conversion"}) {
    CAPTURE(key);
    CHECK(!field_of(view, key).is_null());
  }
  // Node 5 has no gate: a number after the last name.
  CHECK(field_of(view, "gate")["packed"]["values"] == "AAAAAAAC");
  CHECK(field_of(view, "gate")["names"] == Json::array({"G1", "G2"}));
}

TEST_CASE("fill_report: a filling without a step, without resin, or cut short has its page too") {
  FillResult nothing = short_result();
  nothing.reason = ShortReason::interrupted;
  nothing.history.clear();
  nothing.injected = 0;
  nothing.resin_in_part = 0;
  nothing.end_time = 0;
  nothing.filled_fraction = 0;
  nothing.last_filled.clear();
  nothing.dry_spots.clear();
  nothing.fill_time_field = PerNode<double>(6, none);
  nothing.pressure = PerNode<double>(6, -5e4);
  const std::string page = page_of(sample_case(), nothing);
  CHECK(says(page, "The part does not fill. No resin flows."));
  CHECK(says(page, "No step was done"));
  CHECK(data_of(page)["plots"].empty());
  CHECK(field_of(view_of(page), "fill_time").is_null());
  CHECK(view_of(page)["has_never"] == true);

  FillResult cut = short_result();
  cut.reason = ShortReason::interrupted;
  CHECK(says(page_of(sample_case(), cut), "<dt>Ended after</dt><dd>6:40 min</dd>"));
}

TEST_CASE("fill_report: what is read off on the way ends with the run, full or not") {
  FillResult cut = short_result();
  HistoryRow& last = cut.history.back(); // 100 s from 300 s on, with 2.5 + 2 L in before
  last.flow_rate = 3.5e-6;
  last.gates[0].flow_rate = 3.5e-6;
  const std::string page = page_of(sample_case(), cut);
  CHECK(says(page, "<th scope=\"row\">83.8 % (end)</th><td class=\"brief\">6:40 min</td><td "
                   "class=\"brief\">0.210 L/min</td><td class=\"brief\">1.20 bar</td><td "
                   "class=\"brief\">4.85 L</td></tr>\n</tbody>"));
  CHECK(says(page, "Those at the end are of the last step."));
  const std::string full = page_of(sample_case(), sample_result());
  CHECK(!says(full, " % (end)<"));
  CHECK(says(full, "<th scope=\"row\">100 %</th><td class=\"brief\">10:00 min</td>"));
}

TEST_CASE("fill_report: plots hold flow, pressures with the cap, and the filled fraction") {
  const Json plots = data_of(page_of(sample_case(), sample_result()))["plots"];
  REQUIRE(plots.size() == 3);
  CHECK(keys_of(plots[0]["series"], "label") == std::vector<std::string>{"all gates", "set point"});
  CHECK(keys_of(plots[1]["series"], "label") ==
        std::vector<std::string>{"mixing head", "gate G1", "pressure cap"});
  CHECK(plots[1]["series"][2]["y"] == Json::array({1.2e5, 1.2e5, 1.2e5, 1.2e5}));
  CHECK(plots[1]["series"][2]["x"] == Json::array({0, 100.0, 300.0, 600.0}));
  CHECK(plots[1]["series"][2]["is_limit"] == true);
  CHECK(plots[2]["series"][0]["y"] == Json::array({0.0, 0.25, 0.75, 1.0}));
}

TEST_CASE("fill_report: set points follow the schedule, by time and by volume") {
  Case input = sample_case();
  // 2.5 L are in after 100 s: the second stage begins there.
  input.problem.injector.stages = {{std::nullopt, 2.5e-3, 1e-5, std::nullopt},
                                   {300.0, std::nullopt, std::nullopt, 1.5e5}};
  const SetPoints points = set_points(input.problem, sample_result());
  CHECK(points.flow_rate == std::vector<double>{2.5e-5, 1e-5, 1e-5});
  CHECK(points.pressure_cap == std::vector<double>{1.2e5, 1.2e5, 1.5e5});
  input.problem.injector = {2.5e-5, std::nullopt};
  CHECK(std::isnan(set_points(input.problem, sample_result()).pressure_cap[0]));
}

TEST_CASE(
    "fill_report: set points by volume count what fills the gate's cells at once, as the table") {
  Case input = sample_case();
  FillResult result = sample_result();
  result.history.back().flow_rate = 1e-6;
  result.history.back().gates[0].flow_rate = 1e-6;
  // 2.5 L flow in by 100 s, 4.5 L by 300 s and 4.8 L by 600 s; 0.2 L more fill the cells at once.
  result.gates[0].injected = 5e-3;
  input.problem.injector.stages = {{std::nullopt, 2.6e-3, 2e-5, std::nullopt},
                                   {std::nullopt, 4.8e-3, 1e-5, std::nullopt}};
  CHECK(set_points(input.problem, result).flow_rate == std::vector<double>{2.5e-5, 2e-5, 2e-5});
  input.problem.injector.stages[1].from_volume = 4.6e-3;
  CHECK(set_points(input.problem, result).flow_rate == std::vector<double>{2.5e-5, 2e-5, 1e-5});
}

TEST_CASE("fill_report: a gate that is pushed shut does not give at the pressure there") {
  const Case input = case_with_pump_of_own();
  FillResult result = sample_result();
  result.gates = {{"G1", 3e-3, 2.9e5, 0, 600}, {"G2", 1e-3, 3e5, 300, 600}};
  result.peak_head_pressure = 3e5;
  result.history = {{100, 0.25, 2.5e-5, 1e5, {{2.5e-5, 1e5}, {0, 5e4}}, {0}},
                    {300, 0.75, 2.5e-6, 1.2e5, {{2.5e-6, 1.2e5}, {0, 6e4}}, {0}},
                    {600, 1, 3e-6, 0, {{0, 2.9e5}, {3e-6, 3e5}}, {0}}};
  const std::string page = page_of(input, result);
  CHECK(says(page, ">1.20 bar, pushed shut at up to 2.90 bar</td>"));
  CHECK(says(page, "<dt>Peak at the mixing head</dt><dd>1.20 bar</dd>"));
}

TEST_CASE("fill_report: where no gate hangs on the mixing head the peak is that of the highest pump") {
  Case input = case_with_pump_of_own();
  input.problem.gates[0].own_injector = Injector{std::nullopt, 2e5};
  FillResult result = sample_result();
  result.gates = {{"G1", 2e-3, 2e5, 0, 600}, {"G2", 2e-3, 3e5, 0, 600}};
  result.history = {{300, 0.5, 1e-5, 2e5, {{5e-6, 2e5}, {5e-6, 3e5}}, {0}},
                    {600, 1, 1e-5, 2e5, {{5e-6, 2e5}, {5e-6, 3e5}}, {0}}};
  const std::string page = page_of(input, result);
  CHECK(says(page, "<dt>Peak at the pump of gate G2</dt><dd>3.00 bar</dd>"));
  CHECK(!says(page, "mixing head"));
}

TEST_CASE("fill_report: of a part seen edge-on no opening force stands among the first facts") {
  Case input = sample_case();
  FillResult result = sample_result();
  result.mould_load = sample_mould_load();
  input.problem.mould = Mould{Vector3::UnitZ(), 4000};
  CHECK(says(page_of(input, result), "<dt>Highest opening force</dt>"));
  input.problem.mould = Mould{Vector3::UnitX(), 4000}; // the sample is flat
  CHECK(!says(page_of(input, result), "<dt>Highest opening force</dt>"));
}

TEST_CASE("fill_report: where the resins of two gates meet, in the summary too") {
  Case input = sample_case();
  FillProblem& problem = input.problem;
  problem.mesh = test::plate({2, 1, 21, 10}); // the middle of a square at x = 1
  const std::size_t nodes = problem.mesh.positions.size();
  problem.element_region =
      PerElement<RegionId>(problem.mesh.elements.size(), RegionId(0)); // 420 triangles
  problem.gates[0].nodes = {NodeId(0)};
  problem.gates.push_back(problem.gates[0]);
  problem.gates[1].name = "G2";
  problem.gates[1].nodes = {NodeId(21)};
  problem.vents[0].nodes = {NodeId(1)};
  FillResult result = sample_result();
  result.gates.push_back(result.gates[0]);
  for (HistoryRow& row : result.history) {
    row.gates.push_back(row.gates[0]);
  }
  result.fill_time_field = PerNode<double>(nodes, 90);
  result.pressure = PerNode<double>(nodes, 0);
  result.fill_fraction = PerNode<double>(nodes, 1);
  result.gate_index = PerNode<std::int32_t>(nodes, 0);
  for (const NodeId node : result.gate_index.ids()) {
    result.gate_index[node] = problem.mesh.positions[node].x() > 1 ? 1 : 0;
  }
  const std::string page = page_of(input, result);
  CHECK(says(page, "<caption>Where the resins of different gates meet</caption>"));
  CHECK(says(page, "<th scope=\"row\">G1 and G2</th><td class=\"brief\">1000 mm</td>"));
  CHECK(says(page,
             "The resins of gates G1 and G2 meet along a line of 1000 mm, with its middle at x "
             "1000 mm, y "));
  CHECK(says(course_in_words(input, result), ", at 1:30 min.\n"));
  const auto lines = summarise(input, result, {1.5, 4096})["meeting_lines"];
  REQUIRE(lines.size() == 1);
  CHECK(lines[0]["gates"].dump() == R"(["G1","G2"])");
  CHECK(std::abs(lines[0]["length_m"].get<double>() - 1) <= 1e-9);
  CHECK(std::abs(lines[0]["middle_m"][0].get<double>() - 1) <= 1e-9);
  CHECK(lines[0]["first_time_s"] == 90.0);
  CHECK(lines[0]["last_time_s"] == 90.0);
  // A gate that lets nothing in, the air being stronger, has no resin to meet.
  result.gates[1].injected = 0;
  CHECK(summarise(input, result, {1.5, 4096})["meeting_lines"].empty());
  CHECK(!says(page_of(input, result), "The resins of gates"));
  CHECK(!says(page_of(input, result), "Where the resins of different gates meet"));
}

TEST_CASE("fill_report: a hundred thousand triangles with all fields take less than 8 MB") {
  Case input = sample_case();
  FillProblem& problem = input.problem;
  problem.mesh = test::disc(1, 130); // 6 x 130^2 = 101 400 triangles
  const std::size_t triangles = problem.mesh.elements.size();
  const std::size_t nodes = problem.mesh.positions.size();
  REQUIRE(triangles > 100000);
  problem.element_region = PerElement<RegionId>(triangles, RegionId(0));
  problem.reinforcement = PerElement<Reinforcement>(
      triangles, Reinforcement{4e-3, 0.5, 1e-9, 5e-10, Vector3::UnitX(), 0, 0.5, 0.1});
  problem.gates[0].nodes = {NodeId(0)};
  problem.vents[0].nodes = {NodeId(1)};
  FillResult result = sample_result();
  for (PerNode<double>* field :
       {&result.fill_time_field, &result.pressure, &result.fill_fraction, &result.resin_age,
        &result.viscosity, &result.temperature, &result.conversion}) {
    *field = PerNode<double>(nodes);
    for (const NodeId node : field->ids()) {
      (*field)[node] = 1 + std::sin(node.value());
    }
  }
  result.gate_index = PerNode<std::int32_t>(nodes);
  const std::string page = page_of(input, result);
  CHECK(page.size() < 8e6);
  // 2 bytes per node for each of 3 + 6 arrays; per triangle 3 corners of 2 bytes, a region of 1 and
  // 5 arrays of 2: as base64 four thirds of that, beside what every page holds.
  const double arrays = 4.0 / 3 * static_cast<double>(18 * nodes + 17 * triangles);
  const double rest = static_cast<double>(page_of(sample_case(), sample_result()).size());
  CHECK(static_cast<double>(page.size()) == doctest::Approx(arrays + rest).epsilon(0.02));
}
