// What stands on the sheet of a made-up shot, worked out by hand.
#include "io/setup_sheet.hpp"

#include "io/shop_units.hpp"
#include "tests/support/sample_run.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <limits>

using namespace tidemark;

namespace {

/// 4 L in 10 min: 25 mL/s to 100 s, 10 mL/s to 300 s, then 1 mL/s; 2.5 L, 4.5 L, 4.8 L by then.
FillResult expected() {
  FillResult result = sample_result();
  result.history.back().flow_rate = 1e-6;
  result.history.back().gates[0].flow_rate = 1e-6;
  return result;
}

/// A load that the cavity, at the highest pressure at the head, would not exceed in the last cells.
void add_load(FillResult& result) {
  result.mould_load = sample_mould_load();
  result.peak_head_pressure = 1.2e3; // 2.4 kN over 2 m2
}

/// The same course, so many times slower.
FillResult slower(double factor) {
  FillResult result = expected();
  result.end_time *= factor;
  result.fill_time = result.end_time;
  for (HistoryRow& row : result.history) {
    row.time *= factor;
    row.flow_rate /= factor;
    row.gates[0].flow_rate /= factor;
  }
  result.vents[0].reached_at = *result.vents[0].reached_at * factor;
  return result;
}

PermeabilityBand band() {
  return {1.4, slower(1.4), slower(1 / 1.4)};
}

Case shot() {
  Case input = sample_case();
  input.problem.injector.line = {{2, 0.01}}; // 157.08 mL
  input.problem.sealed_air = true;
  input.resin.waste = 0.1;
  input.resin.catalyst = 0.02;
  input.resin.catalyst_density = 1170;
  input.machine.stroke_volume = 3e-4;
  return input;
}

const SheetLine& line_of(const std::vector<SheetLine>& lines, const std::string& label) {
  const auto found =
      std::ranges::find_if(lines, [&](const SheetLine& line) { return line.label == label; });
  REQUIRE(found != lines.end());
  return *found;
}

bool says(const std::vector<std::string>& lines, const std::string& words) {
  return std::ranges::any_of(
      lines, [&](const std::string& line) { return line.find(words) != std::string::npos; });
}

} // namespace

TEST_CASE("sheet: settings and quantities") {
  const SetupSheet sheet = setup_sheet(shot(), expected(), band());
  CHECK(sheet.forbidden.empty());
  CHECK(line_of(sheet.settings, "Flow rate").value == "1.50 L/min"); // 25 mL/s
  CHECK(line_of(sheet.settings, "Pressure cap at the mixing head").value == "1.20 bar gauge");
  CHECK(line_of(sheet.settings, "Catalyst level").value == "2 % by mass of the resin");
  CHECK(line_of(sheet.settings, "The resin gels when it is").value == "25:00 min old");
  CHECK(line_of(sheet.quantities, "Resin in the part").value == "4.00 L, 4.40 kg");
  CHECK(line_of(sheet.quantities, "In the hoses").value == "157 mL, 173 g");
  CHECK(line_of(sheet.quantities, "Waste, 10 % on top").value == "416 mL, 457 g");
  CHECK(line_of(sheet.quantities, "To prepare, catalyst included").value == "4.57 L, 5.03 kg");
  CHECK(line_of(sheet.quantities, "Catalyst, of what is prepared").value == "98.6 g"); // 2 of 102
  CHECK(line_of(sheet.quantities, "Catalyst by volume").value == "84.3 mL");
  CHECK(line_of(sheet.quantities, "Drum or bucket lighter at the end by").value == "4.40 kg");
  // 4 L / 0.3 L = 13.3; the hose takes half a stroke. 25 mL/s and 1 mL/s.
  CHECK(line_of(sheet.quantities, "Strokes of the pump").value == "14 of 300 mL");
  CHECK(line_of(sheet.quantities, "Strokes of the pump").note ==
        "the last gives 200 mL more than needed");
  CHECK(line_of(sheet.quantities, "Strokes before that, to fill the hose").value == "1");
  CHECK(line_of(sheet.quantities, "Strokes a minute").value ==
        "5.00 after 1 % of the time, 0.200 before the last");
}

