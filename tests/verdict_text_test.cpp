#include "io/verdict_text.hpp"
#include "solver/mould_load.hpp"
#include "tests/support/says.hpp"

#include "io/spoken.hpp"
#include "io/terminal.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <limits>
#include <optional>
#include <string>

using namespace tidemark;

TEST_CASE("verdict: a part that fills") {
  const std::string text = verdict_text(sample_case(), sample_result());
  CHECK(text.starts_with("Sample plate\n"));
  CHECK(says(text, "The part fills. It takes about 10:00 min."));
  CHECK(says(text, "The resin gels at 25:00 min: 15:00 min to spare."));
  CHECK(says(text, "The pressure at the mixing head peaks at 1.20 bar."));
  // half-way between the rows at 100 s (25 %) and 300 s (75 %)
  CHECK(
      says(text, "is reached at 3:20 min with 50.0 % filled and holds the pump back for 6:40 min"));
  CHECK(says(text, "Resin in the part: 4.00 L (4.40 kg)"));
  CHECK(says(text, "The last places to fill:\n  1: 10:00 min at x 2000 mm, y 1000 mm, z 0.0 mm in "
                   "region core, at vent V1\n"));
  CHECK(!says(text, "Air shut in"));
  CHECK(says(text, "Mass balance: off by 2e-12 of the resin injected."));
  CHECK(says(text, "A prediction is no substitute for a trial shot."));
  CHECK(says(text, "rating of mould, clamps, hoses and pump"));
  CHECK(!says(text, "dry"));
  CHECK(!says(text, "Warning"));
}

TEST_CASE("verdict: a part that does not fill, and why, and where") {
  const std::string text = verdict_text(sample_case(), short_result());
  CHECK(says(text, "The part does not fill. The resin gels before the part is full."));
  CHECK(says(text, "after 6:40 min, 83.8 % of it is filled"));
  CHECK(says(text, "Vent V1 is never reached."));
  CHECK(says(text, "The places the resin came to last, apart from round what stayed dry:\n"));
  CHECK(
      says(text, "Left dry:\n  A: 0.650 L around x 2000 mm, y 1000 mm, z 0.0 mm in region core\n"));
  CHECK(!says(text, "The part fills"));
}

TEST_CASE("verdict: how far the last places are from a vent, and that air is not computed") {
  Case input = sample_case();
  FillResult result = sample_result();
  result.last_filled.push_back({NodeId(1), 500, RegionId(0)});
  // node 1 at (1, 0), the vent at (2, 1): sqrt(2) m
  std::string text = verdict_text(input, result);
  CHECK(says(text, "z 0.0 mm in region skin, 1414 mm from vent V1\n"));
  CHECK(says(text, "Air shut in is not computed: a place of these without a vent may stay dry."));
  input.problem.vents.clear();
  result.vents.clear();
  text = verdict_text(input, result);
  CHECK(says(text, "No vent is given. Air shut in is not computed"));
  CHECK(!says(text, "from vent"));
}

TEST_CASE("verdict: what to look at when the part is short") {
  FillResult result = short_result(); // at the cap for 400 s of 400 s
  CHECK(says(verdict_text(sample_case(), result), "the cap held the pump back for most"));
  Case without_cap = sample_case(); // the program's own limit, beyond any pump
  without_cap.problem.injector.pressure_cap.reset();
  result.peak_head_pressure = 1e8;
  CHECK(says(verdict_text(without_cap, result),
             "the pump stood at 1000.00 bar, more than any gives"));
  result.time_at_cap = 100;
  CHECK(says(verdict_text(sample_case(), result), "the pump ran at its set flow rate for most"));
  result.reason = ShortReason::no_path;
  CHECK(says(verdict_text(sample_case(), result), "a gate on each piece of the part"));
  result.reason = ShortReason::time_limit;
  CHECK(!says(verdict_text(sample_case(), result), "What to look at"));
}

TEST_CASE("verdict: more flow is no advice without a flow rate, or while no gate is open") {
  FillResult result = short_result(); // 400 s
  result.time_at_cap = 100;
  Case held = sample_case();
  held.problem.injector.flow_rate = std::nullopt;
  CHECK(
      says(verdict_text(held, result),
           "What to look at: no flow rate is set, a pressure drives the resin.\n  A gate nearer"));
  // What helps is no more flow where no gate is open for most of the time.
  held.problem.gates[0].closes.time = 100;
  result.gates[0].closed_at = 100; // of 400 s
  result.time_cap_reached = 0;
  std::string text = verdict_text(held, result);
  CHECK(says(text, "What to look at: for 5:00 min no gate is open."));
  CHECK(!says(text, "the cap held the pump back"));
  CHECK(says(text, "the head is held at its cap of 1.20 bar while it gives resin, 1:40 min in "
                   "all.\n"));
  CHECK(!says(text, "from start to end"));
  result.gates.push_back({"G2", 1e-4, 1.2e5, 250, 400}); // shut from 100 s to 250 s only
  held.problem.gates.push_back({"G2", {NodeId(4)}, Vector3::Zero(), std::nullopt});
  for (HistoryRow& row : result.history) {
    row.gates.push_back({0, 0});
  }
  CHECK(!says(verdict_text(held, result), "no gate is open"));
}

