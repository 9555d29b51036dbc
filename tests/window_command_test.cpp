// The command window as a user starts it.
#include "tests/support/closeness.hpp"
#include "tests/support/json_text.hpp"
#include "tests/support/program.hpp"
#include "tests/support/says.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <chrono>
#include <csignal>
#include <filesystem>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;
namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

/// A strip 1 m x 0.3 m of 40 squares' length in mm, with the lines "near" and "far" at its ends.
std::string strip_mesh() {
  const int along = 40;
  std::ostringstream text;
  text << "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$PhysicalNames\n3\n1 1 \"near\"\n1 2 \"far\"\n2 3 "
          "\"strip\"\n$EndPhysicalNames\n$Nodes\n"
       << 2 * (along + 1) << "\n";
  for (int i = 0; i <= along; ++i) {
    text << 2 * i + 1 << " " << 25 * i << " 0 0\n" << 2 * i + 2 << " " << 25 * i << " 300 0\n";
  }
  text << "$EndNodes\n$Elements\n"
       << along + 2 << "\n1 1 2 1 1 1 2\n2 1 2 2 2 " << 2 * along + 1 << " " << 2 * along + 2
       << "\n";
  for (int i = 0; i < along; ++i) {
    text << i + 3 << " 3 2 3 3 " << 2 * i + 1 << " " << 2 * i + 3 << " " << 2 * i + 4 << " "
         << 2 * i + 2 << "\n";
  }
  text << "$EndElements\n";
  return text.str();
}

const std::string plain_resin = "[resin]\nviscosity = \"200 mPa.s\"\ngel_time = \"11 min\"\n";
const std::string plain_pump = "[injector]\nflow_rate = \"0.12 L/min\"\npressure_cap = \"1 bar\"\n";

std::string strip_case(const std::string& resin = plain_resin, const std::string& pump = plain_pump,
                       const std::string& more = "") {
  return "title = \"Strip\"\n[part]\nmesh = \"strip.msh\"\nmesh_unit = \"mm\"\n[[region]]\nname = "
         "\"strip\"\nthickness = \"4 mm\"\npermeability = \"2e-9 m2\"\nporosity = 0.8\n" +
         resin + pump +
         "[[gate]]\nname = \"G\"\ngroup = \"near\"\n[[vent]]\nname = \"V\"\ngroup = "
         "\"far\"\npressure = \"0 bar\"\n" +
         more;
}

void write_strip(const fs::path& folder, const std::string& text = strip_case()) {
  write_file(folder / "strip.msh", strip_mesh());
  write_file(folder / "strip.toml", text);
}

struct Window {
  ProgramOutput output;
  Json json;
};

Window window_of(const TemporaryFolder& folder, std::vector<std::string> arguments,
                 int exit_code = 0) {
  arguments.insert(arguments.begin(), {"window", "strip.toml"});
  Window window{run_program(folder.path(), arguments), {}};
  CAPTURE(window.output.err);
  CHECK(window.output.exit_code == exit_code);
  window.json = json_of(read_file(folder.path() / "strip.window" / "window.json"));
  return window;
}

std::string error_of(const TemporaryFolder& folder, std::vector<std::string> arguments,
                     int exit_code = 2) {
  arguments.insert(arguments.begin(), "window");
  const ProgramOutput output = run_program(folder.path(), arguments);
  CAPTURE(output.out);
  CHECK(output.exit_code == exit_code);
  return output.err;
}

const std::vector<std::string> small = {"--points", "3", "--tolerance", "10 %", "--steps", "30"};

std::vector<std::string> with(std::vector<std::string> more) {
  more.insert(more.end(), small.begin(), small.end());
  return more;
}

} // namespace