TEST_CASE("sheet: mixed in the head, the drum loses resin alone") {
  Case input = shot();
  input.problem.resin.mixing = Mixing::inline_head;
  const SetupSheet sheet = setup_sheet(input, expected(), band());
  // 4.4 kg / 1.02
  CHECK(line_of(sheet.quantities, "Drum lighter at the end by (resin alone)").value == "4.31 kg");
  // The hose holds what passed the head in the last 157.08 s; 1500 s - 157 s = 22:23 min.
  CHECK(says(sheet.flush, "the resin in them gels from 22:23 min after that on"));
}

TEST_CASE("sheet: the course is that of the history, with its band") {
  const SetupSheet sheet = setup_sheet(shot(), expected(), band());
  CHECK(sheet.course.headings ==
        std::vector<std::string>{"Filled", "Time", "Flow", "Head pressure", "Strokes so far"});
  REQUIRE(sheet.course.rows.size() == 5);
  const auto& half = sheet.course.rows[2]; // 200 s, midway between two rows
  CHECK(half[0].text == "50 %");
  CHECK(half[1].text == "3:20 min");
  CHECK(half[1].band == "2:23 to 4:40 min"); // 142.9 s, 280 s
  CHECK(half[2].text == "0.600 L/min");
  CHECK(half[2].band == "0.429 to 0.840 L/min");
  CHECK(half[3].text == "1.10 bar");
  CHECK(half[3].band.empty());
  CHECK(half[4].text == "12"); // 3.5 L / 0.3 L = 11.7
  CHECK(sheet.course.rows[4][1].text == "10:00 min");
  CHECK(sheet.course.rows[4][1].band == "7:09 to 14:00 min");
  CHECK(sheet.course.rows[0][4].text == "0");
  CHECK(says({sheet.band}, "1.4 times less"));
}

TEST_CASE("sheet: what opens and closes when, and when to stop") {
  Case input = shot();
  const SetupSheet sheet = setup_sheet(input, expected(), band());
  REQUIRE(sheet.order.size() == 3);
  CHECK(sheet.order[0].what == "Open vent V1 to -0.50 bar gauge.");
  CHECK(sheet.order[1].what == "Open gate G1, start the pump and the clock.");
  CHECK(sheet.order[2].when == "9:59 min");
  CHECK(sheet.order[2].band == "7:08 to 13:59 min"); // 427.9 s and 838.6 s
  CHECK(sheet.order[2].what == "Resin shows at vent V1: close it.");
  CHECK(says(sheet.stop, "expected at 10:00 min (7:09 to 14:00 min), resin has come to the last "
                         "vent, V1, and the pump has made 14 strokes"));
  CHECK(says(sheet.abort, "not full at 25:00 min: the first resin gels then"));
  CHECK(says(sheet.abort, "Expected to spare: 15:00 min (11:00 to 17:51 min)"));
  CHECK(says(sheet.abort, "The head is above 1.20 bar"));
  CHECK(says(sheet.flush, "gels at 25:00 min by the clock, 15:00 min after the expected end"));
  input.problem.vents[0].bleed = 5e-5;
  CHECK(setup_sheet(input, expected(), band()).order[2].what ==
        "Resin shows at vent V1: let 50.0 mL run out, then close it.");
  FillResult bleeding = expected();
  bleeding.bleeding = Bleeding{.ended_at = 829};
  bleeding.end_time = 829;
  const SetupSheet later = setup_sheet(input, bleeding, band());
  CHECK(later.order.back().when == "13:49 min");
  CHECK(says(later.stop, "expected at 10:00 min"));
  CHECK(says(later.stop, "let out what they should, expected at 13:49 min"));
  CHECK(later.course.rows[4][1].text == "10:00 min");
  input.resin.gel_safety = 1.25; // 1500 s / 1.25
  CHECK(says(setup_sheet(input, expected(), band()).abort, "not full at 20:00 min"));
}