TEST_CASE("verdict: gates that closed too early are the reason, not a missing connection") {
  Case input = sample_case();
  FillResult result = short_result(); // ends at 400 s
  result.reason = ShortReason::no_path;
  result.gates[0].closed_at = 400;
  input.problem.gates[0].closes.time = 400;
  std::string text = verdict_text(input, result);
  CHECK(says(text, "The part does not fill. The gate is closed from 6:40 min on, and no more resin "
                   "comes.\n"));
  CHECK(says(text, "What to look at: keep a gate open longer"));
  CHECK(says(text, "It closes at 6:40 min.\n"));
  CHECK(!says(text, "connection"));
  CHECK(!says(text, "still open"));
  // By the front at a vent that it came to.
  input.problem.gates[0].closes = {.time = {}, .reached = PortRef{PortRef::Kind::vent, 0}};
  result.vents[0].reached_at = 400;
  CHECK(says(verdict_text(input, result), "It is still open at the end.\n")); // not full there
  result.fill_fraction[NodeId(5)] = 1;
  CHECK(says(verdict_text(input, result), "It closes at about 6:40 min.\n"));
  // At a vent along a line it closes at the last of its nodes, and that is said.
  Case line = input;
  line.problem.vents[0].nodes = {NodeId(2), NodeId(5)};
  CHECK(says(verdict_text(line, result),
             "It closes at about 6:40 min, when the resin has come to all of vent V1.\n"));
  // A clock beyond the end has not closed it.
  input.problem.gates[0].closes = {.time = 500, .reached = {}};
  text = verdict_text(input, result);
  CHECK(says(text, "Part of the cavity has no connection to any gate."));
  CHECK(says(text, "It is still open at the end.\n"));
}

TEST_CASE("verdict: a vent that lets out all that comes is the reason, not the pressure") {
  Case input = sample_case();
  FillResult result = short_result();
  result.reason = ShortReason::pressure;
  input.problem.vents[0].bleed = std::numeric_limits<double>::infinity();
  result.vents[0].reached_at = 300;
  // From 300 s to 400 s 2e-5 m3/s come in, 2e-3 m3, and as much runs out.
  result.history.back().flow_rate = 2e-5;
  result.history.back().vent_bleed = {2e-3};
  const std::string text = verdict_text(input, result);
  CHECK(says(text, "The part does not fill. Vent V1 lets out all the resin that is injected"));
  CHECK(says(text, "What to look at: close vent V1 when the resin arrives"));
  CHECK(!says(text, "not high enough"));
  // But for 2e-6 m3 in 100 s, while 6.5e-4 m3 are dry.
  result.history.back().vent_bleed = {1.998e-3};
  CHECK(says(verdict_text(input, result),
             "Vent V1 lets out nearly all the resin that is injected: with the rest, what is dry "
             "would take more than 9 h 2 min to fill."));
  // Half of it: the pressure is too low for the rest.
  result.history.back().vent_bleed = {1e-3};
  CHECK(says(verdict_text(input, result), "not high enough"));
}

TEST_CASE("verdict: a cap that only the last cells come to is not told as never reached") {
  FillResult result = sample_result(); // peaks at its cap of 1.2 bar
  result.time_cap_reached = std::nullopt;
  result.time_at_cap = 0.1;
  CHECK(says(verdict_text(sample_case(), result),
             "The pressure cap of 1.20 bar is reached only while the last cells fill.\n"));
  result.peak_head_pressure = 1.1e5;
  result.time_at_cap = 0;
  CHECK(says(verdict_text(sample_case(), result), "The pressure cap of 1.20 bar is not reached."));
}

TEST_CASE("verdict: of a run that was broken off nothing is said as if it were for good") {
  FillResult result = short_result();
  result.reason = ShortReason::interrupted;
  const std::string text = verdict_text(sample_case(), result);
  CHECK(says(text, "Vent V1 is not reached by then."));
  CHECK(says(text, "Still dry by then:\n"));
  CHECK(says(text, ", shortly before the run ended.\n"));
  CHECK(!says(text, "never"));
  CHECK(!says(text, "before the last 1 %"));
  result.mould_load = MouldLoad{};
  CHECK(says(verdict_text(sample_case(), result), "The mould is not pushed open by then: "));
}

TEST_CASE(
    "verdict: a cap below the pressure in the cavity lets nothing flow, and no more is said") {
  Case input = sample_case();
  input.problem.injector.pressure_cap = -6e4;
  FillResult result = short_result();
  result.reason = ShortReason::pressure;
  result.injected = 0;
  result.history.clear();
  const std::string text = verdict_text(input, result);
  CHECK(says(text, "No resin flows: the pressure cap of -0.60 bar is not above the pressure in the "
                   "dry cavity, -0.50 bar."));
  CHECK(says(text, "What to look at: the pressure cap"));
  CHECK(!says(text, "peaks"));
}

TEST_CASE("verdict: no resin flows for other reasons than the cap") {
  FillResult result = short_result();
  result.reason = ShortReason::time_limit;
  result.injected = 0;
  const std::string text = verdict_text(sample_case(), result);
  CHECK(says(text, "The part does not fill. No resin flows. The time limit set for this run ends"));
  CHECK(!says(text, "pressure cap"));
  // A cap above the cavity's pressure, but not above the height to the first gate.
  result.reason = ShortReason::pressure;
  Case input = sample_case();
  input.problem.gravity = Vector3(0, 0, -9.81);
  CHECK(says(verdict_text(input, result),
             "No resin flows. The pressure at the mixing head is not high enough"));
  CHECK(says(verdict_text(input, result), "and how high the resin must rise.\n"));
}

TEST_CASE("verdict: a part that comes to rest has nearly all long before the end") {
  Case input = sample_case();
  input.problem.sealed_air = true;
  FillResult result = trapped_air_result();
  result.end_time = 1000;
  result.filled_fraction = 0.8;
  result.history.resize(2, result.history.back());
  result.history[0].time = 300;
  result.history[0].filled_fraction = 0.7984; // 0.7992 is in at 420 s
  result.history[1].time = 1000;
  result.history[1].filled_fraction = 0.8;
  result.history.insert(result.history.begin() + 1, result.history[1]);
  result.history[1].time = 540;
  CHECK(says(verdict_text(input, result),
             "At the end, after 16:40 min, 80.0 % of it is filled, all but a thousandth of that "
             "after 7:00 min.\n"));
  result.reason = ShortReason::time_limit;
  CHECK(says(verdict_text(input, result), "80.0 % of it is filled.\n"));
}