TEST_CASE("window: map, files and words, by the resistance curve") {
  const TemporaryFolder folder;
  write_strip(folder.path(),
              strip_case(plain_resin, plain_pump,
                         "[mould]\nclosing_direction = [0, 0, 1]\nclamp_force = \"24 kN\"\n"));
  const Window window = window_of(folder, {"--mould-margin", "25 %"});
  const Json& json = window.json;
  CHECK(json["computed_by"] == "resistance curve");
  CHECK(json["why_full_runs"].is_null());
  CHECK(json["full_runs"] == 2); // that of the curve, and the check
  // From half to twice the case's.
  CHECK(relative_error(json["axes"]["flow_rate_m3_per_s"].front(), 1e-6) <= 1e-12);
  CHECK(relative_error(json["axes"]["flow_rate_m3_per_s"].back(), 4e-6) <= 1e-12);
  CHECK(relative_error(json["axes"]["pressure_cap_pa"].front(), 0.5e5) <= 1e-12);
  CHECK(relative_error(json["axes"]["pressure_cap_pa"].back(), 2e5) <= 1e-12);
  CHECK(relative_error(json["limits"]["opening_force_allowed_n"], 18e3) <= 1e-12);
  const Json& map = json["maps"][0];
  REQUIRE(map["grid"].size() == 33);
  REQUIRE(map["grid"][0].size() == 33);
  CHECK(map["grid"][0][0]["outcome"] == "short: gel");
  CHECK(map["grid"][0][0]["reason"] == "gel");
  CHECK(map["grid"][0][0]["fill_time_s"].is_null());
  CHECK(map["grid"][32][32]["outcome"] == "opens the mould"); // 30 kN
  // 2e-6 m3/s and 1e5 Pa are the middle of both axes: 544 s (closed form, see tests/exact).
  CHECK(map["grid"][16][16]["outcome"] == "fills");
  CHECK(relative_error(map["grid"][16][16]["fill_time_s"], 544) <= 2e-3);
  CHECK(relative_error(map["as_set"]["fill_time_s"], 544) <= 2e-3);
  // F = p w L / 2 = 18 kN at 1.2 bar.
  const Json& margins = map["recommended"]["margins"];
  CHECK(margins["cap_up"]["then"] == "opens the mould");
  CHECK(relative_error(margins["cap_up"]["pressure_cap_pa"], 1.2e5) <= 8e-3);
  CHECK(margins["cap_down"]["then"] == "short: gel");
  CHECK(std::abs(map["curve_check"]["relative_difference"].get<double>()) <= 1e-3);
  CHECK(map["borders"].size() >= 2);
  CHECK(map["contours"].size() >= 2);
  const std::string& text = window.output.out;
  CHECK(says(text, "Strip: process window\n"));
  CHECK(says(text, "Flow rate from 0.0600 L/min to 0.240 L/min, from half to twice the case's.\n"));
  CHECK(says(text, "All points follow from the resistance curve of one filling"));
  CHECK(says(text, "  opens: the mould is pushed open\n  gel: short: the resin gels first\n"));
  CHECK(says(text, "In the middle of what is safe: "));
  CHECK(says(text, "The mould is held shut with 18.0 kN, 25 % kept in hand. A cap below 0.600 bar "
                   "cannot open it"));
  // The case's cap is above that.
  CHECK(says(text.substr(text.find("As the case is set")),
             "\n  Stop the pump when the part is full: left on, it would push the mould open.\n"));
  CHECK(says(text, "A prediction is no substitute for a trial shot. Never exceed the rating of "
                   "mould, clamps, hoses and pump.\n"));
  const std::string csv = read_file(folder.path() / "strip.window" / "window.csv");
  CHECK(csv.starts_with("flow_rate_m3_per_s,pressure_cap_pa,outcome,reason,fill_time_s,"));
  CHECK(std::ranges::count(csv, '\n') > 1 + 33 * 33);
  CHECK(says(csv, ",grid,curve,\n"));
  CHECK(says(csv, ",recommended,curve,\n"));
}

TEST_CASE("window: full runs say why, agree with the curve, whatever the number of threads") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const Json by_curve = window_of(folder, with({})).json;
  const Window one = window_of(folder, with({"--full-runs", "--threads", "1"}));
  const std::string bytes = read_file(folder.path() / "strip.window" / "window.json");
  CHECK(one.json["computed_by"] == "full runs");
  CHECK(one.json["why_full_runs"] == "--full-runs");
  CHECK(says(one.output.out, "Every point is a full run ("));
  CHECK(!fs::exists(folder.path() / "strip.window" / "window.runs"));
  window_of(folder, with({"--full-runs", "--threads", "3"}));
  CHECK(read_file(folder.path() / "strip.window" / "window.json") == bytes);
  for (int j = 0; j < 3; ++j) {
    for (int i = 0; i < 3; ++i) {
      const Json& curve = by_curve["maps"][0]["grid"][j][i];
      const Json& run = one.json["maps"][0]["grid"][j][i];
      CHECK(curve["outcome"] == run["outcome"]);
      if (curve["outcome"] == "fills") {
        CHECK(relative_error(curve["fill_time_s"], run["fill_time_s"]) <= 2e-3);
      }
    }
  }
}