TEST_CASE("sheet: a vent along a line is closed once resin has come to all of it") {
  Case input = shot();
  input.problem.vents[0].nodes = {NodeId(2), NodeId(5)};
  const auto filling = [](double factor) {
    FillResult result = factor == 1 ? expected() : slower(factor);
    result.vents[0].reached_at = 400 * factor;
    result.fill_time_field = {0, 100, 400 * factor, 0, 100, 600 * factor};
    return result;
  };
  const PermeabilityBand around{1.4, filling(1.4), filling(1 / 1.4)};
  const SetupSheet sheet = setup_sheet(input, filling(1), around);
  REQUIRE(sheet.order.size() == 4);
  CHECK(sheet.order[2].when == "6:40 min");
  CHECK(sheet.order[2].band == "4:46 to 9:20 min"); // 285.7 s and 560 s
  CHECK(sheet.order[2].what == "Resin first shows at vent V1: leave it open.");
  CHECK(sheet.order[3].when == "10:00 min");
  CHECK(sheet.order[3].band == "7:09 to 14:00 min"); // 428.6 s and 840 s
  CHECK(sheet.order[3].what == "Resin has come to all of vent V1: close it.");
  CHECK(says(sheet.stop, "resin has come to all of the last vent, V1"));
  FillResult dry = filling(1);
  dry.fill_time_field[NodeId(5)] = std::numeric_limits<double>::quiet_NaN();
  const SetupSheet without = setup_sheet(input, dry, around);
  CHECK(without.order[3].when == "not expected");
  // What opens when resin is at the line says so too.
  input.problem.gates.push_back({"G2", {NodeId(4)}, Vector3::Zero(), std::nullopt});
  input.problem.gates[1].opens.reached = PortRef{PortRef::Kind::vent, 0};
  const auto with_two_gates = [&filling](double factor) {
    FillResult result = filling(factor);
    result.gates.push_back({"G2", 0, 0, 600 * factor, 600 * factor});
    for (HistoryRow& row : result.history) {
      row.gates.push_back({0, 0});
    }
    return result;
  };
  const PermeabilityBand of_two{1.4, with_two_gates(1.4), with_two_gates(1 / 1.4)};
  const SetupSheet later = setup_sheet(input, with_two_gates(1), of_two);
  CHECK(std::ranges::any_of(later.order, [](const SheetEvent& event) {
    return event.what == "Open gate G2, when the resin has come to all of vent V1.";
  }));
  // One that closes at that moment does so after it, and stops its pump if that has no other way.
  input.problem.gates[0].closes.reached = PortRef{PortRef::Kind::vent, 0};
  const auto handed_over = [&](double factor) {
    FillResult result = with_two_gates(factor);
    result.gates[0].closed_at = 600 * factor;
    result.gates[1].closed_at = 700 * factor;
    result.end_time = 700 * factor;
    return result;
  };
  const PermeabilityBand of_handed{1.4, handed_over(1.4), handed_over(1 / 1.4)};
  const auto follows = [&](const std::string& closing) {
    const SetupSheet sheet_of_two = setup_sheet(input, handed_over(1), of_handed);
    const auto& order = sheet_of_two.order;
    const auto opens = std::ranges::find_if(
        order, [](const SheetEvent& event) { return event.what.starts_with("Open gate G2"); });
    return opens != order.end() && std::find_if(opens, order.end(), [&](const SheetEvent& event) {
                                     return event.what == closing;
                                   }) != order.end();
  };
  CHECK(follows("Close gate G1, when the resin has come to all of vent V1."));
  input.problem.gates[1].own_injector = input.problem.injector;
  CHECK(
      follows("Stop the pump of gate G1 and close it, when the resin has come to all of vent V1."));
  // What waits in the hose of a late pump would be old.
  const auto opening = [&] {
    const auto order = setup_sheet(input, handed_over(1), of_handed).order;
    return std::ranges::find_if(order,
                                [](const SheetEvent& event) {
                                  return event.what.starts_with("Open gate G2 and start its pump");
                                })
        ->what;
  };
  const std::string fresh = " Fill its hose with resin just mixed shortly before";
  input.problem.gates[1].own_injector->line = {{2, 0.008}};
  input.problem.resin.mixing = Mixing::batch;
  CHECK(!says(opening(), fresh));
  input.problem.resin.mixing = Mixing::inline_head;
  CHECK(says(opening(), fresh));
  input.problem.gates[1].own_injector->line.clear();
  CHECK(!says(opening(), fresh));
}

