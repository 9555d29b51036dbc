// The command compare as a user starts it.
#include "tests/support/json_text.hpp"
#include "tests/support/program.hpp"
#include "tests/support/says.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <chrono>
#include <csignal>
#include <filesystem>
#include <string>
#include <thread>
#include <vector>

using namespace tidemark;
namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

std::string in_cases(const std::string& file) {
  return (fs::path(TIDEMARK_SOURCE_DIR) / "cases" / file).string();
}

/// A strip of the shipped mesh, 1 m x 0.3 m, with a pump and a cap. With the resin's 0.2 Pa s,
/// K = 2e-9 m2 and 4 mm it takes some 10 min.
std::string strip_case(const std::string& region = "thickness = \"4 mm\"\npermeability = \"2e-9 "
                                                   "m2\"\nporosity = 0.8\n",
                       const std::string& more = "") {
  return "title = \"Strip\"\ncurrency = \"EUR\"\n" + more + "[part]\nmesh = \"" +
         in_cases("strip-with-cap/strip.msh") +
         "\"\nmesh_unit = \"mm\"\n[[region]]\nname = \"strip\"\n" + region +
         "[resin]\nviscosity = \"200 mPa.s\"\ndensity = \"1000 kg/m3\"\n"
         "[injector]\nflow_rate = \"0.12 L/min\"\npressure_cap = \"1 bar\"\n"
         "[[gate]]\nname = \"near end\"\ngroup = \"gate end\"\n"
         "[[vent]]\nname = \"far end\"\ngroup = \"vent end\"\npressure = \"0 bar\"\n";
}

Json comparison_in(const fs::path& folder) {
  return json_of(read_file(folder / "compare.json"));
}

Json compare(const TemporaryFolder& folder, std::vector<std::string> arguments, int exit_code) {
  arguments.insert(arguments.begin(), {"compare", "strip.toml"});
  const ProgramOutput output = run_program(folder.path(), arguments);
  CAPTURE(output.err);
  CHECK(output.exit_code == exit_code);
  return comparison_in(folder.path() / "strip.compare");
}

const std::string laid_up = "thickness = \"5.8 mm\"\nlayup = [{ fabric = \"mat\" }, { core = \"5 "
                            "mm\" }, { fabric = \"mat\" }]\n"
                            "[fabric.mat]\nareal_weight = \"500 g/m2\"\nfibre_density = \"2500 "
                            "kg/m3\"\npermeability = { law = \"constant\", value = \"1e-9 m2\", "
                            "valid = [0.2, 0.6] }\n";

} // namespace

TEST_CASE("compare: every row is what fill gives for that alternative") {
  const TemporaryFolder folder;
  const std::string thin = "thickness = \"3 mm\"\npermeability = \"1.2e-9 m2\"\nporosity = 0.7\n";
  write_file(folder.path() / "strip.toml", strip_case());
  write_file(folder.path() / "thin.toml", strip_case(thin));
  const Json runs = compare(folder,
                            {"--try",
                             "thin: region.strip.thickness = 3 mm; "
                             "region.strip.permeability = 1.2e-9 m2; "
                             "region.strip.porosity = 0.7",
                             "--try", "resin.gel_time = 100 s", "--files", "--frames", "2"},
                            1)["runs"];
  REQUIRE(runs.size() == 3);
  CHECK(runs[0]["name"] == "as it is");
  CHECK(runs[1]["name"] == "thin");
  CHECK(runs[2]["name"] == "resin.gel_time = 100 s");
  CHECK(runs[2]["verdict"] == "short");
  CHECK(runs[2]["reason"] == "gel");
  CHECK(runs[2]["best"].empty());
  for (const auto& [name, row] : {std::pair{"strip", 0}, {"thin", 1}}) {
    REQUIRE(run_program(folder.path(), {"fill", std::string(name) + ".toml", "--no-pictures"})
                .exit_code == 0);
    const Json fill =
        json_of(read_file(folder.path() / (std::string(name) + ".out") / "summary.json"));
    for (const char* key :
         {"verdict", "reason", "fill_time_s", "end_time_s", "filled_fraction",
          "peak_head_pressure_pa", "time_at_cap_s", "resin_in_part_m3", "bled_m3"}) {
      CAPTURE(key);
      CHECK(runs[row][key] == fill[key]);
    }
    CHECK(runs[row]["last_place"]["position_m"] == fill["last_filled"][0]["position_m"]);
    const fs::path own = folder.path() / "strip.compare" / ("run-" + std::to_string(row + 1));
    CHECK(read_file(own / "history.csv") ==
          read_file(folder.path() / (std::string(name) + ".out") / "history.csv"));
    CHECK(fs::exists(own / "front.pvd"));
  }
  CHECK(runs[1]["regions"][0]["ply_volume_fraction"].get<double>() == doctest::Approx(0.3));
}