TEST_CASE("window: full runs are kept until the last file is written") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const fs::path out = folder.path() / "strip.window";
  const std::vector<std::string> arguments{"window",  "strip.toml", "--full-runs", "--points", "3",
                                           "--steps", "20",         "--tolerance", "20 %"};
  REQUIRE(run_program(folder.path(), arguments).exit_code == 0);
  const std::string whole = read_file(out / "window.json");
  fs::remove(out / "window.html"); // the last one
  fs::create_directories(out / ".tidemark-window.html.part" / "in the way");
  CHECK(run_program(folder.path(), arguments).exit_code == 4);
  const auto lines = std::ranges::count(read_file(out / "window.runs"), '\n');
  CHECK(lines > 3 * 3); // a header and the runs
  fs::remove_all(out / ".tidemark-window.html.part");
  const ProgramOutput again = run_program(folder.path(), arguments);
  CHECK(again.exit_code == 0);
  // The header is none, and the case as it is set was run twice, as a point of the grid too.
  CHECK(again.err == "Going on: " + std::to_string(lines - 2) + " runs were done before.\n");
  CHECK(read_file(out / "window.json") == whole);
  CHECK(!fs::exists(out / "window.runs"));
}

TEST_CASE("window: an inline mixed resin that thickens takes full runs, a batch does not") {
  const std::string thickens = "[resin]\nviscosity = { law = \"exponential\", initial = \"200 "
                               "mPa.s\", time_constant = \"20 min\" }\n";
  const TemporaryFolder folder;
  write_strip(folder.path(), strip_case(thickens, plain_pump + "mixing = \"inline\"\n"));
  const Window in_line = window_of(folder, with({}));
  CHECK(in_line.json["why_full_runs"] ==
        "the viscosity rises with the age of each parcel (mixed inline)");
  CHECK(says(in_line.output.out, "since the viscosity rises with the age of each parcel"));
  write_strip(folder.path(), strip_case(thickens, plain_pump + "mixing = \"batch\"\n"));
  const Json batch = window_of(folder, with({})).json;
  CHECK(batch["computed_by"] == "resistance curve");
  // Flow 2e-6 m3/s, cap 1e5 Pa, tau = 1200 s: 677.262897 s (closed form, see tests/exact).
  CHECK(relative_error(batch["maps"][0]["grid"][1][1]["fill_time_s"], 677.262897) <= 5e-3);
  // In full as well.
  const Json full = window_of(folder, with({"--full-runs"})).json;
  CHECK(relative_error(full["maps"][0]["grid"][1][1]["fill_time_s"], 677.262897) <= 5e-3);
}