TEST_CASE("sheet: a push that climbs as the last of the resin comes in has no margin") {
  FillResult result = expected();
  result.mould_load = sample_mould_load(); // 3 kN, held by 4 kN
  result.peak_head_pressure = 2.5e3;       // over 2 m2: 5 kN
  result.history = {{300, 0.97, 1e-5, 1e3, {{1e-5, 1e3}}, {0}, 0, 2.9e3},
                    {600, 1, 1e-5, 2.5e3, {{1e-5, 2.5e3}}, {0}, 0, 3e3}};
  for (HistoryRow& row : result.history) {
    row.head_pressure += front_pressure(shot().problem);
  }
  const SetupSheet sheet = setup_sheet(shot(), result, {});
  CHECK(says(sheet.abort, "climbing while the last 1 % fills, at most to 5.00 kN; 4.00 kN hold it "
                          "shut: whether it opens as the last 1 % fills is not known."));
}

TEST_CASE("sheet: gates with pumps of their own read their heads, and know their hoses and caps") {
  Case input = shot();
  input.problem.gates[0].own_injector = Injector{.flow_rate = 2.5e-5, .pressure_cap = 6e4};
  input.problem.gates[0].own_injector->line = {{2, 0.008}};
  FillResult result = expected();
  for (HistoryRow& row : result.history) {
    row.gates[0].pressure = 3e4;
    row.gates[0].head = 6e4;
  }
  const SetupSheet sheet = setup_sheet(input, result, {});
  CHECK(line_of(sheet.settings, "Gate G1, own pump")
            .value.value_or("")
            .ends_with("; hose 2 m of 8 mm bore"));
  CHECK(sheet.course.headings[3] == "Head pressure, gate G1");
  CHECK(sheet.course.rows[2][3].text == "0.60 bar");
  CHECK(says(sheet.abort, "The head is above its cap, 0.60 bar at the pump of gate G1: that does "
                          "not hold."));
}

TEST_CASE("sheet: of several pumps each is told what it gives") {
  Case input = shot();
  FillResult result = expected();
  const auto label = [](const SheetLine& line) { return line.label.starts_with("Given by"); };
  CHECK(std::ranges::none_of(setup_sheet(input, result, {}).quantities, label));
  input.problem.gates.push_back({"G2", {NodeId(4)}, Vector3::Zero(), std::nullopt});
  input.problem.gates[1].own_injector = Injector{.flow_rate = 1e-5, .pressure_cap = 6e4};
  result.gates[0].injected = 3e-3;
  result.gates.push_back({"G2", 1e-3, 0, 0, 600});
  for (HistoryRow& row : result.history) {
    row.gates.push_back({0, 0});
  }
  const SetupSheet sheet = setup_sheet(input, result, {});
  CHECK(line_of(sheet.quantities, "Given by the injector").value == "3.00 L, 3.30 kg");
  CHECK(line_of(sheet.quantities, "Given by the pump of gate G2").value == "1.00 L, 1.10 kg");
}

TEST_CASE("sheet: a mould that vacuum holds shut is not pushed") {
  FillResult result = expected();
  result.mould_load = sample_mould_load();
  result.mould_load->peak_force = -1020;
  Case input = shot();
  input.problem.cavity_pressure = -5e4;
  const SetupSheet sheet = setup_sheet(input, result, {});
  CHECK(says(sheet.abort, "No push is expected: the vacuum in the cavity outweighs the resin"));
  CHECK(!says(sheet.abort, "Expected push"));
}