TEST_CASE("compare: of which runs air shut in is not computed is told") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", strip_case());
  const ProgramOutput output = run_program(
      folder.path(), {"compare", "strip.toml", "--try", "open: cavity.sealed_air = false"});
  CHECK(says(output.out, "\nRun 2: Air that is shut in is not computed: a place without a vent may "
                         "stay dry.\n"));
  CHECK(!says(output.out, "Run 1: Air"));
  CHECK(says(read_file(folder.path() / "strip.compare/compare.html"),
             "Run 2: Air that is shut in is not computed"));
}

TEST_CASE("compare: the same bytes for any number of threads") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", strip_case());
  std::vector<std::string> csv;
  std::vector<std::string> json;
  for (const char* threads : {"1", "2", "3"}) {
    const ProgramOutput output = run_program(
        folder.path(), {"compare", "strip.toml", "--try", "a: resin.viscosity = 150 mPa.s", "--try",
                        "b: resin.viscosity = 300 mPa.s", "--try", "c: resin.gel_time = 2 min",
                        "--threads", threads, "-o", threads, "--files", "--frames", "3"});
    CHECK(output.exit_code == 1);
    csv.push_back(read_file(folder.path() / threads / "compare.csv"));
    json.push_back(read_file(folder.path() / threads / "compare.json"));
  }
  CHECK(csv[0].size() > 500);
  CHECK(csv[0] == csv[1]);
  CHECK(csv[0] == csv[2]);
  CHECK(json[0] == json[1]);
  CHECK(json[0] == json[2]);
  for (const char* run : {"run-1", "run-2", "run-3", "run-4"}) {
    for (const char* file : {"fill.vtu", "history.csv", "front_0001.vtu"}) {
      CAPTURE(run);
      CAPTURE(file);
      const std::string one = read_file(folder.path() / "1" / run / file);
      CHECK(!one.empty());
      CHECK(one == read_file(folder.path() / "3" / run / file));
    }
  }
}