TEST_CASE("window: a map for each temperature, or each level of catalyst") {
  const std::string laws =
      "[resin]\nviscosity = { law = \"table\", temperature = [\"15 degC\", \"35 degC\"], viscosity "
      "= [\"400 mPa.s\", \"100 mPa.s\"] }\ngel_time = { temperature = [\"15 degC\", \"35 degC\"], "
      "catalyst = [\"1 %\", \"2 %\"], time = [[\"60 min\", \"30 min\"], [\"20 min\", \"10 min\"]] "
      "}\ncatalyst = \"1 %\"\n";
  const TemporaryFolder folder;
  write_strip(folder.path(), "temperature = \"25 degC\"\n" + strip_case(laws));
  const Window warm = window_of(folder, with({"--temperature", "15 degC", "--temperature",
                                              "25 degC", "--flow", "0.12 L/min", "0.5 L/min"}));
  CHECK(warm.json["third_axis"] == "temperature");
  REQUIRE(warm.json["maps"].size() == 2);
  CHECK(warm.json["maps"][0]["value"] == "15 degC");
  CHECK(warm.json["maps"][0]["fresh_viscosity_pa_s"] == 0.4);
  CHECK(relative_error(warm.json["maps"][1]["fresh_viscosity_pa_s"], 0.2) <= 1e-9);
  CHECK(relative_error(warm.json["maps"][0]["gel_time_s"], 3600) <= 1e-9);
  // At 0.4 Pa s, cap 1e5 Pa and 2e-6 m3/s: x_s = 0.3 m, t = 0.32 (1 + 0.09) / 4e-4 = 872 s.
  CHECK(relative_error(warm.json["maps"][0]["grid"][1][0]["fill_time_s"], 872) <= 2e-3);
  CHECK(relative_error(warm.json["maps"][1]["grid"][1][0]["fill_time_s"], 544) <= 2e-3);
  CHECK(says(warm.output.out, "At 15 degC (temperature): viscosity 400 mPa.s, gel at 60:00 min\n"));
  const Window levels = window_of(folder, with({"--catalyst", "1 %", "--catalyst", "2 %"}));
  CHECK(levels.json["maps"][1]["gel_time_s"].get<double>() <
        0.6 * levels.json["maps"][0]["gel_time_s"].get<double>());
  CHECK(read_file(folder.path() / "strip.window" / "window.csv").starts_with("catalyst,flow_rate"));
  CHECK(says(error_of(folder, {"strip.toml", "--catalyst", "40 %"}), "--catalyst \"40 %\""));
  write_strip(folder.path());
  const std::string alike = "Warning: The maps are alike: viscosity and gel time are the same at "
                            "each temperature given.\n";
  CHECK(!says(warm.output.out, alike));
  write_strip(folder.path(),
              "temperature = \"25 degC\"\n" +
                  strip_case("[resin]\nviscosity = { law = \"table\", temperature = [\"15 degC\", "
                             "\"35 degC\"], viscosity = [\"200 mPa.s\", \"200 mPa.s\"] }\n"));
  CHECK(says(
      window_of(folder, with({"--temperature", "15 degC", "--temperature", "25 degC"})).output.out,
      alike));
}

TEST_CASE("window: no map is made for a temperature or catalyst that nothing depends on") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  CHECK(says(error_of(folder, {"strip.toml", "--temperature", "15 degC"}),
             "window: --temperature: found it, but no value of [resin] depends on the temperature, "
             "expected a case with a law or table over it"));
  CHECK(says(error_of(folder, {"strip.toml", "--catalyst", "1 %", "--catalyst", "2 %"}),
             "window: --catalyst: found it, but no value of [resin] depends on the catalyst"));
  CHECK(!std::filesystem::exists(folder.path() / "strip.window"));
}

TEST_CASE("window: the machine and the wanted distance to the gel bound what is safe") {
  const TemporaryFolder folder;
  write_strip(
      folder.path(),
      strip_case(plain_resin + "gel_safety = 1.2\n",
                 plain_pump + "max_flow_rate = \"0.2 L/min\"\nmax_pressure = \"1.5 bar\"\n"));
  const Json usual = window_of(folder, {}).json;
  CHECK(relative_error(usual["axes"]["flow_rate_m3_per_s"].back(), 0.2e-3 / 60) <= 1e-12);
  CHECK(relative_error(usual["axes"]["pressure_cap_pa"].back(), 1.5e5) <= 1e-12);
  // 660 s to the gel, 550 s wanted: of the closed form at 1 bar and a high flow, 400 s to 544 s.
  const Json& margins = usual["maps"][0]["recommended"]["margins"];
  CHECK(margins["cap_down"]["then"] == "fills too near the gel");
  const Json wide = window_of(folder, {"--flow", "0.1 L/min", "0.6 L/min", "--cap", "0.8 bar",
                                       "3 bar", "--points", "9"})
                        .json;
  CHECK(wide["maps"][0]["grid"][8][8]["outcome"] == "beyond the machine");
  const Json& chosen = wide["maps"][0]["recommended"];
  CHECK(chosen["flow_rate_m3_per_s"].get<double>() < 0.2e-3 / 60);
  CHECK(chosen["pressure_cap_pa"].get<double>() < 1.5e5);
  CHECK(chosen["margins"]["flow_up"]["then"] == "beyond the machine");
}

TEST_CASE("window: a time limit, and the case after the options") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  // 544 s at 2e-6 m3/s and 1e5 Pa; 2e-6 m3/s alone would take 480 s.
  const ProgramOutput output = run_program(
      folder.path(), {"window", "--flow", "0.06 L/min", "0.24 L/min", "--cap", "0.5 bar", "2 bar",
                      "strip.toml", "--time-limit", "9 min", "--points", "3"});
  CAPTURE(output.err);
  CHECK(output.exit_code == 0);
  const Json json = json_of(read_file(folder.path() / "strip.window" / "window.json"));
  CHECK(json["limits"]["time_limit_s"] == 540);
  CHECK(json["maps"][0]["grid"][1][1]["outcome"] == "short: time limit");
  CHECK(json["maps"][0]["grid"][2][1]["outcome"] == "fills");
  CHECK(says(output.out, "  time: short: not full at the time limit\n"));
}