TEST_CASE("sheet: each of several pumps has its own cap to watch for, and to break off at") {
  Case input = shot();
  const std::string common = as_bar(*input.problem.injector.pressure_cap);
  input.problem.gates.push_back(input.problem.gates[0]);
  input.problem.gates[1].name = "G2";
  input.problem.gates[1].own_injector = Injector{.flow_rate = 2.5e-5, .pressure_cap = 6e4};
  FillResult result = expected();
  result.gates.push_back({"G2", 1e-3, 6e4, 0, 600});
  for (HistoryRow& row : result.history) {
    row.gates.push_back({0, 0});
  }
  result.time_cap_reached = std::nullopt;
  result.gates[1].at_cap = {100, 250};
  SetupSheet sheet = setup_sheet(input, result, {});
  CHECK(says(sheet.watch, "The pump of gate G2 reaches its cap of 0.60 bar at about 4:10 min"));
  CHECK(says(sheet.watch, "; from then on it slows down by itself."));
  CHECK(!says(sheet.watch, "head reaches its cap"));
  CHECK(says(sheet.abort, "A head is above its cap, " + common +
                              " at the mixing head, 0.60 bar at the pump of gate G2: that does not "
                              "hold."));
  result.time_cap_reached = 300;
  CHECK(says(setup_sheet(input, result, {}).watch,
             "The mixing head reaches its cap of " + common + " at about 5:00 min"));
  // Where one has none, the highest head is told, with its place.
  input.problem.injector.pressure_cap = std::nullopt;
  for (HistoryRow& row : result.history) {
    row.head_pressure = 1e4;
    row.gates = {{1e-5, 1e4, 1e4}, {1e-5, 5e4, 6e4}};
  }
  CHECK(says(setup_sheet(input, result, {}).abort,
             "A head is above what machine, hoses and mould may bear. Highest expected: 0.60 bar, "
             "at the pump of gate G2."));
}

TEST_CASE("sheet: when the cap of a schedule is reached") {
  Case input = shot();
  InjectorStage stage;
  stage.from_time = 100;
  stage.pressure_cap = 1.1e5;
  input.problem.injector.stages = {stage};
  CHECK(says(setup_sheet(input, expected(), {}).watch,
             "The head reaches its cap of the moment at about 3:20 min"));
}

TEST_CASE("sheet: with a mould hotter than the resin the clock does not tell the gel") {
  Case input = shot(); // full after 600 s
  Resin& resin = input.problem.resin;
  resin.mixing = Mixing::inline_head;
  resin.gel_time = 3600;
  resin.laws.gel = GelTable{{293.15, 333.15}, {0.02}, {std::log(3600.0), std::log(900.0)}};
  resin.laws.catalyst = 0.02;
  input.problem.heat = Heat{293.15, 333.15, 100, 1800, 800};
  input.resin.gel_safety = 1.25;
  FillResult result = expected();
  result.age = AgeFacts{300, 590, {}};
  result.heat = HeatFacts{};
  result.heat->gel_share = 0.63;
  SetupSheet sheet = setup_sheet(input, result, {});
  CHECK(line_of(sheet.settings, "The resin gels when it is").value ==
        "60:00 min old, if it stays at 20 degC");
  CHECK(line_of(sheet.settings, "At the mould's temperature when it is").value == "15:00 min old");
  CHECK(line_of(sheet.settings, "Mould temperature").value == "60 degC");
  CHECK(says(sheet.abort, "The part is not full at 12:00 min: resin kept at 60 degC gels at 15:00 "
                          "min, less the reserve of resin.gel_safety. Expected: the resin nearest "
                          "to the gel has gone 63.0 % of its way when the part is full."));
  resin.laws.gel->log_time[1] = std::log(660.0); // 8:48 min with the reserve
  sheet = setup_sheet(input, result, {});
  CHECK(says(sheet.abort, "The part is not full when it should be, at 10:00 min: resin kept at 60 "
                          "degC gels at 11:00 min. Expected: "));
}