TEST_CASE("compare: part mass and cost worked out by hand") {
  const TemporaryFolder folder;
  // 0.3 m2. Two plies of 0.5 kg/m2: 0.3 kg of fibres, 0.4 mm of them in 0.8 mm, so that Vf = 0.5
  // and the resin is 0.3 m2 * 0.4 mm * 1000 kg/m3 = 0.12 kg.
  write_file(folder.path() / "strip.toml", strip_case(laid_up));
  const std::string core = "region.strip.layup.2 = { core = \"5 mm\", density = \"80 kg/m3\" }";
  const std::string prices = "fabric.mat.price = 3 per m2; resin.price = 4 per kg";
  const Json runs = compare(
      folder,
      {"--try", "core: " + core + "; " + prices, "--try",
       "grooves: " + prices +
           "; region.strip.layup.2 = { core = \"5 mm\", density = \"80 kg/m3\", price = \"10 per "
           "m2\", grooves = { width = \"2 mm\", depth = \"2 mm\", spacing = \"20 mm\", crossed = "
           "false } }; region.strip.direction = [1, 0, 0]",
       "--try",
       "per kg: fabric.mat.price = 6 per kg; resin.price = 4 per L; region.strip.layup.2 = { core "
       "= \"5 mm\", price = \"2000 per m3\" }",
       "--try", "no resin price: fabric.mat.price = 6 per kg", "--try",
       "no density: resin.density = none"},
      0)["runs"];
  REQUIRE(runs.size() == 6);
  const auto number = [&](int run, const char* key) { return runs[run][key].get<double>(); };
  // Without the core 0.3 + 0.12 kg.
  CHECK(number(0, "part_mass_kg") == doctest::Approx(0.42).epsilon(1e-9));
  CHECK(runs[0]["part_mass_leaves_out"][0] == "no density of the core in region strip");
  CHECK(runs[0]["cost"].is_null());
  CHECK(runs[0]["regions"][0]["ply_volume_fraction"].get<double>() == doctest::Approx(0.5));
  // The core: 80 kg/m3 * 5 mm * 0.3 m2 = 0.12 kg. 2 plies * 0.3 m2 * 3 + 0.12 kg * 4 = 2.28.
  CHECK(number(1, "part_mass_kg") == doctest::Approx(0.54).epsilon(1e-9));
  CHECK(runs[1]["part_mass_leaves_out"].empty());
  CHECK(number(1, "cost") == doctest::Approx(2.28).epsilon(1e-9));
  CHECK(runs[1]["cost_leaves_out"][0] == "no price of the core in region strip");
  // Grooves take 2 * 2 / (20 * 5) = 4 % of the core: 0.12 * 0.96 kg of it and 5 mm * 0.3 m2 *
  // 0.04 = 0.06 L more resin, 0.42 + 0.1152 + 0.06 kg. Cost 1.8 + 0.18 * 4 + 0.3 * 10.
  CHECK(number(2, "part_mass_kg") == doctest::Approx(0.5952).epsilon(1e-9));
  CHECK(number(2, "cost") == doctest::Approx(5.52).epsilon(1e-9));
  CHECK(runs[2]["cost_leaves_out"].empty());
  // 1 kg/m2 * 0.3 m2 * 6 + 0.12 L * 4 + 5 mm * 0.3 m2 * 2000 = 1.8 + 0.48 + 3.
  CHECK(number(3, "cost") == doctest::Approx(5.28).epsilon(1e-9));
  CHECK(runs[4]["cost"].is_null());
  CHECK(runs[4]["cost_not_known"][0] == "no price of the resin");
  CHECK(runs[5]["part_mass_kg"].is_null());
  CHECK(runs[5]["part_mass_not_known"][0] == "no density of the resin");
  CHECK(runs[5]["resin_in_part_kg"].is_null());
}

TEST_CASE("compare: a region without a layup has no part mass, and that is said") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", strip_case());
  const ProgramOutput output =
      run_program(folder.path(), {"compare", "strip.toml", "--try", "resin.viscosity = 0.1 Pa.s"});
  CHECK(output.exit_code == 0);
  CHECK(says(output.out, "Strip: 2 runs compared\n\n  1  as it is\n  2  resin.viscosity = 0.1 "
                         "Pa.s\n"));
  CHECK(says(output.out, "No part mass: region strip has no layup, so that its fibres are not "
                         "known.\n"));
  CHECK(says(output.out, "Written to strip.compare: compare.csv, compare.json, compare.html.\n"));
  CHECK(!says(output.out, "cost"));
  CHECK(output.err.empty());
}

TEST_CASE("compare: no page if none is wanted") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", strip_case());
  const ProgramOutput output =
      run_program(folder.path(),
                  {"compare", "strip.toml", "--try", "resin.viscosity = 0.1 Pa.s", "--no-report"});
  CHECK(output.exit_code == 0);
  CHECK(says(output.out, "compare.csv, compare.json.\n"));
  CHECK(!fs::exists(folder.path() / "strip.compare" / "compare.html"));
  CHECK(fs::exists(folder.path() / "strip.compare" / "compare.json"));
}

