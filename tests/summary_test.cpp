// The expected keys are those promised to scripts; the values are the made-up ones of sample_run.
#include "io/summary.hpp"
#include "solver/mould_load.hpp"
#include "tests/support/json_text.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <limits>

using namespace tidemark;
using Json = nlohmann::ordered_json;

namespace {

std::vector<std::string> keys_of(const Json& object) {
  std::vector<std::string> keys;
  for (const auto& item : object.items()) {
    keys.push_back(item.key());
  }
  return keys;
}

} // namespace

TEST_CASE("summary: a part that fills") {
  const Json summary =
      ordered_json_of(summary_text(summarise(sample_case(), sample_result(), {1.5, 4096})));
  CHECK(summary["verdict"] == "filled");
  CHECK(summary["reason"] == "");
  CHECK(summary["fill_time_s"] == 600.0);
  CHECK(summary["end_time_s"] == 600.0);
  CHECK(summary["filled_fraction"] == 1.0);
  CHECK(summary["pore_volume_m3"] == 4e-3);
  CHECK(summary["injected_m3"] == 4e-3);
  CHECK(summary["bled_m3"] == 0.0);
  CHECK(summary["resin_in_part_m3"] == 4e-3);
  CHECK(summary["mass_balance_error"] == 2e-12);
  CHECK(summary["peak_head_pressure_pa"] == 1.2e5);
  CHECK(summary["peak_head_pressure_till_99_percent_pa"] == 1.2e5);
  CHECK(summary["time_at_cap_s"] == 400.0);
  CHECK(summary["time_cap_reached_s"] == 200.0);
  CHECK(summary["dry_spots"] == Json::array());
}

TEST_CASE("summary: lists of gates, vents and places") {
  const Json summary = summarise(sample_case(), short_result(), {1.5, 4096});
  CHECK(summary["gates"] == ordered_json_of(R"([{"name": "G1", "injected_m3": 0.004,
    "peak_pressure_pa": 120000.0, "opened_at_s": 0.0, "closed_at_s": null,
    "own_pump_time_at_cap_s": null, "own_pump_time_cap_reached_s": null}])"));
  Case own = sample_case();
  own.problem.gates[0].own_injector = own.problem.injector;
  FillResult result = short_result();
  result.gates[0].at_cap = {300, 100};
  const Json gate = summarise(own, result, {1.5, 4096})["gates"][0];
  CHECK(gate["own_pump_time_at_cap_s"] == 300.0);
  CHECK(gate["own_pump_time_cap_reached_s"] == 100.0);
  CHECK(summary["vents"] ==
        ordered_json_of(
            R"([{"name": "V1", "reached_at_s": null, "all_reached_at_s": null, "bled_m3": 0.0}])"));
  CHECK(summary["last_filled"] ==
        ordered_json_of(R"([{"position_m": [2.0, 0.0, 0.0], "time_s": 400.0, "region": "core"}])"));
  CHECK(summary["dry_spots"] == ordered_json_of(R"([{"position_m": [2.0, 1.0, 0.0],
    "volume_m3": 0.00065, "air_pressure_pa": -50000.0, "region": "core",
    "is_connected_to_gate": true, "is_sealed": false, "sealed_at_s": null, "halving_pressure_pa": null}])"));
}

TEST_CASE("summary: air shut in, and what would halve it") {
  FillResult result = trapped_air_result();
  result.suspect_zones = {{Vector3(1, 0, 0), 2e-5, -5e4, 150, RegionId(0)}};
  const Json summary = summarise(sample_case(), result, {});
  CHECK(summary["reason"] == "trapped air");
  CHECK(summary["dry_spots"][0]["is_sealed"] == true);
  CHECK(summary["dry_spots"][0]["sealed_at_s"] == 200);
  // 0.8 bar gauge is 181325 Pa abs; twice that is 362650 Pa abs.
  CHECK(summary["dry_spots"][0]["halving_pressure_pa"] == 261325.0);
  CHECK(summary["suspect_zones"] == ordered_json_of(R"([{"position_m": [1.0, 0.0, 0.0],
    "volume_m3": 2e-5, "air_pressure_pa": -50000.0, "sealed_at_s": 150.0, "region": "skin"}])"));
  CHECK(summarise(sample_case(), sample_result(), {})["suspect_zones"] == Json::array());
}