TEST_CASE("sheet: resin mixed inline that gels behind the front has nothing to spare") {
  Case input = shot(); // full after 600 s
  input.problem.resin.mixing = Mixing::inline_head;
  input.problem.resin.gel_time = 500;
  FillResult result = expected();
  result.age = AgeFacts{300, 590, AgeFacts::Place{NodeId(1), 505}};
  const SetupSheet sheet = setup_sheet(input, result, band());
  CHECK(says(sheet.abort, "Expected: some of the resin gels at 8:25 min, behind the front, before "
                          "the part is full."));
  CHECK(!says(sheet.abort, "to spare"));
}

TEST_CASE("sheet: what the resin leaves in the vents when it gels") {
  Case input = shot(); // full after 600 s
  input.problem.vents[0].bleed = 5e-5;
  input.problem.resin.gel_time = 700;
  FillResult result = expected();
  result.bleeding = Bleeding{.reason = ShortReason::gel};
  result.end_time = 700;
  result.vents[0].bled = 2e-5;
  const SetupSheet sheet = setup_sheet(input, result, band());
  CHECK(says(sheet.attention, "The resin gels at 11:40 min, before the vents have let out"));
  CHECK(says(sheet.stop, "but before 11:40 min at the latest: then the resin gels"));
  CHECK(says(sheet.abort, "Expected to spare: 1:40 min"));
  CHECK(says(sheet.abort, "when the part is full; it gels before the vents have let out"));
  CHECK(says(sheet.flush, "Flush mixer and hose before 11:40 min by the clock"));
  CHECK(sheet.order[2].what == "Resin shows at vent V1: let 50.0 mL run out, then close it; no "
                               "more than 20.0 mL is expected to come.");
  CHECK(sheet.order.back().when == "11:40 min");
  CHECK(sheet.order.back().what.starts_with("Before that, stop the pump"));
  // Of constant viscosity it is followed past the gel: that does not make the vents close.
  result.bleeding = Bleeding{.ended_at = 829};
  result.end_time = 829;
  const SetupSheet followed = setup_sheet(input, result, band());
  CHECK(says(followed.stop, "but before 11:40 min at the latest"));
  CHECK(followed.order.back().when == "11:40 min");
  result.vents[0].bled = result.bled = 5e-5;
  result.history.back().vent_bleed = {2e-5};
  CHECK(line_of(setup_sheet(input, result, band()).quantities, "Bled at the vents").note ==
        "20.0 mL before the resin gels");
}

TEST_CASE("sheet: bleeding that does not come to its end is said") {
  Case input = shot();
  input.problem.vents[0].bleed = 5e-5;
  FillResult result = expected();
  result.bleeding = Bleeding{.reason = ShortReason::pressure};
  result.end_time = 650;
  result.gates[0].closed_at = 650; // open to the end
  const SetupSheet sheet = setup_sheet(input, result, band());
  CHECK(says(sheet.attention, "after 10:50 min nothing drives resin out of the vents"));
  CHECK(says(sheet.stop, "no more comes out of the vents: it will be less than they should"));
  CHECK(sheet.order[2].what.ends_with("then close it; nothing is expected to come."));
  CHECK(sheet.order.back().what.starts_with("No more comes out of the vents"));
  CHECK(
      says(sheet.abort, "Expected to spare: 15:00 min (11:00 to 17:51 min) when the part is full"));
  result.bleeding = Bleeding{.reason = ShortReason::time_limit};
  CHECK(says(setup_sheet(input, result, band()).stop, "later than 10:50 min"));
  // With less permeability only: that is said of the band.
  result.bleeding = Bleeding{.ended_at = 650};
  PermeabilityBand wide = band();
  wide.tighter->bleeding = Bleeding{.reason = ShortReason::gel};
  const SetupSheet scattered = setup_sheet(input, result, wide);
  CHECK(says(scattered.attention, "1.4 times less permeable, the vents do not let out what they"));
  CHECK(says(scattered.abort,
             "15:00 min (11:00 to 17:51 min) when the part is full, 14:10 min when "
             "the vents have bled"));
}