TEST_CASE("compare: an alternative may bring another mesh") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", strip_case());
  // 2 x 1 quadrilaterals of 500 mm x 150 mm in a strip half as wide, so that half the resin fills
  // it: 1 m * 0.15 m * 4 mm * 0.8 = 0.48 L.
  write_file(folder.path() / "half.obj",
             "v 0 0 0\nv 500 0 0\nv 1000 0 0\nv 0 150 0\nv 500 150 0\nv 1000 150 0\n"
             "f 1 2 5 4\nf 2 3 6 5\n");
  const Json runs = compare(folder,
                            {"--try", "half: part.mesh = half.obj; gate = [{ name = \"G\", at = "
                                      "[0, 75, 0], radius = \"150 mm\" }]; vent.far end = { name = "
                                      "\"V\", at = [1000, 0, 0] , pressure = \"0 bar\" }"},
                            0)["runs"];
  CHECK(runs[0]["resin_in_part_m3"].get<double>() == doctest::Approx(0.96e-3).epsilon(1e-6));
  CHECK(runs[1]["resin_in_part_m3"].get<double>() == doctest::Approx(0.48e-3).epsilon(1e-6));
}

TEST_CASE("compare: several cases side by side") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", strip_case());
  write_file(folder.path() / "b.toml", strip_case(laid_up));
  const ProgramOutput output =
      run_program(folder.path(), {"compare", "strip.toml", "b.toml", "--json", "-o", "out"});
  CHECK(output.exit_code == 0);
  CHECK(output.out == read_file(folder.path() / "out" / "compare.json"));
  const Json json = json_of(output.out);
  CHECK(json["runs"][1]["name"] == "b.toml");
  CHECK(json["runs"][1]["case_file"] == "b.toml");
  CHECK(!fs::exists(folder.path() / "out" / "run-1"));
  const ProgramOutput quiet =
      run_program(folder.path(), {"compare", "strip.toml", "b.toml", "--quiet"});
  CHECK((quiet.out + quiet.err).empty());
}

TEST_CASE("compare: errors of all runs are told before anything runs") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", strip_case());
  const ProgramOutput output = run_program(
      folder.path(), {"compare", "strip.toml", "--try", "a: resin.viscosty = 1 Pa.s", "--try",
                      "b: gate.G9.at = [0, 0, 0]", "--try", "fine: resin.viscosity = 1 Pa.s"});
  CHECK(output.exit_code == 2);
  CHECK(output.err == "error: strip.toml with --try \"a: resin.viscosty = 1 Pa.s\": resin: found "
                      "the unknown key \"viscosty\", expected \"viscosity\"\n"
                      "error: strip.toml with --try \"b: gate.G9.at = [0, 0, 0]\": gate.G9.at: "
                      "found no gate \"G9\", expected one of near end\n");
  CHECK(!fs::exists(folder.path() / "strip.compare"));
  // What an alternative makes wrong elsewhere in the file is said with it.
  const ProgramOutput elsewhere =
      run_program(folder.path(), {"compare", "strip.toml", "--try", "region.strip.porosity = none",
                                  "--try", "part.mesh = none.msh"});
  CHECK(elsewhere.exit_code == 4);
  CHECK(says(elsewhere.err, "error: --try \"region.strip.porosity = none\": strip.toml:6: "
                            "region[strip].porosity: found no such key, expected "));
  CHECK(says(elsewhere.err,
             "error: strip.toml with --try \"part.mesh = none.msh\": part.mesh: found "
             "\"none.msh\", expected a mesh file: none.msh: cannot be opened"));
  // What is wrong with the case itself is said once.
  write_file(folder.path() / "bad.toml", strip_case("", "titel = \"x\"\n"));
  const ProgramOutput bad =
      run_program(folder.path(), {"compare", "bad.toml", "--try", "resin.viscosity = 1 Pa.s"});
  CHECK(bad.exit_code == 2);
  CHECK(bad.err.find("titel") == bad.err.rfind("titel"));
  CHECK(run_program(folder.path(), {"compare", "strip.toml", "none.toml"}).exit_code == 4);
}