TEST_CASE("summary: the load on the mould, if there is one") {
  FillResult result = sample_result();
  CHECK(summarise(sample_case(), result, {}).contains("mould"));
  CHECK(summarise(sample_case(), result, {})["mould"].is_null());
  result.mould_load = sample_mould_load();
  CHECK(summarise(sample_case(), result, {})["mould"] == ordered_json_of(R"({
    "peak_opening_force_n": 3000.0, "peak_opening_force_at_s": 300.0,
    "end_opening_force_n": 2500.0, "fibre_push_n": null, "fibre_push_uncounted_area_m2": 0.0,
    "peak_cavity_pressure_pa": 110000.0, "projected_area_m2": 2.0,
    "hold_down_force_n": 4000.0, "margin_n": 1000.0, "opens_mould": false, "lifts_at_s": null,
    "head_pressure_at_lift_pa": null})"));
  Case pressed = sample_case(); // 750 Pa on 1 m2 of skin; of the core no compaction is known
  pressed.problem.mould = Mould{Vector3::UnitZ(), 4000};
  pressed.problem.regions[0].fibre_pressure = 750;
  result.mould_load->at_rest.fibres = fibre_push(pressed.problem);
  const Json told = summarise(pressed, result, {})["mould"];
  CHECK(told["fibre_push_n"] == 750.0);
  CHECK(told["fibre_push_uncounted_area_m2"] == 1.0);
  result.mould_load->hold_down_force = 2000;
  result.mould_load->lifts_at = 250;
  result.mould_load->head_pressure_at_lift = 9e4;
  const Json lifted = summarise(sample_case(), result, {})["mould"];
  CHECK(lifted["margin_n"] == -1000.0);
  CHECK(lifted["lifts_at_s"] == 250.0);
  CHECK(lifted["opens_mould"] == true);
  CHECK(lifted["head_pressure_at_lift_pa"] == 9e4);
}

TEST_CASE("summary: a vent of several nodes has a time for the first and for all of them") {
  Case input = sample_case();
  input.problem.vents[0].nodes = {NodeId(2), NodeId(5)}; // 400 s, 600 s
  FillResult result = sample_result();
  result.vents[0].reached_at = 400;
  const Json vent = summarise(input, result, {})["vents"][0];
  CHECK(vent["reached_at_s"] == 400.0);
  CHECK(vent["all_reached_at_s"] == 600.0);
  result.fill_time_field[NodeId(5)] = std::numeric_limits<double>::quiet_NaN();
  CHECK(summarise(input, result, {})["vents"][0]["all_reached_at_s"].is_null());
}

TEST_CASE("summary: a gate closes when it is closed, not when the filling ends") {
  Case input = sample_case();
  FillResult result = sample_result(); // to 600 s
  CHECK(summarise(input, result, {})["gates"][0]["closed_at_s"].is_null());
  input.problem.gates[0].closes.time = 900;
  CHECK(summarise(input, result, {})["gates"][0]["closed_at_s"].is_null());
  input.problem.gates[0].closes.time = 300;
  result.gates[0].closed_at = 300;
  CHECK(summarise(input, result, {})["gates"][0]["closed_at_s"] == 300.0);
}

TEST_CASE("summary: a gate that never opened") {
  FillResult result = sample_result();
  result.gates[0].opened_at = std::nullopt;
  result.gates[0].closed_at = std::nullopt;
  const Json gate = summarise(sample_case(), result, {})["gates"][0];
  CHECK(gate["opened_at_s"].is_null());
  CHECK(gate["closed_at_s"].is_null());
}

TEST_CASE("summary: mesh and work") {
  const Json summary = summarise(sample_case(), sample_result(), {1.5, 4096});
  CHECK(summary["mesh"]["nodes"] == 6);
  CHECK(summary["mesh"]["elements"] == 3);
  CHECK(summary["mesh"]["area_m2"] == 2.0);
  CHECK(summary["mesh"]["regions"] == ordered_json_of(R"([
    {"name": "skin", "area_m2": 1.0, "pore_volume_m3": 0.003, "fibre_volume_fraction": 0.25,
     "thickness_m": 0.004},
    {"name": "core", "area_m2": 1.0, "pore_volume_m3": 0.001, "fibre_volume_fraction": 0.5,
     "thickness_m": 0.002}])"));
  CHECK(keys_of(summary["work"]) ==
        std::vector<std::string>{"steps", "linear_solves", "linear_iterations", "largest_residual",
                                 "wall_s", "peak_memory_bytes"});
  CHECK(summary["work"]["wall_s"] == 1.5);
  CHECK(summary["work"]["peak_memory_bytes"] == 4096);
}