TEST_CASE("sheet: a vent that stays open lets out more than is counted") {
  Case input = shot();
  input.problem.vents[0].bleed = std::numeric_limits<double>::infinity();
  FillResult result = expected();
  result.vents[0].bled = result.bled = 1.2e-5;
  const SetupSheet sheet = setup_sheet(input, result, band());
  CHECK(sheet.order[2].what == "Resin shows at vent V1: leave it open; 12.0 mL are expected to run "
                               "out by 10:00 min, and more as long as the pump runs.");
  CHECK(line_of(sheet.quantities, "Bled at the vents").note ==
        "a vent that stays open lets out more");
}

TEST_CASE("sheet: of many vents the first and the last are shown, and how many there are") {
  Case input = shot();
  PermeabilityBand scatter = band();
  FillResult result = expected();
  for (int v = 2; v <= 30; ++v) {
    input.problem.vents.push_back({"vent " + std::to_string(v), {NodeId(5)}, -5e4});
    for (FillResult* each : {&result, &*scatter.tighter, &*scatter.more_open}) {
      each->vents.push_back({"vent " + std::to_string(v), 590.0 - v, 0});
    }
  }
  const SetupSheet sheet = setup_sheet(input, result, scatter);
  REQUIRE(sheet.order.size() == 15); // 32 events: 13, a line that 18 are left out, the last
  CHECK(sheet.order[0].what.find(" more to -0.50 bar gauge.") != std::string::npos);
  CHECK(sheet.order[2].what == "Resin shows at vent vent 30: close it."); // 560 s
  CHECK(sheet.order[13].what.starts_with("and 18 more in between"));
  CHECK(sheet.order[14].what == "Resin shows at vent V1: close it."); // 599 s
}

TEST_CASE("sheet: the mould's margin, and one that opens forbids the shot") {
  FillResult result = expected();
  add_load(result);
  const SetupSheet sheet = setup_sheet(shot(), result, band());
  CHECK(says(sheet.abort, "up to 3.00 kN; 4.00 kN hold it shut, 1.00 kN to spare"));
  CHECK(says(sheet.stop, "to its cap of 1.20 bar, which pushes the mould open: with 240 kN, and "
                         "4.00 kN hold it shut.")); // 2 m2
  FillResult firm = result;
  firm.mould_load->hold_down_force = 300e3;
  CHECK(says(setup_sheet(shot(), firm, {}).stop,
             "to its cap of 1.20 bar, and the push on the mould to 240 kN; 300 kN hold it shut."));
  PermeabilityBand uneven = band();
  add_load(*uneven.more_open);
  uneven.more_open->mould_load->peak_force = 3500;
  CHECK(says(setup_sheet(shot(), result, uneven).abort,
             "4.00 kN hold it shut, 0.500 kN to spare at the highest of these"));
  result.mould_load->peak_force = 5000;
  result.mould_load->lifts_at = 250;
  const SetupSheet lifted = setup_sheet(shot(), result, band());
  CHECK(says(lifted.forbidden, "up to 5.00 kN against the 4.00 kN that hold it shut"));
  CHECK(lifted.course.rows.empty());
}

TEST_CASE("sheet: a part that does not fill gets no course, no quantities, but the cautions") {
  const SetupSheet sheet = setup_sheet(shot(), short_result(), {});
  CHECK(says(sheet.forbidden, "The part does not fill. The resin gels before the part is full."));
  CHECK(says(sheet.forbidden, "83.8 % of it is filled"));
  CHECK(says(sheet.forbidden, "Left dry: 650 mL"));
  CHECK(sheet.course.rows.empty());
  CHECK(sheet.quantities.empty());
  CHECK(sheet.order.empty());
  CHECK(sheet.stop.empty());
  CHECK(says(sheet.cautions, "Follow the supplier's data sheet, local codes and licensed practice; "
                             "the first shot is a trial."));
}