TEST_CASE("window: nothing safe is told, and the exit code is 1") {
  const TemporaryFolder folder;
  write_strip(folder.path(),
              strip_case("[resin]\nviscosity = \"200 mPa.s\"\ngel_time = \"2 min\"\n"));
  const Window window = window_of(folder, {}, 1);
  CHECK(window.json["maps"][0]["recommended"].is_null());
  CHECK(says(window.output.out, "No setting of this range is safe.\n"));
  const Window json = window_of(folder, {"--json"}, 1);
  CHECK(json_of(json.output.out) == json.json);
  CHECK(window_of(folder, {"--quiet"}, 1).output.out.empty());
}

TEST_CASE("window: the weight of the resin counts in what a cap cannot do") {
  // 0.3 m2 seen, 1 m of resin of 1000 kg/m3 below the gate: 0.098 bar at the end, on average half.
  // (20 kN - 1.47 kN) / 0.3 m2 = 0.6177 bar.
  const TemporaryFolder folder;
  const std::string resin = "[resin]\nviscosity = \"200 mPa.s\"\ndensity = \"1000 kg/m3\"\n";
  write_strip(folder.path(),
              strip_case(resin, plain_pump,
                         "[gravity]\ndirection = [1, 0, 0]\n[mould]\nclosing_direction = [0, 0, "
                         "1]\nclamp_force = \"20 kN\"\n"));
  const Window window = window_of(folder, with({"--cap", "0.5 bar", "0.7 bar"}));
  CHECK(says(window.output.out, "A cap below 0.617 bar cannot open it"));
}

TEST_CASE("window: with a schedule the cap of its last stage is what stays on") {
  // 30 kN at 1 bar are more than holds it shut, 6 kN at 0.2 bar are not.
  const TemporaryFolder folder;
  const std::string mould = "[mould]\nclosing_direction = [0, 0, 1]\nclamp_force = \"25 kN\"\n";
  const std::vector<std::string> ranges =
      with({"--cap", "0.9 bar", "1 bar", "--flow", "0.06 L/min", "0.07 L/min", "--full-runs"});
  const std::string resin = "[resin]\nviscosity = \"200 mPa.s\"\n";
  write_strip(folder.path(), strip_case(resin, plain_pump, mould));
  const std::string stop = "left on, it would push the mould open";
  const std::string safe = "A cap below 0.833 bar cannot open it"; // 25 kN on 0.3 m2
  const std::string plain = window_of(folder, ranges).output.out;
  CHECK(says(plain, stop));
  CHECK(says(plain, safe));
  write_strip(folder.path(),
              strip_case(resin,
                         plain_pump + "schedule = [{ from_volume = \"0.5 L\", pressure_cap = "
                                      "\"0.2 bar\" }]\n",
                         mould));
  const std::string staged = window_of(folder, ranges).output.out;
  CHECK(!says(staged, stop));
  CHECK(!says(staged, safe)); // whatever a stage sets
}

TEST_CASE("window: a mould of which is not said what holds it shut is not called opened") {
  const TemporaryFolder folder;
  write_strip(folder.path(),
              strip_case(plain_resin, plain_pump, "[mould]\nclosing_direction = [0, 0, 1]\n"));
  const Window window = window_of(folder, {});
  CHECK(window.json["limits"]["opening_force_allowed_n"].is_null());
  CHECK(window.json["maps"][0]["grid"][32][32]["outcome"] == "fills");
  CHECK(says(window.output.out, "It is not said what holds the mould shut"));
  CHECK(says(error_of(folder, {"strip.toml", "--mould-margin", "10 %"}),
             "found nothing that holds the mould shut"));
}