TEST_CASE("summary: a region that differs from element to element") {
  const Case input = case_that_varies();
  const Json core = summarise(input, sample_result(), {})["mesh"]["regions"][1];
  CHECK(core["thickness_m"] == 2e-3);
  CHECK(core["least_thickness_m"] == 1e-3);
  CHECK(core["largest_thickness_m"] == 3e-3);
  CHECK(core["least_fibre_volume_fraction"] == 0.4);
  CHECK(core["largest_fibre_volume_fraction"] == 0.6);
  CHECK(core["largest_shear_rad"] == 0.5);
  CHECK(core["largest_shear_position_m"].size() == 3);
}

TEST_CASE("summary: what does not exist is null") {
  FillResult result = short_result();
  result.time_cap_reached = std::nullopt;
  const Json summary = summarise(sample_case(), result, {});
  CHECK(summary["verdict"] == "short");
  CHECK(summary["reason"] == "gel");
  CHECK(summary["fill_time_s"].is_null());
  CHECK(summary["time_cap_reached_s"].is_null());
}

TEST_CASE("summary: every reason has the word promised") {
  CHECK(reason_word(ShortReason::none) == "");
  CHECK(reason_word(ShortReason::pressure) == "pressure");
  CHECK(reason_word(ShortReason::gel) == "gel");
  CHECK(reason_word(ShortReason::trapped_air) == "trapped air");
  CHECK(reason_word(ShortReason::no_path) == "no path");
  CHECK(reason_word(ShortReason::time_limit) == "time limit");
  CHECK(reason_word(ShortReason::interrupted) == "interrupted");
}

TEST_CASE("summary: the inputs are listed, given or default") {
  const Json summary = summarise(sample_case(), sample_result(), {});
  CHECK(summary["inputs"] == ordered_json_of(R"([
    {"key": "resin.viscosity", "value": "200 mPa.s", "given": true},
    {"key": "ambient", "value": "1013.25 hPa", "given": false}])"));
}

TEST_CASE("summary: the same run gives the same bytes") {
  const RunCost cost{1.5, 4096};
  CHECK(summary_text(summarise(sample_case(), sample_result(), cost)) ==
        summary_text(summarise(sample_case(), sample_result(), cost)));
}

TEST_CASE("summary: a file name that is not UTF-8 does not stop the run") {
  Case input = sample_case();
  input.mesh_file = "plate\xff.msh";
  const Json summary = ordered_json_of(summary_text(summarise(input, sample_result(), {})));
  CHECK(summary["mesh_file"] == "plate\xEF\xBF\xBD.msh"); // the replacement character
}

TEST_CASE("warnings: those of the input, of the network and of the balance") {
  Case input = sample_case();
  input.warnings = {"Node 3 is odd."};
  FillResult result = sample_result();
  CHECK(all_warnings(input, result) == input.warnings);
  result.network.limited_fraction = 0.05;
  result.mass_balance_error = -1e-3;
  const std::vector<std::string> warnings = all_warnings(input, result);
  REQUIRE(warnings.size() == 3);
  CHECK(warnings[1].find("5.0 % of the flow network") != std::string::npos);
  CHECK(warnings[2].find("-0.001 of what was injected") != std::string::npos);
  result.mass_balance_error = std::numeric_limits<double>::quiet_NaN();
  CHECK(all_warnings(input, result).size() == 3);
}