TEST_CASE("sheet: scatter that leaves the part short is said first") {
  PermeabilityBand wide = band();
  wide.tighter = short_result();
  wide.more_open.reset();
  const SetupSheet sheet = setup_sheet(shot(), expected(), wide);
  CHECK(says(sheet.attention, "1.4 times less permeable, which is within the usual scatter, the "
                              "part does not fill. The resin gels"));
  CHECK(says(sheet.attention, "1.4 times more permeable, the filling could not be computed"));
  CHECK(sheet.course.rows[4][1].band == "or never");
}

TEST_CASE("sheet: a short filling of the band counts: its push, and what never comes in it") {
  FillResult result = expected();
  add_load(result); // up to 3 kN against 4 kN
  PermeabilityBand wide = band();
  add_load(*wide.more_open);
  wide.tighter = short_result();
  wide.tighter->mould_load = sample_mould_load();
  wide.tighter->mould_load->peak_force = 7000;
  wide.tighter->mould_load->lifts_at = 100;
  for (VentResult& vent : wide.tighter->vents) {
    vent.reached_at.reset();
  }
  const SetupSheet sheet = setup_sheet(shot(), result, wide);
  CHECK(says(sheet.attention, "the part does not fill, and the mould is pushed open. The resin"));
  CHECK(says(sheet.abort,
             "up to 3.00 kN (3.00 to 7.00 kN); 4.00 kN hold it shut, 3.00 kN less than "
             "the highest of these."));
  CHECK(says(sheet.stop, "expected at 10:00 min (7:09 to 10:00 min, or never)"));
  CHECK(says(sheet.abort, "Expected to spare: 15:00 min (15:00 to 17:51 min, or never full)"));
  CHECK(sheet.order[2].band == "7:08 to 9:59 min, or never");
}

TEST_CASE("sheet: what the case does not say stays a blank that says so") {
  Case input = sample_case();
  input.problem.resin.density.reset();
  input.problem.resin.gel_time.reset();
  input.problem.injector.pressure_cap.reset();
  const SetupSheet sheet = setup_sheet(input, expected(), band());
  for (const char* label : {"Catalyst level", "Resin temperature", "The resin gels when it is",
                            "Pressure cap at the mixing head"}) {
    CAPTURE(label);
    CHECK_FALSE(line_of(sheet.settings, label).value);
    CHECK_FALSE(line_of(sheet.settings, label).note.empty());
  }
  for (const char* label :
       {"Mass to prepare", "Catalyst, of what is prepared", "Catalyst by volume",
        "Drum or bucket lighter at the end by", "Strokes of the pump", "Waste, mixer and bucket"}) {
    CAPTURE(label);
    CHECK_FALSE(line_of(sheet.quantities, label).value);
    CHECK(line_of(sheet.quantities, label).note.starts_with("not in the case: "));
  }
  CHECK(line_of(sheet.quantities, "Resin in the part").value == "4.00 L");
  CHECK(sheet.course.headings.back() == "Head pressure"); // no strokes
  CHECK(says(sheet.abort, "not full at ________ min"));
  CHECK(says(sheet.flush, "No gel time in the case"));
}

TEST_CASE("sheet: ranges and long names") {
  CHECK(range_text("3:20 min", "5:10 min") == "3:20 to 5:10 min");
  CHECK(range_text("45 s", "1:10 min") == "45 s to 1:10 min");
  CHECK(range_text("12", "14") == "12 to 14");
  CHECK(range_text("1 bar", "1 bar").empty());
  CHECK(shortened("abc", 3) == "abc");
  CHECK(shortened("Größe\nx", 5) == "Größe…");
  CHECK(shortened("a\nb", 5) == "a b");
}