TEST_CASE("window: along a closing direction in the part no opening force is told") {
  const TemporaryFolder folder;
  // The strip lies in the plane of x and y.
  write_strip(folder.path(),
              strip_case(plain_resin, plain_pump,
                         "[mould]\nclosing_direction = [0, 1, 0]\nclamp_force = \"1 kN\"\n"));
  const Window window = window_of(folder, {});
  CHECK(!says(window.output.out, "pushes the mould open,"));
  CHECK(!says(window.output.out, "nothing pushes"));
  CHECK(!says(window.output.out, "opening force up to"));
  CHECK(!says(window.output.out, "held shut"));
  CHECK(says(window.output.out,
             "\nHow hard the resin pushes the mould open cannot be told: along "
             "mould.closing_direction the part shows the resin next to no area."));
  CHECK(window.json["limits"]["opening_force_allowed_n"].is_null());
  CHECK(window.json["maps"][0]["as_set"]["peak_opening_force_n"].is_null());
  CHECK(says(read_file(folder.path() / "strip.window/window.html"), "cannot be told: along "));
}

TEST_CASE("window: hours carry their unit, and flows that change no time are not listed") {
  const TemporaryFolder folder;
  // The pump is at its cap nearly from the start: phi mu L^2 / (2 K dp) = 0.8 x 100 Pa s x 1 m2 /
  // (2 x 2e-9 m2 x 1e5 Pa) = 2e5 s, 55 h 33 min; twice that at half the cap.
  write_strip(folder.path(), strip_case("[resin]\nviscosity = \"100 Pa.s\"\n"));
  const std::string out = window_of(folder, with({})).output.out;
  CHECK(says(out, "\n1.00 bar  55 h 3"));
  CHECK(says(out, "\n0.50 bar  4 days 15 h  4 days 15 h  4 days 15 h\n"));
  CHECK(says(out, "\n  a time: to fill, in minutes where no unit stands\n"));
  CHECK(!says(out, "in such a time"));
  write_strip(folder.path());
  const std::string usual = window_of(folder, with({})).output.out;
  CHECK(says(usual, "\n  minutes: to fill\n"));
  CHECK(says(usual, "in such a time"));
}

TEST_CASE("window: that air shut in is not computed is told") {
  const std::string air =
      "Air that is shut in is not computed: a place without a vent may stay dry.";
  const TemporaryFolder folder;
  write_strip(folder.path());
  CHECK(!says(window_of(folder, with({})).output.out, air));
  write_strip(folder.path(), strip_case(plain_resin, plain_pump, "[cavity]\nsealed_air = false\n"));
  CHECK(says(window_of(folder, with({})).output.out, "\n" + air + "\n"));
  CHECK(says(read_file(folder.path() / "strip.window/window.html"), air));
}

TEST_CASE("window: full runs keep the same share of the gel time as the curve") {
  const TemporaryFolder folder;
  write_strip(folder.path(), strip_case(plain_resin + "gel_safety = 1.3\n", plain_pump));
  const Json curve = window_of(folder, {"--points", "3"}).json["maps"][0]["grid"];
  const Json runs = window_of(folder, {"--points", "3", "--full-runs", "--tolerance", "20 %"})
                        .json["maps"][0]["grid"];
  int late = 0;
  for (std::size_t row = 0; row < 3; ++row) {
    for (std::size_t column = 0; column < 3; ++column) {
      CHECK(runs[row][column]["outcome"] == curve[row][column]["outcome"]);
      late += curve[row][column]["outcome"] == "fills too near the gel" ? 1 : 0;
    }
  }
  CHECK(late > 0);
}