TEST_CASE("verdict: air shut in, its place first, and what would halve it") {
  Case input = sample_case();
  input.problem.sealed_air = true;
  const std::string text = verdict_text(input, trapped_air_result());
  CHECK(
      says(text,
           "The part does not fill. Air is shut in, and the resin cannot compress it any "
           "further.\nAt the end, after 6:40 min, 83.8 % of it is filled.\nLeft dry:\n"
           "  A: at x 2000 mm, y 1000 mm, z 0.0 mm in region core: 0.650 L of air shut in, at 0.80 "
           "bar. Resin at 2.61 bar there would halve it.\nThe resin gels at"));
  CHECK(says(text, "What to look at: a vent where the air is shut in"));
  CHECK(!says(text, "is not computed"));
}

TEST_CASE("verdict: with sealed air computed nothing is said of air left out") {
  Case input = sample_case();
  FillResult result = sample_result();
  result.last_filled.push_back({NodeId(1), 500, RegionId(0)});
  REQUIRE(says(verdict_text(input, result), "Air shut in is not computed"));
  input.problem.sealed_air = true;
  CHECK(!says(verdict_text(input, result), "Air shut in"));
}

TEST_CASE("verdict: air that was shut in and closed up is told of a full part too") {
  FillResult result = sample_result();
  result.suspect_zones = {{Vector3(1, 0, 0), 2e-5, -5e4, 153, RegionId(0)}};
  const std::string text = verdict_text(sample_case(), result);
  CHECK(says(text, "The part fills."));
  CHECK(says(text, "Look here on the first part. Air was shut in and closed up"));
  CHECK(says(text,
             "  A: at x 1000 mm, y 0.0 mm, z 0.0 mm in region skin: 20.0 mL at -0.50 bar, shut "
             "in at about 2:33 min\n"));
  result.suspect_zones.assign(7, result.suspect_zones[0]);
  CHECK(says(verdict_text(sample_case(), result), "  and 2 more places, see summary.json\n"));
}

TEST_CASE("verdict: the mould, with room to spare, lifting, and not held") {
  FillResult result = sample_result();
  CHECK(!says(verdict_text(sample_case(), result), "pushed open"));
  result.mould_load = sample_mould_load();
  std::string text = verdict_text(sample_case(), result);
  CHECK(says(text, "The resin pushes on the mould to open it with up to 3.00 kN, at about 5:00 "
                   "min. The cavity sees "
                   "1.10 bar at most.\nIt is held shut with 4.00 kN: 1.00 kN to spare.\n"));
  CHECK(!says(text, "Warning"));
  CHECK_FALSE(says(text, "99 %"));
  // Steps with their middles at 99.0 % and 99.9 %: 2 kN, then the 3 kN of the peak.
  FillResult late = result;
  late.history.resize(3);
  late.history[0].filled_fraction = 0.982;
  late.history[1].filled_fraction = 0.998;
  late.history[2].filled_fraction = 1;
  late.history[0].opening_force = 1000;
  late.history[1].opening_force = 2000;
  late.history[2].opening_force = 3000;
  CHECK(says(verdict_text(sample_case(), late), "\nWith 99 % of the resin in, it is 2.00 kN: the "
                                                "rest comes with the last 1 %, and is as"));
  late.history[1].opening_force = -2000;
  CHECK(says(verdict_text(sample_case(), late),
             "\nWith 99 % of the resin in, nothing pushes it open yet: all of this force comes "
             "while the last 1 % fills, and depends on mesh and steps.\n"));
  result.mould_load->peak_force_at = result.end_time;
  CHECK(says(verdict_text(sample_case(), result), "with up to 3.00 kN, at the end. The cavity"));
  result.mould_load->hold_down_force = 2000;
  result.mould_load->lifts_at = 257;
  result.mould_load->head_pressure_at_lift = 9e4;
  text = verdict_text(sample_case(), result);
  CHECK(says(text, "It is held shut with 2.00 kN: 1.00 kN too little.\n"));
  CHECK(says(text, "The part fills, but the mould is pushed open. It takes about"));
  CHECK(says(text, "Warning: The mould is pushed open at about 4:17 min, with more than the 2.00 "
                   "kN that hold it shut. The head is at 0.90 bar then."));
  CHECK(says(text, "Never exceed the rating of mould, clamps, hoses and pump."));
  result.mould_load->hold_down_force = 0;
  CHECK(says(verdict_text(sample_case(), result), "It is not said what holds the mould shut"));
  result.mould_load->peak_force = -100;
  CHECK(says(verdict_text(sample_case(), result), "The mould is not pushed open"));
  // Vacuum is named only where there is some.
  Case input = sample_case();
  input.problem.cavity_pressure = 0;
  for (Vent& vent : input.problem.vents) {
    vent.pressure = 0;
  }
  text = verdict_text(input, result);
  CHECK(!says(text, "vacuum in the cavity"));
  CHECK(says(text, "during the filling: the pressure in the cavity does not rise above that of "
                   "the outer air.\n"));
  input.problem.cavity_pressure = -5e4;
  CHECK(says(verdict_text(input, result), ": the vacuum in the cavity outweighs the resin.\n"));
  // The part of the sample is flat.
  input.problem.mould = Mould{Vector3::UnitX(), 0};
  text = verdict_text(input, result);
  CHECK(!says(text, "not pushed open"));
  CHECK(says(text, "How hard the resin pushes the mould open cannot be told: along "
                   "mould.closing_direction the part shows the resin next to no area.\n"));
}