TEST_CASE("compare: mistakes on the command line") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", strip_case());
  write_file(folder.path() / "dollar.toml",
             strip_case(laid_up + "price = \"3 per m2\"\n", "").replace(28, 3, "USD"));
  write_file(folder.path() / "euro.toml", strip_case(laid_up + "price = \"3 per m2\"\n"));
  const std::string twice = "resin.viscosity = 1 Pa.s";
  const std::vector<std::pair<std::vector<std::string>, std::string>> mistakes{
      {{}, "compare: no case file given"},
      {{"strip.toml"}, "compare: found one case and no --try, expected another case, or an"},
      {{"strip.toml", "b.toml", "--try", "a = 1"}, "compare: found 2 cases and --try, expected"},
      {{"strip.toml", "./strip.toml"}, "compare: found \"strip.toml\" twice, expected each run"},
      {{"strip.toml", "--try", twice, "--try", twice}, "twice, expected each run once"},
      {{"strip.toml", "--try", "x: " + twice, "--try", "x: resin.gel_time = 1 h"},
       "compare: found \"x\" twice"},
      {{"strip.toml", "--try", "no change"}, "--try \"no change\": found \"no change\" without an"},
      {{"strip.toml", "--try", twice, "--threads", "0"},
       "--threads: found \"0\", expected a whole"},
      {{"strip.toml", "--try", twice, "--frames", "3"}, "--frames goes with --files"},
      {{"dollar.toml", "euro.toml"},
       "euro.toml: currency: found \"EUR\" beside \"USD\" of "
       "dollar.toml, expected prices of one currency"},
  };
  for (auto [arguments, message] : mistakes) {
    arguments.insert(arguments.begin(), "compare");
    const ProgramOutput output = run_program(folder.path(), arguments);
    CAPTURE(message);
    CAPTURE(output.err);
    CHECK(output.exit_code == 2);
    CHECK(says(output.err, message));
    CHECK(output.out.empty());
  }
  CHECK(says(run_program(folder.path(), {"fill", "strip.toml", "--try", twice}).err,
             "fill has no option --try"));
  CHECK(
      says(run_program(folder.path(), {"compare", "--help"}).out, "Example:\n  tidemark compare "));
}

TEST_CASE("compare: runs of an earlier comparison do not outlive the next, inputs do") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", strip_case());
  const fs::path out = folder.path() / "strip.compare";
  const auto compare_with_files = [&](std::vector<std::string> more) {
    more.insert(more.end(), {"--files", "--frames", "0", "--no-report"});
    compare(folder, more, 0);
  };
  const std::vector<std::string> one{"--try", "resin.viscosity = 0.1 Pa.s"};
  const std::vector<std::string> two{"--try", "resin.viscosity = 0.1 Pa.s", "--try",
                                     "resin.viscosity = 0.15 Pa.s"};
  compare_with_files(two);
  write_file(out / "notes.txt", "mine");
  fs::create_directories(out / "run-7");
  write_file(out / "run-7" / "summary.json", "mine");
  CHECK(fs::exists(out / "run-3" / "summary.json"));
  compare_with_files(one);
  CHECK(!fs::exists(out / "run-3"));
  CHECK(fs::exists(out / "run-2" / "summary.json"));
  CHECK(fs::exists(out / "notes.txt"));
  CHECK(read_file(out / "run-7" / "summary.json") == "mine");
  // What is no longer as it was written keeps all as it is.
  const std::string before = read_file(out / "compare.csv");
  const std::string history = read_file(out / "run-2" / "history.csv");
  write_file(out / "run-2" / "history.csv", "mine");
  const ProgramOutput refused = run_program(
      folder.path(), {"compare", "strip.toml", "--try", "resin.viscosity = 0.3 Pa.s", "--files"});
  CHECK(refused.exit_code == 4);
  CHECK(says(refused.err, "run-2: found history.csv, changed since tidemark wrote it"));
  CHECK(read_file(out / "compare.csv") == before);
  CHECK(fs::exists(out / "run-1" / "fill.vtu"));
  fs::remove_all(out / "run-1");
  CHECK(run_program(folder.path(),
                    {"compare", "strip.toml", "--try", "resin.viscosity = 0.3 Pa.s", "--files"})
            .exit_code == 4);
  CHECK(!fs::exists(out / "run-1"));                  // nothing is left of what did not begin
  write_file(out / "run-2" / "history.csv", history); // as it was
  const ProgramOutput output =
      run_program(folder.path(),
                  {"compare", "strip.toml", "--try",
                   "part.mesh = strip.compare/run-2/fill.vtu; part.mesh_unit = m; gate = [{ name "
                   "= \"G\", at = [0, 0, 0] }]; vent = [{ name = \"V\", at = [1, 0, 0], "
                   "pressure = \"0 bar\" }]"});
  CHECK(output.exit_code == 2);
  CHECK(says(output.err, "run-2/fill.vtu: lies in the output folder"));
  CHECK(fs::exists(folder.path() / "strip.compare" / "run-2" / "fill.vtu"));
}