TEST_CASE("window: bad options") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const auto error = [&](std::vector<std::string> arguments) {
    arguments.insert(arguments.begin(), "strip.toml");
    return error_of(folder, arguments);
  };
  CHECK(says(error({"--flow", "3 L/min", "0.5 L/min"}),
             "error: --flow: found \"3 L/min\" and \"0.5 L/min\", expected the low end of the "
             "range first"));
  CHECK(says(error({"--flow", "3 L/min"}),
             "error: --flow: found one value, \"3 L/min\", expected LOW and HIGH"));
  CHECK(says(error({"--cap", "2 bar", "--points", "3"}),
             "error: --cap: found one value, \"2 bar\", expected LOW and HIGH, such as --cap "
             "\"0.5 bar\" \"3 bar\""));
  CHECK(says(error({"--flow", "3 bar", "4 bar"}), "error: --flow: found \"3 bar\""));
  CHECK(says(error({"--flow", "0 L/min", "4 L/min"}),
             "error: --flow: found \"0 L/min\", expected a flow rate above zero"));
  CHECK(says(error({"--cap", "1", "2"}), "error: --cap: found \"1\""));
  CHECK(says(error({"--cap", "-0.1 bar", "2 bar"}),
             "error: window: --cap: found -0.10 bar, expected more than the pressure of the air "
             "ahead of the resin, 0.00 bar"));
  CHECK(says(error({"--temperature", "20"}), "error: --temperature: found \"20\""));
  CHECK(says(error({"--temperature", "20 degC", "--temperature", "293.15 K"}),
             "error: --temperature: found \"20 degC\" and \"293.15 K\", expected each value once"));
  CHECK(says(error({"--temperature", "20 degC", "--catalyst", "1 %"}),
             "error: window: found --temperature and --catalyst, expected one of them"));
  CHECK(says(error({"--points", "1"}),
             "error: --points: found \"1\", expected a whole number from 2 to 201"));
  CHECK(says(error({"--tolerance", "30 %"}),
             "error: --tolerance: found \"30 %\", expected a share from 0.01 % to 20 %"));
  CHECK(says(error({"--mould-margin", "99 %"}),
             "error: --mould-margin: found \"99 %\", expected a share from 0 % to 95 %"));
  CHECK(
      says(error({"--mould-margin", "10 %"}),
           "error: window: --mould-margin: found nothing that holds the mould shut in strip.toml"));
  CHECK(says(error({"--threads", "0"}), "error: --threads: found \"0\""));
  CHECK(says(error({"--frames", "3"}), "error: window has no option --frames"));
  CHECK(says(error({"strip.toml"}), "error: window: found 2 cases, expected one"));
  CHECK(!fs::exists(folder.path() / "strip.window"));
  CHECK(says(error_of(folder, {}), "error: window: no case file given"));
  CHECK(says(error_of(folder, {"none.toml"}, 4), "none.toml"));
  write_strip(folder.path(), strip_case(plain_resin, "[injector]\npressure_cap = \"1 bar\"\n"));
  CHECK(says(error({}), "error: window: found neither --flow nor a flow_rate in the case, expected "
                        "a range such as --flow \"0.5 L/min\" \"3 L/min\""));
  write_strip(folder.path(), strip_case(plain_resin, "[injector]\nflow_rate = \"1 L/min\"\n"));
  CHECK(says(error({}), "error: window: found neither --cap nor a pressure_cap in the case"));
}

TEST_CASE("window: gates with pumps of their own have no common axes") {
  const TemporaryFolder folder;
  write_strip(folder.path(), strip_case(plain_resin, "",
                                        "[[gate]]\nname = \"H\"\nat = [500, 0, 0]\nradius = \"30 "
                                        "mm\"\npressure = \"1 bar\"\n"));
  std::string text = read_file(folder.path() / "strip.toml");
  text.replace(text.find("group = \"near\""), 14, "group = \"near\"\nflow_rate = \"1 L/min\"");
  write_file(folder.path() / "strip.toml", text);
  CHECK(says(error_of(folder, {"strip.toml"}),
             "error: window: found 2 gates, each with a drive of its own, expected a gate on "
             "[injector]"));
}

TEST_CASE("window: beside a gate with a pressure of its own the head keeps to its cap") {
  const TemporaryFolder folder;
  write_strip(folder.path(),
              strip_case("[resin]\nviscosity = \"200 mPa.s\"\n", plain_pump,
                         "[[gate]]\nname = \"B\"\nat = [500, 0, 0]\nradius = \"5 mm\"\nopens = "
                         "\"on arrival\"\npressure = \"3 bar\"\n"));
  const Json json = window_of(folder, with({})).json;
  CHECK(json["computed_by"] == "full runs");
  for (std::size_t j = 0; j < 3; ++j) {
    const double cap = json["axes"]["pressure_cap_pa"][j];
    for (std::size_t i = 0; i < 3; ++i) {
      const Json& point = json["maps"][0]["grid"][j][i];
      CHECK(point["peak_head_pressure_pa"].get<double>() <= cap * (1 + 1e-9));
    }
  }
}