TEST_CASE("verdict: a push that climbs in a last step too coarse to tell how far") {
  // At 1.2 bar, air at -0.5 bar: the flow halves in the last 2 %, and 1.2 bar on 2 m2 are 240 kN.
  FillResult result = sample_result();
  result.mould_load = sample_mould_load();
  result.mould_load->peak_force_at = result.end_time;
  result.history.resize(3);
  const double fractions[] = {0.96, 0.98, 1};
  const double flows[] = {1.1e-5, 1e-5, 5e-6};
  for (std::size_t i = 0; i < 3; ++i) {
    result.history[i].filled_fraction = fractions[i];
    result.history[i].flow_rate = flows[i];
    result.history[i].head_pressure = 1.2e5;
    result.history[i].opening_force = 2900 + 50 * static_cast<double>(i);
  }
  CHECK(says(
      verdict_text(sample_case(), result),
      "\nIt climbs while the last 1 % fills: the steps there are too coarse to tell how far "
      "beyond that, at most to 240 kN.\nIt is held shut with 4.00 kN: 1.00 kN more than the push "
      "computed, but less than it may climb to: whether it opens as the last 1 % fills is "
      "not known.\n"));
  // Towards a straight end the flow hardly falls.
  result.history[2].flow_rate = 0.98e-5;
  CHECK(!says(verdict_text(sample_case(), result), "It climbs"));
  result.history[2].flow_rate = 5e-6;
  result.mould_load->at_rest.projected_area = 0.02; // 2.4 kN: it has been there
  CHECK(!says(verdict_text(sample_case(), result), "It climbs"));
}

TEST_CASE("verdict: what fibres and resin have of the opening force") {
  Case input = sample_case();
  FillResult result = sample_result();
  result.mould_load = sample_mould_load(); // up to 3 kN against 4 kN
  input.problem.mould = Mould{Vector3::UnitZ(), 4000};
  const auto count_fibres = [&] { result.mould_load->at_rest.fibres = fibre_push(input.problem); };
  count_fibres();
  CHECK(says(verdict_text(input, result),
             "to open it with up to 3.00 kN, at about 5:00 min. The push of the fibres is not "
             "counted: the case has no compaction data. The cavity sees 1.10 bar at most.\n"));
  for (Region& region : input.problem.regions) {
    region.fibre_pressure = 750; // on the 2 m2 of the part
  }
  count_fibres();
  CHECK(says(verdict_text(input, result),
             "Resin and fibres push the mould open with up to 3.00 kN, at about 5:00 min: 1.50 kN "
             "by the resin, 1.50 kN by the fibres. The cavity sees 1.10 bar at most.\n"));
  result.mould_load->peak_force = 1000;
  result.mould_load->peak_force_at = 0;
  CHECK(says(verdict_text(input, result),
             "with up to 1.00 kN, before the injection begins: 1.50 kN by the fibres, less 0.500 "
             "kN by which the vacuum in the cavity outweighs the resin. The"));
  result.mould_load->peak_force = -1;
  CHECK(says(verdict_text(input, result), "the vacuum in the cavity outweighs the resin and the "
                                          "fibres.\n"));
  input.problem.regions[0].fibre_pressure = 0;
  count_fibres();
  CHECK(says(verdict_text(input, result), "The push of the fibres is not counted on 1.00 "
                                          "m2 of 2.00 m2: no compaction data there."));
  // More than holds: no cap of the pump helps.
  result.mould_load->peak_force = 5000;
  result.mould_load->lifts_at = 0;
  input.problem.regions[0].fibre_pressure = 4000;
  input.problem.regions[1].fibre_pressure = 4000;
  count_fibres();
  CHECK(says(verdict_text(input, result),
             "Warning: The mould is pushed open before the injection begins, with more than the "
             "4.00 kN that hold it shut. The fibres alone push harder than that: "));
}

TEST_CASE("verdict: behind a hose the gate sees less than the head, and says so") {
  Case input = sample_case();
  FillResult result = sample_result();
  result.gates = {{"G1", 4e-3, 0.9e5, 0, 600}};
  CHECK(!says(verdict_text(input, result), "Gate G1"));
  input.problem.injector.line = {{2, 8e-3}};
  CHECK(says(verdict_text(input, result), "Gate G1 takes 4.00 L, at up to 0.90 bar.\n"));
  result.gates[0].injected = -0.0894e-3; // to the other gate of its pump
  CHECK(says(verdict_text(input, result), "Gate G1 gives back 0.0894 L, at up to 0.90 bar.\n"));
}

TEST_CASE("verdict: what a pump left on after the filling does to the mould") {
  Case input = sample_case();
  input.problem.injector.pressure_cap = 1.2e5;
  FillResult result = sample_result();
  result.mould_load = sample_mould_load();
  result.mould_load->at_rest.projected_area = 0.03;
  CHECK(says(verdict_text(input, result),
             "Left on after that, the pump brings the whole cavity to 1.20 bar, and the push to "
             "3.60 kN: 0.400 kN to spare even then.\n"));
  result.mould_load->at_rest.projected_area = 0.04;
  CHECK(says(verdict_text(input, result),
             "4.80 kN: 0.800 kN more than holds it shut. Stop the pump "
             "when the part is full.\n"));
  Case own = input; // a second gate with a pressure of its own
  own.problem.gates.push_back({"B", {NodeId(4)}, Vector3::Zero(), std::nullopt});
  own.problem.gates[1].own_injector = Injector{std::nullopt, 3e5};
  FillResult driven = result;
  driven.gates.push_back({"B", 1e-4, 3e5, 300, 600});
  for (HistoryRow& row : driven.history) {
    row.gates.push_back({0, 0});
  }
  CHECK(says(verdict_text(own, driven),
             "Left on after that, the pump of gate B brings the whole cavity to 3.00 bar, and the "
             "push to 12.0 kN"));
  Case scheduled = input; // 0.9 bar from half of the volume on: 3.6 kN
  scheduled.problem.injector.stages = {
      {.from_time = {}, .from_volume = 2e-3, .flow_rate = {}, .pressure_cap = 0.9e5}};
  CHECK(says(verdict_text(scheduled, result),
             "the whole cavity to 0.90 bar, and the push to 3.60 kN: 0.400 kN to spare"));
  result.mould_load->hold_down_force = 0;
  CHECK(says(verdict_text(input, result), "and the push to 4.80 kN.\n"));
  Case bleeding = input;
  bleeding.problem.vents[0].bleed = std::numeric_limits<double>::infinity();
  CHECK(!says(verdict_text(bleeding, result), "Left on"));
  input.problem.injector.pressure_cap = std::nullopt;
  CHECK(!says(verdict_text(input, result), "Left on"));
  input.problem.injector.pressure_cap = 1.2e5;
  result.verdict = Verdict::short_fill;
  CHECK(!says(verdict_text(input, result), "Left on"));
}

