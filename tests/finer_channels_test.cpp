// Each command that fills does so with finer cells beside channels where it is asked to.
#include "tests/support/json_text.hpp"
#include "tests/support/program.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <filesystem>
#include <string>
#include <vector>

using namespace tidemark;
namespace fs = std::filesystem;

namespace {

/// The shipped strip with gaps of 2 mm along its rim, between elements of 10 mm.
std::string strip_with_gaps() {
  const std::string mesh =
      (fs::path(TIDEMARK_SOURCE_DIR) / "cases" / "strip-with-cap" / "strip.msh").string();
  return "title = \"Strip\"\n[part]\nmesh = \"" + mesh +
         "\"\nmesh_unit = \"mm\"\n[[region]]\nname = \"strip\"\nthickness = \"4 mm\"\n"
         "permeability = \"2e-10 m2\"\nporosity = 0.8\n[cavity]\nsealed_air = false\n"
         "[resin]\nviscosity = \"200 mPa.s\"\n[injector]\nflow_rate = \"0.12 L/min\"\n"
         "pressure_cap = \"1 bar\"\n[[gate]]\nname = \"port\"\nat = [0, 150, 0]\n"
         "radius = \"10 mm\"\n[[vent]]\nname = \"far end\"\ngroup = \"vent end\"\n"
         "pressure = \"0 bar\"\n[[race_track]]\nname = \"edges\"\nalong = \"free edges\"\n"
         "gap = \"2 mm\"\n";
}

class FinerChannels {
public:
  FinerChannels() { write_file(folder_.path() / "strip.toml", strip_with_gaps()); }

  nlohmann::json run(const std::string& command, std::vector<std::string> options,
                     const std::string& file) {
    options.insert(options.begin(), {command, "strip.toml", "-o", "out", "--quiet"});
    const ProgramOutput output = run_program(folder_.path(), options);
    CAPTURE(command);
    CAPTURE(output.err);
    CHECK(output.exit_code == (command == "vents" ? 1 : 0)); // there air without a vent is shut in
    return json_of(read_file(folder_.path() / "out" / file));
  }

private:
  TemporaryFolder folder_;
};

} // namespace

TEST_CASE("Finer channels: compare and gates fill as fill does with them") {
  FinerChannels finer;
  const auto fill_time = [&](std::vector<std::string> options) {
    options.insert(options.end(), {"--no-pictures", "--steps", "20"});
    return finer.run("fill", options, "summary.json")["fill_time_s"].get<double>();
  };
  const double divided = fill_time({"--finer-channels"});
  REQUIRE(divided != fill_time({}));
  const nlohmann::json compared = finer.run(
      "compare", {"--finer-channels", "--steps", "20", "--try", "resin.viscosity = 0.3 Pa.s"},
      "compare.json");
  CHECK(compared["runs"][0]["fill_time_s"].get<double>() == divided);
  const nlohmann::json layouts = finer.run(
      "gates", {"--finer-channels", "--steps", "20", "--point", "0, 150, 0", "--radius", "10 mm"},
      "gates.json");
  CHECK(layouts["layouts"][0]["fill_time_s"].get<double>() == divided);
}

TEST_CASE("Finer channels: the other commands that fill take them too") {
  FinerChannels finer;
  const auto answer = [&](const std::string& command, std::vector<std::string> options) {
    options.emplace_back("--steps");
    options.emplace_back("20");
    const nlohmann::json plain = finer.run(command, options, command + ".json");
    options.emplace_back("--finer-channels");
    const nlohmann::json divided = finer.run(command, options, command + ".json");
    CHECK(plain != divided);
  };
  answer("scatter", {"--samples", "1"});
  answer("vents", {"--own", "--reach", "0 mm"});
  answer("window", {"--points", "2", "--full-runs"});
}

TEST_CASE("Finer channels: air that is shut in is pressed no harder than the head presses") {
  // A cell counted as full that stood below its air: 5.6 bar with a head at 1.10 bar. The mesh is a
  // grid of 15 x 10 cells with nodes moved at random.
  const TemporaryFolder folder;
  const std::string mesh =
      (fs::path(TIDEMARK_SOURCE_DIR) / "tests" / "meshes" / "uneven_plate_22.msh").string();
  write_file(folder.path() / "plate.toml",
             "[part]\nmesh = \"" + mesh +
                 "\"\nmesh_unit = \"mm\"\n"
                 "[[region]]\nname = \"a\"\ngroups = [\"a\"]\nthickness = \"1.3443 mm\"\n"
                 "permeability = \"1.06005e-12 m2\"\nporosity = 0.610626\n"
                 "[[region]]\nname = \"b\"\ngroups = [\"b\"]\nthickness = \"6.17489 mm\"\n"
                 "permeability = \"1.75363e-10 m2\"\nporosity = 0.86074\n"
                 "[resin]\nviscosity = \"45.2254 mPa.s\"\n"
                 "[injector]\npressure_cap = \"1.10453 bar\"\n"
                 "[[gate]]\nname = \"middle\"\ngroup = \"mid\"\n"
                 "[[vent]]\nname = \"end\"\ngroup = \"right\"\npressure = \"0 bar\"\n"
                 "[[race_track]]\nname = \"border\"\nbetween = [\"a\", \"b\"]\n"
                 "gap = \"1.49155 mm\"\n"
                 "[mould]\nclosing_direction = [0, 0, 1]\n"
                 "[run]\ntime_limit = \"10 h\"\n");
  const ProgramOutput output =
      run_program(folder.path(), {"fill", "plate.toml", "-o", "out", "--quiet", "--finer-channels",
                                  "--no-pictures", "--no-report"});
  CAPTURE(output.err);
  REQUIRE(output.exit_code == 1);
  const nlohmann::json summary = json_of(read_file(folder.path() / "out" / "summary.json"));
  CHECK(summary["mould"]["peak_cavity_pressure_pa"].get<double>() <= 110453 * 1.001);
}