TEST_CASE("warnings: a mould that lifts, when and at what pressure") {
  FillResult result = sample_result();
  result.mould_load = sample_mould_load();
  CHECK(all_warnings(sample_case(), result).empty());
  result.mould_load->hold_down_force = 2000;
  result.mould_load->lifts_at = 257;
  result.mould_load->head_pressure_at_lift = 9e4;
  std::vector<std::string> warnings = all_warnings(sample_case(), result);
  REQUIRE(warnings.size() == 1);
  CHECK(warnings[0] ==
        "The mould is pushed open at about 4:17 min, with more than the 2.00 kN that hold it "
        "shut. The head is at 0.90 bar then. With the cap below 0.010 bar it stays shut, even "
        "if the pump stays on; whether the part fills with that, a fill of the case with it "
        "tells. Or hold the mould shut harder, within the rating of mould and clamps."); // on 2 m2
  // Of several pumps that with the highest head.
  Case two = sample_case();
  two.problem.gates.push_back({"B", {NodeId(4)}, Vector3::Zero(), std::nullopt});
  two.problem.gates[1].own_injector = Injector{1e-5, 3e5};
  FillResult of_two = result;
  of_two.gates.push_back({"B", 1e-3, 9e4, 0, 600});
  for (HistoryRow& row : of_two.history) {
    row.head_pressure = 2e4;
    row.gates = {{1e-5, 2e4, 2e4}, {1e-5, 8e4, 9e4}};
  }
  CHECK(says(all_warnings(two, of_two)[0], "The pump of gate B is at 0.90 bar then."));
  for (HistoryRow& row : of_two.history) {
    row.gates[1].flow_rate = 0; // pushed shut
  }
  CHECK(says(all_warnings(two, of_two)[0], "The mixing head is at 0.90 bar then."));
  result.mould_load->lifts_at = 0;
  result.mould_load->head_pressure_at_lift = std::nullopt;
  warnings = all_warnings(sample_case(), result);
  REQUIRE(warnings.size() == 1);
  CHECK(warnings[0].starts_with("The mould is pushed open before the injection begins, with "));
  CHECK(warnings[0].find("head") == std::string::npos);
  // A gate with a pressure of its own is what brings more than 0.8 bar, not the cap.
  result.mould_load->hold_down_force = 2.6e5; // 1.3 bar on 2 m2
  result.mould_load->peak_force = 2.7e5;
  result.mould_load->lifts_at = 257;
  result.peak_head_pressure = 3e5;
  Case own = sample_case();
  own.problem.gates.push_back({"B", {NodeId(4)}, Vector3::Zero(), std::nullopt});
  own.problem.gates[1].own_injector = Injector{std::nullopt, 3e5};
  warnings = all_warnings(own, result);
  REQUIRE(warnings.size() == 1);
  CHECK(says(warnings[0], "With the pressure of gate B below 1.300 bar it stays shut, even if the "
                          "pumps stay on; whether the part fills with that, a fill"));
  own.problem.injector.pressure_cap = 1.4e5;
  CHECK(says(all_warnings(own, result)[0], "With the cap and the pressure of gate B below 1.3"));
  // Each of two pumps at different heights has its own limit: 10 kPa for a metre.
  Case upright = own;
  upright.problem.injector.pressure_cap = 3e5;
  upright.problem.resin.density = 1000;
  upright.problem.gravity = Vector3(0, 0, -10);
  upright.problem.gates[0].nodes = {NodeId(0)};
  upright.problem.mesh.positions[NodeId(0)] = Vector3(0, 0, 0);
  upright.problem.mesh.positions[NodeId(4)] = Vector3(0, 0, 1);
  result.gates[0].peak_pressure = 3e5;
  CHECK(says(all_warnings(upright, result)[0],
             "With the cap below 1.400 bar and the pressure of gate B below 1.300 bar it stays"));
  // The weight of the resin alone may be too much.
  Case heavy = upright;
  heavy.problem.gates.pop_back();
  FillResult at_rest = result;
  at_rest.mould_load->hold_down_force = 2e5;
  at_rest.mould_load->at_rest.upper = {{2, 1.5e5}};
  CHECK(says(all_warnings(heavy, at_rest)[0],
             " The weight of the resin in the full part alone pushes harder than that: hold the "
             "mould shut harder"));
  // A push that is larger on the way than in the full part at rest tells no safe cap.
  result.peak_head_pressure = 1.2e5; // 240 kN at rest
  warnings = all_warnings(sample_case(), result);
  CHECK(says(warnings[0],
             "More pushes on the way than in the full part at rest, so that no safe cap "
             "can be told: try a lower one, or hold the mould shut harder"));
  CHECK(!says(warnings[0], "stays shut"));
  // What keeps it shut may not lift the resin to the top.
  result.peak_head_pressure = 3e5;
  upright.problem.gates.pop_back();
  upright.problem.mesh.positions[NodeId(4)] = Vector3(0, 0, 20);
  CHECK(says(all_warnings(upright, result)[0],
             "With the cap below 1.300 bar it stays shut, but that does not lift the resin to the "
             "top of the part: hold the mould shut harder"));
  // Nothing is said to hold it: then the force is told, and that is no warning.
  result.mould_load->hold_down_force = 0;
  CHECK(all_warnings(sample_case(), result).empty());
}