TEST_CASE("verdict: gates that open and close, by the clock and by the front") {
  Case input = sample_case();
  FillResult result = sample_result();
  CHECK(!says(verdict_text(input, result), "Gate G1"));
  input.problem.gates.push_back(input.problem.gates[0]);
  input.problem.gates.push_back(input.problem.gates[0]);
  input.problem.gates[0].closes.reached = PortRef{PortRef::Kind::vent, 0};
  input.problem.gates[1].opens.time = 125;
  input.problem.gates[1].closes.time = 1000;
  input.problem.gates[2].opens.reached = PortRef{PortRef::Kind::gate, 2};
  result.gates[0].closed_at = 391;
  result.gates.push_back({"G2", 1e-3, 1e5, 125, 600});
  result.gates.push_back({"G3", 0, 0, std::nullopt, std::nullopt});
  std::string text = verdict_text(input, result);
  CHECK(says(text, "Gate G1 takes 4.00 L, at up to 1.20 bar. It closes at about 6:31 min.\n"));
  CHECK(says(text,
             "Gate G2 takes 1.00 L, at up to 1.00 bar. It opens at 2:05 min. It is still open "
             "at the end.\n"));
  CHECK(says(text, "Gate G3 never opens.\n"));
  // One gate with a moment of its own says so.
  input.problem.gates.resize(1);
  result.gates.resize(1);
  CHECK(says(verdict_text(input, result), "It closes at about 6:31 min."));
}

TEST_CASE("verdict: a peak that comes with the last hundredth of the resin is told as such") {
  const Case input = sample_case();
  FillResult result = sample_result();
  CHECK(!says(verdict_text(input, result), "Until 99 %"));
  result.peak_head_pressure = 3e5;
  result.history = {{300, 0.75, 1e-5, 1.2e5, {{1e-5, 1.2e5}}, {0}},
                    {590, 0.99, 1e-5, 1.3e5, {{1e-5, 1.3e5}}, {0}},
                    {600, 1, 1e-6, 3e5, {{1e-6, 3e5}}, {0}}};
  CHECK(
      says(verdict_text(input, result),
           "The pressure at the mixing head peaks at 3.00 bar.\nUntil 99 % of the resin is in, it "
           "is 1.30 bar at most: the rest comes with the last 1 %, and is as rough as the mesh "
           "there.\n"));
}

TEST_CASE("verdict: a gate that another pump's resin pushes shut does not give at that pressure") {
  Case input = sample_case();
  input.problem.gates.push_back(input.problem.gates[0]);
  input.problem.gates[1].own_injector = Injector{std::nullopt, 3e5};
  FillResult result = sample_result();
  result.peak_head_pressure = 3e5;
  result.gates = {{"G1", 3e-3, 2.9e5, 0, 600}, {"G2", 1e-3, 3e5, 0, 600}};
  result.history = {{300, 0.75, 1e-5, 1.2e5, {{1e-5, 1.2e5}, {0, 6e4}}, {0}},
                    {600, 1, 1e-6, 0, {{0, 2.9e5}, {1e-6, 3e5}}, {0}}};
  std::string text = verdict_text(input, result);
  CHECK(says(text, "The pressure at the mixing head peaks at 1.20 bar.\n"));
  CHECK(says(text, "Gate G1 takes 3.00 L, at up to 1.20 bar. While the resin in the part pushes it "
                   "shut, up to 2.90 bar stand there.\n"));
  CHECK(says(text, "Gate G2 takes 1.00 L, at up to 3.00 bar.\n"));
  result.gates[0].injected = 0;
  result.history[0].gates[0].flow_rate = 0;
  text = verdict_text(input, result);
  CHECK(says(text, "Gate G1 takes no resin. While the resin in the part pushes it shut, up to 2.90 "
                   "bar stand there.\n"));
}

TEST_CASE("verdict: a gate with its own pump says its own pressure, and no common cap is told") {
  Case input = sample_case();
  input.problem.gates[0].own_injector = Injector{2.5e-5, 1.2e5};
  input.problem.injector = {};
  FillResult result = sample_result();
  result.gates[0].at_cap = {400, 200};
  std::string text = verdict_text(input, result);
  CHECK(says(text, "The cap of gate G1's pump, 1.20 bar, is reached at 3:20 min with 50.0 % filled "
                   "and holds it back for 6:40 min.\nThe flow goes from "));
  CHECK(says(text, "Gate G1 takes 4.00 L, at up to 1.20 bar.\n"));
  CHECK(!says(text, "mixing head"));
  CHECK(!says(text, "No pressure cap is set"));
  // Also with a schedule, at the cap that it leaves as it is, or changes.
  const InjectorStage stage{100.0, std::nullopt, 1e-5, std::nullopt};
  input.problem.gates[0].own_injector->stages = {stage};
  CHECK(says(verdict_text(input, result), "The cap of gate G1's pump, 1.20 bar, is reached at "));
  input.problem.gates[0].own_injector->stages[0].pressure_cap = 1.3e5;
  CHECK(says(verdict_text(input, result),
             "The cap of the moment of gate G1's pump is reached at 3:20 min"));
  // Only when all is full.
  result.bleeding = Bleeding{.ended_at = 825};
  result.end_time = 825;
  result.gates[0].at_cap = {0, 700};
  CHECK(says(verdict_text(input, result), " of gate G1's pump is reached only at 11:40 min, while "
                                          "the vents of the full part bleed.\n"));
  result.gates[0].at_cap = {};
  text = verdict_text(input, result);
  CHECK(!says(text, "is reached only at"));
  CHECK(!says(text, "'s pump"));
}