TEST_CASE("compare: a run whose computation fails is told as that, and the others go on") {
  // Stages a microsecond long, hundreds of them: the filling does not get on.
  std::string stages;
  for (int k = 0; k < 700; ++k) {
    stages += (k > 0 ? ", " : "") + std::string("{ from_time = '") +
              std::to_string(100'000'000 + k) + " us', flow_rate = '120 mL/min' }";
  }
  std::string text = strip_case();
  text.insert(text.find("[[gate]]"), "schedule = [" + stages + "]\n");
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", text);
  const Json runs = compare(folder,
                            {"--try", "plain: injector.schedule = none", "--try",
                             "injector.schedule = none; resin.viscosity = 0.1 Pa.s"},
                            3)["runs"];
  CHECK(runs[0]["verdict"] == "failed");
  CHECK(says(runs[0]["error"].get<std::string>(), "does not get on"));
  CHECK(runs[1]["verdict"] == "filled");
  CHECK(runs[2]["verdict"] == "filled");
}

TEST_CASE("compare: a gap 24 powers of ten as open as the laminate fills, the laminate does not") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", strip_case());
  const Json runs =
      compare(folder,
              {"--try",
               "absurd: race_track = [{ name = 'gap', along = 'free edges', gap = '1 m', "
               "permeability = '1 m2' }]; region.strip.permeability = 1e-24 m2",
               "--time-limit", "1e9 s"},
              1)["runs"];
  CHECK(runs[1]["verdict"] == "short");
  // 2.6 m x 1 m x 4 mm of gap, and half of the elements beside it: 10.4 of 11.4 L.
  CHECK(runs[1]["filled_fraction"].get<double>() == doctest::Approx(0.9186).epsilon(1e-3));
}

TEST_CASE("compare: a run that cannot be written is told as that, and the others go on") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", strip_case());
  fs::create_directories(folder.path() / "strip.compare" / "run-2" / ".tidemark-fill.vtu.part" /
                         "in the way");
  const Json runs = compare(folder,
                            {"--try", "a: resin.viscosity = 0.1 Pa.s", "--try",
                             "b: resin.viscosity = 0.15 Pa.s", "--files", "--frames", "0"},
                            4)["runs"];
  CHECK(runs[0]["verdict"] == "filled");
  CHECK(runs[1]["verdict"] == "failed");
  CHECK(says(runs[1]["error"].get<std::string>(), "fill.vtu"));
  CHECK(runs[1]["fill_time_s"].is_null());
  CHECK(runs[1]["best"].empty());
  CHECK(runs[2]["verdict"] == "filled");
  CHECK(!runs[2]["best"].empty());
}

TEST_CASE("compare: Ctrl-C leaves whole files of what was done and says so") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.toml", strip_case());
  const Program program(folder.path(),
                        {"compare", "strip.toml", "--try", "resin.viscosity = 0.1 Pa.s", "--steps",
                         "100000", "--threads", "1", "--files"});
  const fs::path folder_of_first = folder.path() / "strip.compare" / "run-1";
  bool has_begun = false;
  for (int trial = 0; trial < 3000 && !has_begun; ++trial) {
    has_begun = fs::exists(folder_of_first / "front.pvd");
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  program.send(SIGINT);
  const ProgramOutput output = program.wait();
  REQUIRE(has_begun);
  CHECK(output.exit_code == 1);
  CHECK(says(output.err, "Interrupted: the files hold what was done so far.\n"));
  const Json runs = comparison_in(folder.path() / "strip.compare")["runs"];
  CHECK(runs[0]["verdict"] == "short");
  CHECK(runs[0]["reason"] == "interrupted");
  CHECK(runs[1]["verdict"] == "not run");
  CHECK(runs[1]["fill_time_s"].is_null());
  CHECK(read_file(folder.path() / "strip.compare" / "compare.csv").ends_with("\n"));
  CHECK(says(read_file(folder_of_first / "summary.json"), "interrupted"));
}