TEST_CASE("window: Ctrl-C leaves whole files, and the same command goes on from there") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const std::vector<std::string> arguments{"window", "strip.toml", "--full-runs", "--threads",
                                           "1",      "--points",   "8",           "--tolerance",
                                           "20 %",   "--steps",    "400"};
  const fs::path record = folder.path() / "strip.window" / "window.runs";
  const auto lines = [&] { return std::ranges::count(read_file(record), '\n'); };
  const Program program(folder.path(), arguments);
  for (int tries = 0; tries < 24000 && lines() < 3; ++tries) {
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
  REQUIRE(lines() >= 3);
  program.send(SIGINT);
  const ProgramOutput output = program.wait();
  CAPTURE(output.err);
  CHECK(output.exit_code == 1); // not all is known
  CHECK(says(
      output.err,
      "Interrupted: the files hold what was tried so far; the same command goes on from there."));
  const Json partial = json_of(read_file(folder.path() / "strip.window" / "window.json"));
  CHECK(partial["was_interrupted"] == true);
  CHECK(partial["maps"][0]["recommended"].is_null());
  CHECK(partial["maps"][0]["grid"][7][7]["outcome"] == "not run");
  CHECK(read_file(folder.path() / "strip.window" / "window.csv").ends_with("\n"));
  // Other settings do not go on from these runs.
  std::vector<std::string> others = arguments;
  others.back() = "300";
  const ProgramOutput refused = run_program(folder.path(), others);
  CHECK(refused.exit_code == 2);
  CHECK(says(refused.err, "window.runs:1: steps: found \"400\", expected \"300\": "));
  CHECK(fs::exists(folder.path() / "strip.window" / "window.json"));
  const ProgramOutput rest = run_program(folder.path(), arguments);
  CHECK(rest.exit_code == 0);
  CHECK(says(rest.err, "Going on: "));
  CHECK(says(rest.err, " were done before.\n"));
  const std::string resumed = read_file(folder.path() / "strip.window" / "window.json");
  const std::string page = read_file(folder.path() / "strip.window" / "window.html");
  CHECK(!fs::exists(record));
  const ProgramOutput whole = run_program(folder.path(), arguments);
  CHECK(whole.exit_code == 0);
  CHECK(rest.out == whole.out);
  CHECK(resumed == read_file(folder.path() / "strip.window" / "window.json"));
  CHECK(page == read_file(folder.path() / "strip.window" / "window.html"));
}

TEST_CASE("window: the page is the same each time, its names are escaped, and it can be left out") {
  const TemporaryFolder folder;
  std::string text = strip_case();
  text.replace(text.find("Strip"), 5, "<b>Strip</b> </script>");
  write_strip(folder.path(), text);
  window_of(folder, with({}));
  const fs::path file = folder.path() / "strip.window" / "window.html";
  const std::string page = read_file(file);
  CHECK(says(page, "<h1>&lt;b&gt;Strip&lt;/b&gt; &lt;/script&gt;</h1>"));
  CHECK(!says(page, "<b>Strip"));
  CHECK(says(page, "<caption>Map: minutes to fill, or why not</caption>"));
  window_of(folder, with({}));
  CHECK(read_file(file) == page);
  const Window without = window_of(folder, with({"--no-report"}));
  CHECK(!fs::exists(file)); // that of the run before goes
  CHECK(!says(without.output.out, "window.html"));
}

TEST_CASE("window: where nothing is safe the page says so") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  window_of(folder, with({"--time-limit", "10 s"}), 1);
  const std::string page = read_file(folder.path() / "strip.window" / "window.html");
  CHECK(says(page, "<p class=\"headline\">No setting of this range is safe.</p>"));
  CHECK(says(page, "<div class=\"verdict short\">"));
}

TEST_CASE("window: a map for each temperature on the page, and a table of their settings") {
  const TemporaryFolder folder;
  write_strip(folder.path(),
              "temperature = \"25 degC\"\n" +
                  strip_case("[resin]\nviscosity = { law = \"table\", temperature = [\"15 degC\", "
                             "\"35 degC\"], viscosity = [\"400 mPa.s\", \"100 mPa.s\"] }\n",
                             plain_pump));
  window_of(folder, with({"--temperature", "20 degC", "--temperature", "25 degC"}));
  const std::string page = read_file(folder.path() / "strip.window" / "window.html");
  CHECK(says(page, "At 2 of 2 values of the temperature some setting is safe."));
  CHECK(says(page, "data-chart=\"1\""));
  CHECK(says(page, "<h3>At 25 degC (temperature): viscosity "));
}