TEST_CASE("verdict: of several pumps each is told with its own cap") {
  Case input = sample_case(); // 1.2 bar
  input.problem.gates.push_back(input.problem.gates[0]);
  input.problem.gates[1].name = "G2";
  input.problem.gates[1].own_injector = Injector{1e-5, 1e5};
  FillResult result = sample_result();
  result.gates = {{"G1", 1.65e-3, 9e4, 0, 600}, {"G2", 1.65e-3, 1e5, 0, 600, {350, 250}}};
  result.history = {{300, 0.75, 1e-5, 9e4, {{5e-6, 9e4}, {5e-6, 1e5}}, {0}},
                    {600, 1, 1e-6, 8e4, {{5e-7, 8e4}, {5e-7, 1e5}}, {0}}};
  result.time_at_cap = 0;
  result.time_cap_reached = std::nullopt;
  std::string text = verdict_text(input, result);
  CHECK(says(text, "The pressure at the mixing head peaks at 0.90 bar.\n"
                   "The cap of the mixing head, 1.20 bar, is not reached.\n"
                   "The cap of gate G2's pump, 1.00 bar, is reached at 4:10 min and holds it back "
                   "for 5:50 min.\nThe flow goes from "));
  CHECK(!says(text, "pressure cap of"));
  result.time_at_cap = 100;
  result.time_cap_reached = 500;
  CHECK(says(verdict_text(input, result),
             "The cap of the mixing head, 1.20 bar, is reached at 8:20 min and holds it back for "
             "1:40 min.\nThe cap of gate G2's pump, "));
  // A pump without a flow rate does not come to its cap, it stands there.
  input.problem.gates[1].own_injector->flow_rate = std::nullopt;
  CHECK(!says(verdict_text(input, result), "The cap of gate G2's pump"));
  input.problem.injector.pressure_cap = std::nullopt;
  CHECK(says(verdict_text(input, result), "No pressure cap is set at the mixing head.\n"));
  input.problem.injector = {std::nullopt, 1.2e5};
  CHECK(says(verdict_text(input, result), "No flow rate is set at the mixing head: it is held at "
                                          "its cap of 1.20 bar while it gives resin, 1:40 min"));
}

TEST_CASE("verdict: the pump that was held back is named where there are several") {
  Case input = sample_case();
  input.problem.gates.push_back(input.problem.gates[0]);
  input.problem.gates[1].own_injector = Injector{1e-5, 1e5};
  FillResult result = short_result(); // by gel, after 400 s
  result.time_at_cap = 100;
  result.gates.push_back({"G2", 1e-3, 1e5, 0, 400, {300, 100}});
  for (HistoryRow& row : result.history) {
    row.gates.push_back({1e-6, 1e5});
  }
  input.problem.gates[1].name = "G2";
  CHECK(says(verdict_text(input, result),
             "the cap held the pump of gate G2 back for most of the time"));
  result.gates[1].at_cap.duration = 100;
  CHECK(says(verdict_text(input, result), "ran at its set flow rate for most of the time"));
}

TEST_CASE("verdict: a cap that changes on the way is told without a number") {
  Case input = sample_case();
  input.problem.injector.stages = {{300.0, std::nullopt, std::nullopt, 2e5}};
  CHECK(says(verdict_text(input, sample_result()),
             "The pressure cap of the moment is reached at 3:20 min with 50.0 % filled"));
  input.problem.injector.pressure_cap = std::nullopt; // the first one comes with the stage
  FillResult result = sample_result();
  result.time_cap_reached = std::nullopt;
  CHECK(says(verdict_text(input, result), "The pressure cap of the moment is not reached."));
}

TEST_CASE("verdict: a vent of several nodes is reached bit by bit") {
  Case input = sample_case();
  input.problem.vents[0].nodes = {NodeId(2), NodeId(5)}; // 400 s, 600 s
  FillResult result = sample_result();
  result.vents[0].reached_at = 400;
  CHECK(says(verdict_text(input, result),
             "Vent V1 is first reached at 6:40 min, all of it at 10:00 min.\n"));
  result = short_result();
  result.reason = ShortReason::trapped_air;
  result.vents[0].reached_at = 400;
  CHECK(says(verdict_text(input, result),
             "Vent V1 is first reached at 6:40 min, all of it never.\n"));
  result.reason = ShortReason::time_limit;
  CHECK(says(verdict_text(input, result),
             "Vent V1 is first reached at 6:40 min, not all of it by then.\n"));
}

TEST_CASE("verdict: resin in channels, and what each vent bleeds") {
  Case input = sample_case();
  // 1 m of 2 cm2 and 1.414 m of 1 cm2
  input.problem.channels = {
      {"main", {{NodeId(0), NodeId(1)}, {NodeId(1), NodeId(5)}}, {2e-4, 1e-4}, {1e-6, 1e-6}}};
  FillResult result = sample_result();
  result.vents[0].bled = 2e-4;
  const std::string text = verdict_text(input, result);
  CHECK(says(text, "Channels and gaps take 0.341 L (0.376 kg) of that."));
  CHECK(says(text, "Vent V1 is reached at 9:59 min. It bleeds 0.200 L of resin.\n"));
  CHECK(says(check_text(input), "Channel main: 2414 mm along 2 edges of the mesh, room for 0.341 L "
                                "of resin.\n"));
}

TEST_CASE("verdict: what was repaired in the mesh is said") {
  Case input = sample_case();
  input.notes = {"3 vertices of 12 are merged."};
  CHECK(says(verdict_text(input, sample_result()), "Note: 3 vertices of 12 are merged.\n"));
}

TEST_CASE("verdict: times are told to the second") {
  FillResult result = sample_result();
  result.fill_time = 4567;
  CHECK(says(verdict_text(sample_case(), result), "It takes about 76:07 min."));
}

TEST_CASE("verdict: a mass balance down to round-off says no more than that") {
  FillResult result = sample_result();
  result.mass_balance_error = 0;
  CHECK(says(verdict_text(sample_case(), result), "off by less than 1e-12 of the resin injected"));
}

TEST_CASE("verdict: the cap") {
  Case input = sample_case();
  FillResult result = sample_result();
  result.time_cap_reached = 0;
  CHECK(says(verdict_text(input, result), "cap of 1.20 bar is reached from the start"));
  input.problem.injector.flow_rate = std::nullopt;
  result.time_at_cap = 600;
  CHECK(says(verdict_text(input, result),
             "No flow rate is set: the head is held at its cap of 1.20 bar from start to end."));
  result.time_cap_reached = std::nullopt;
  CHECK(says(verdict_text(input, result), "The pressure cap of 1.20 bar is not reached."));
  input.problem.injector.pressure_cap = std::nullopt;
  CHECK(says(verdict_text(input, result), "No pressure cap is set."));
}

TEST_CASE("verdict: several gates, bleed and warnings") {
  Case input = sample_case();
  input.warnings = {"Two pieces."};
  input.problem.gates.push_back({"G2", {NodeId(4)}, Vector3::Zero(), std::nullopt});
  FillResult result = sample_result();
  result.gates.push_back({"G2", 1e-3, 1e5, 0, 600});
  result.bled = 2e-4;
  const std::string text = verdict_text(input, result);
  CHECK(says(text, "Gate G2 takes 1.00 L, at up to 1.00 bar."));
  CHECK(says(text, "Bled at the vents: 0.200 L"));
  CHECK(says(text, "Warning: Two pieces.\n"));
}

TEST_CASE("verdict: a long list of places is cut and says so") {
  FillResult result = sample_result();
  result.last_filled.assign(8, result.last_filled.front());
  CHECK(says(verdict_text(sample_case(), result), "  and 3 more places, see summary.json\n"));
}

TEST_CASE("verdict: coordinates also in the unit of the mesh if that is not mm") {
  Case input = sample_case();
  input.mesh_unit = 0.0254;
  input.mesh_unit_name = "inch";
  CHECK(says(verdict_text(input, sample_result()),
             "z 0.0 mm (mesh: 78.7402, 39.3701, 0 inch) in region core"));
}

TEST_CASE("terminal: no name in a file can steer the terminal") {
  Case input = sample_case();
  input.title = "a\x1b[2Jb\rc";
  CHECK(verdict_text(input, sample_result()).starts_with("a?[2Jb?c\n"));
  CHECK(printable("Sch\xC3\xBCssel\n") == "Sch\xC3\xBCssel\n");
}

TEST_CASE("verdict: what vents let out once the part is full") {
  Case input = sample_case();
  input.problem.vents[0].bleed = 5e-5;
  FillResult result = sample_result();
  result.bleeding = Bleeding{.ended_at = 825};
  result.end_time = 825;
  result.vents[0].bled = result.bled = 5e-5;
  const std::string ended = verdict_text(input, result);
  CHECK(says(ended, "It takes about 10:00 min.\nThe bleeding ends at 13:45 min, 3:45 min after the "
                    "part is full.\n"));
  CHECK(says(ended, "It bleeds 0.0500 L of resin.\n"));
  result.bleeding = Bleeding{.reason = ShortReason::gel};
  result.vents[0].bled = 2e-5;
  const std::string gelled = verdict_text(input, result);
  CHECK(says(gelled, "The bleeding does not come to its end: at 13:45 min the resin has gelled"));
  CHECK(says(gelled, "It bleeds 0.0200 L of the 0.0500 L it should before the resin gels.\n"));
  // It would gel at 25:00 min only: it is too thick before.
  CHECK(says(gelled, "Warning: The resin becomes too thick to run out at 13:45 min, before the "
                     "vents have let out what they should"));
  // Followed past the gel, at 1.6e-7 m3/s from 600 s to 900 s: 3.2e-5 m3 by 800 s.
  input.problem.resin.gel_time = 800;
  result.bleeding = Bleeding{.ended_at = 900};
  result.end_time = 900;
  result.history.back().vent_bleed = {0};
  result.history.push_back({900, 1, 1.6e-7, 1.2e5, {{1.6e-7, 1.2e5}}, {4.8e-5}});
  input.problem.vents[0].bleed = result.vents[0].bled = 4.8e-5;
  const std::string followed = verdict_text(input, result);
  CHECK(says(followed, "The bleeding would end at 15:00 min, 5:00 min after the part is full, but "
                       "for the gel.\n"));
  CHECK(says(followed, "It bleeds 0.0320 L of the 0.0480 L it should before the resin gels.\n"));
  input.problem.vents[0].bleed = std::numeric_limits<double>::infinity();
  result.bleeding.reset();
  CHECK(says(verdict_text(input, result),
             "It never closes: what runs out once the part is full is not counted.\n"));
}

TEST_CASE("verdict: a vent that lets out nothing though it should says so, and why") {
  Case input = sample_case();
  Vent& vent = input.problem.vents[0];
  vent.bleed = 5e-5;
  FillResult result = sample_result();
  result.bleeding = Bleeding{.reason = ShortReason::pressure};
  CHECK(says(verdict_text(input, result),
             "Vent V1 is reached at 9:59 min. It lets out nothing of the 0.0500 L it should.\n"));
  vent.pressure = 3e4; // the resin there is at 0.2 bar
  CHECK(says(verdict_text(input, result),
             "it should: the resin there is at 0.20 bar at the end, and behind the vent are 0.30 "
             "bar.\n"));
  vent.pressure = 1.3e5; // the head comes to 1.2 bar
  CHECK(says(verdict_text(input, result),
             "it should: the 1.30 bar behind it are no less than the head comes to.\n"));
  vent.bleed = std::numeric_limits<double>::infinity();
  CHECK(says(verdict_text(input, result), "It never closes, but lets out no resin: the 1.30 bar "));
  vent.bleed = 5e-5;
  vent.pressure = 0;
  input.problem.gates[0].closes.time = 550;
  result.gates[0].closed_at = 550;
  const std::string shut = verdict_text(input, result);
  CHECK(says(shut, "it should: the gates are shut from 9:10 min on.\n"));
  CHECK(says(shut, "The bleeding does not come to its end: the gates are shut from 9:10 min on"));
  result = short_result();
  CHECK(says(verdict_text(input, result),
             "Vent V1 is never reached. It lets out nothing of the 0.0500 L it should.\n"));
}

TEST_CASE("verdict: the time at the cap is that of the filling where vents bleed on after it") {
  Case input = sample_case();
  input.problem.vents[0].bleed = 5e-5;
  FillResult result = sample_result();
  result.bleeding = Bleeding{.ended_at = 825};
  result.end_time = 825;
  CHECK(
      says(verdict_text(input, result), "and holds the pump back for 6:40 min of the filling.\n"));
  result.time_cap_reached = 700;
  result.time_at_cap = 0;
  CHECK(says(verdict_text(input, result),
             "The pressure cap of 1.20 bar is reached only at 11:40 min, "
             "while the vents of the full part bleed.\n"));
}

TEST_CASE("verdict: a cavity is not brought to the cap by a pump whose vents bleed on") {
  Case input = sample_case();
  input.problem.vents[0].bleed = 5e-5;
  FillResult result = sample_result();
  result.mould_load = sample_mould_load();
  result.bleeding = Bleeding{.ended_at = 825};
  CHECK(says(verdict_text(input, result), "Left on after that"));
  result.bleeding = Bleeding{.reason = ShortReason::pressure};
  CHECK(!says(verdict_text(input, result), "Left on after that"));
}

TEST_CASE(
    "verdict: a pump of a gate's own is told of when it is left on, and the weight of resin") {
  Case input = sample_case();
  input.problem = strip({.cells = 20});
  input.problem.gates[0].own_injector = Injector{1e-6, 5e5};
  input.problem.mould = Mould{Vector3::UnitZ(), 1e4};
  std::string text = verdict_text(input, fill(input.problem));
  CHECK(says(text, "Left on after that, the pump of gate " + input.problem.gates[0].name +
                       " brings the whole cavity to 5.00 bar, and the push to 150 kN: 140 kN more "
                       "than holds it shut. Stop the pump when the part is full.\n"));
  CHECK(!says(text, "With the pump off"));
  input.problem.resin.density = 1000;
  input.problem.gravity = Vector3(98.0665, 0, 0); // down the strip, ten times: 0.98 bar at its end
  input.problem.cavity_pressure = -1e5;
  text = verdict_text(input, fill(input.problem));
  CHECK(says(text, "With the pump off and no pressure left at the gates, the weight of the resin "
                   "in the full part alone pushes with 14.7 kN: 4.71 kN more than holds it "
                   "shut.\n"));
  input.problem.regions[0].fibre_pressure = 1e4;
  text = verdict_text(input, fill(input.problem));
  CHECK(says(text, "the weight of the resin in the full part and the fibres push with 17.7 kN: "
                   "7.71 kN more"));
}

TEST_CASE("verdict: air that a vent which never closes keeps at its pressure") {
  Case input = sample_case();
  FillResult result = short_result();
  result.reason = ShortReason::trapped_air;
  result.peak_head_pressure = 1e5;
  result.dry_spots[0].is_sealed = true;
  result.dry_spots[0].air_pressure = -0.5e5;
  const std::string more = "More pressure makes the dry place smaller but leaves it there.";
  CHECK(says(verdict_text(input, result), more));
  input.problem.vents[0].bleed = std::numeric_limits<double>::infinity();
  input.problem.vents[0].pressure = -0.5e5;
  CHECK(says(verdict_text(input, result), more)); // resin never came there
  result.vents[0].bled = 1e-5;
  const std::string text = verdict_text(input, result);
  CHECK(says(text, "What to look at: vent " + input.problem.vents[0].name +
                       ", which never closes: the resin runs out there rather than press the\n  "
                       "air shut in beyond it."));
  CHECK(!says(text, more));
  result.dry_spots[0].air_pressure = 0.8e5;
  CHECK(says(verdict_text(input, result), more));
}

TEST_CASE("verdict: of a part short by gel the air that is shut in is named as well") {
  FillResult result = short_result();
  result.reason = ShortReason::gel;
  result.dry_spots[0].is_sealed = true;
  result.dry_spots[0].volume = 2.28e-4;
  CHECK(says(verdict_text(sample_case(), result),
             "Air is shut in besides, 0.228 L: it needs a vent there.\n"));
  CureSearch none;
  none.without_gel = ShortReason::trapped_air;
  const std::string text = verdict_text(sample_case(), result, none);
  CHECK(says(text, "it needs a vent there, whatever the gel time.\n"));
  CHECK(says(text, "A later gel is not enough: air is shut in, which needs a vent.\n"));
}

TEST_CASE("verdict: a pump left on behind a gelled front pushes on all that is wet") {
  Case input = sample_case();
  input.problem = strip({.cells = 50});
  input.problem.resin.mixing = Mixing::inline_head;
  input.problem.resin.gel_time = 102;
  input.problem.mould =
      Mould{Vector3::UnitZ(), 1e4}; // 7.5 kN while it flows, then 15 kN, and half a cell
  std::string text = verdict_text(input, fill(input.problem));
  CHECK(says(text, "kN to spare.\nLeft on after the gel, the pump brings all that is wet to 1.00 "
                   "bar, and the push to 15.3 kN: 5.30 kN more than holds it shut. Stop the pump "
                   "before.\n"));
  input.problem.mould->hold_down_force = 2e4;
  text = verdict_text(input, fill(input.problem));
  CHECK(says(text, "the push to 15.3 kN: 4.70 kN to spare even then.\n"));
}
