// The command scatter as a user starts it: on threads, under MPI, cut off and gone on with.
#include "tests/support/json_text.hpp"
#include "tests/support/program.hpp"
#include "tests/support/says.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <sstream>
#include <string>
#include <thread>
#include <vector>

using namespace tidemark;
namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

/// A strip 1 m x 0.2 m of squares of 50 mm, in mm, with an array "h" of thicknesses.
std::string strip_mesh() {
  const int along = 20;
  const int across = 4;
  std::ostringstream text;
  text << "# vtk DataFile Version 3.0\nstrip\nASCII\nDATASET UNSTRUCTURED_GRID\nPOINTS "
       << (along + 1) * (across + 1) << " double\n";
  for (int j = 0; j <= across; ++j) {
    for (int i = 0; i <= along; ++i) {
      text << 50 * i << " " << 50 * j << " 0\n";
    }
  }
  const int cells = along * across;
  text << "CELLS " << cells << " " << 5 * cells << "\n";
  for (int j = 0; j < across; ++j) {
    for (int i = 0; i < along; ++i) {
      const int first = j * (along + 1) + i;
      text << "4 " << first << " " << first + 1 << " " << first + along + 2 << " "
           << first + along + 1 << "\n";
    }
  }
  text << "CELL_TYPES " << cells << "\n";
  for (int i = 0; i < cells; ++i) {
    text << "9\n";
  }
  text << "CELL_DATA " << cells << "\nSCALARS h double 1\nLOOKUP_TABLE default\n";
  for (int i = 0; i < cells; ++i) {
    text << "4\n";
  }
  return text.str();
}

const std::string plain_region = R"(
[[region]]
name = "strip"
thickness = "4 mm"
permeability = "2e-9 m2"
porosity = 0.6
)";

/// So closely packed that some samples find no room.
const std::string packed_region = R"(
[[region]]
name = "strip"
thickness = { array = "h", unit = "mm" }
layup = [{ fabric = "roving", count = 3 }]
[fabric.roving]
areal_weight = "2.6 kg/m2"
fibre_density = "2600 kg/m3"
permeability = { law = "power", factor = "1e-11 m2", exponent = -3, valid = [0.5, 0.9] }
)";

const std::string rest = R"(
[resin]
viscosity = "200 mPa.s"
[injector]
pressure_cap = "1 bar"
[[gate]]
name = "port"
at = [0, 100, 0]
radius = "60 mm"
[[vent]]
name = "end"
at = [1000, 100, 0]
pressure = "0 bar"
)";

const std::string usual_scatter = R"(
[scatter]
samples = 25
permeability = { law = "lognormal", variation = 0.4, correlation_length = "150 mm" }
viscosity = { law = "gamma", variation = "15 %" }
)";

class ScatterFolder {
public:
  explicit ScatterFolder(const std::string& region = plain_region,
                         const std::string& scatter = usual_scatter) {
    write_file(path() / "strip.vtk", strip_mesh());
    write_file(path() / "strip.toml",
               "[part]\nmesh = \"strip.vtk\"\nmesh_unit = \"mm\"\n" + region + rest + scatter);
  }
  [[nodiscard]] const fs::path& path() const { return folder_.path(); }
  [[nodiscard]] ProgramOutput run(std::vector<std::string> more) const {
    return run_program(path(), command(std::move(more)));
  }
  static std::vector<std::string> command(std::vector<std::string> more) {
    std::vector<std::string> words{"scatter", "strip.toml", "--steps", "10"};
    words.insert(words.end(), more.begin(), more.end());
    return words;
  }
  /// All three files of an output folder, one after the other.
  [[nodiscard]] std::string files_of(const std::string& out) const {
    std::string text;
    for (const char* name : {"scatter.json", "scatter.csv", "scatter.vtu"}) {
      const std::string content = read_file(path() / out / name);
      CHECK(!content.empty());
      text += content;
    }
    return text;
  }
  [[nodiscard]] fs::path record(const std::string& out) const {
    return path() / out / "scatter-runs.jsonl";
  }

private:
  TemporaryFolder folder_;
};

std::ptrdiff_t lines_of(const fs::path& file) {
  return std::ranges::count(read_file(file), '\n');
}

/// Starts the program and sends a signal once so many lines stand in the record. A program that was
/// done before, since this process had to wait, is started again.
bool cut_off(const ScatterFolder& folder, const std::string& out, int signal) {
  for (int attempt = 0; attempt < 10; ++attempt) {
    fs::remove_all(folder.path() / out);
    const Program program(folder.path(), ScatterFolder::command({"-o", out, "--threads", "2"}));
    for (int i = 0; i < 120000 && lines_of(folder.record(out)) < 6; ++i) {
      std::this_thread::sleep_for(std::chrono::milliseconds(1));
    }
    program.send(signal);
    program.wait();
    if (fs::exists(folder.record(out))) {
      return true;
    }
  }
  return false;
}

} // namespace

TEST_CASE("scatter command: what it says and writes") {
  const ScatterFolder folder;
  const ProgramOutput output = folder.run({"--samples", "40", "--seed", "3", "-o", "out"});
  CHECK(output.exit_code == 0);
  CHECK(output.err.empty());
  CHECK(says(output.out, "40 samples, Latin hypercube, seed 3."));
  CHECK(says(output.out, "lognormal, variation 40 %, from place to place over 150 mm"));
  CHECK(says(output.out,
             "Probability of a short fill: 0 % (0 % to 8.8 % with 95 % confidence), 0 of "
             "40 samples.")); // 1 - 0.025^(1/40) = 0.088
  CHECK(says(output.out, "no substitute for a trial shot"));
  CHECK(!fs::exists(folder.record("out")));
  const Json json = json_of(read_file(folder.path() / "out/scatter.json"));
  CHECK(json["samples"].size() == 40);
  CHECK(json["inputs"].size() == 2);
  CHECK(json["inputs"][1]["law"] == "gamma");
  CHECK(json["as_it_is"]["fill_time_s"].get<double>() > 0);
  CHECK(lines_of(folder.path() / "out/scatter.csv") == 41);
  CHECK(says(read_file(folder.path() / "out/scatter.vtu"), "late_probability"));
}

TEST_CASE("scatter command: what may stay dry is told") {
  const ScatterFolder folder;
  const ProgramOutput output = folder.run({"--samples", "4", "--allow", "2 mL", "-o", "out"});
  CHECK(output.exit_code == 0);
  CHECK(says(output.out, "Up to 2.00 mL of pores may stay dry with their air shut in: 0 samples "
                         "count as filled with that."));
  const Json json = json_of(read_file(folder.path() / "out/scatter.json"));
  CHECK(json["may_stay_dry_m3"].get<double>() == doctest::Approx(2e-6));
  CHECK(json["samples"][0]["left_dry_m3"] == 0.0);
}

TEST_CASE("scatter command: where all air is let out no probability of a dry spot is told") {
  const ScatterFolder folder(plain_region, "[cavity]\nsealed_air = false\n" + usual_scatter);
  const ProgramOutput output = folder.run({"-o", "out"});
  CHECK(output.exit_code == 0);
  const std::string air =
      "Air that is shut in is not computed: a place without a vent may stay dry.";
  CHECK(says(output.out, air + "\n"));
  CHECK(says(output.out, "Probability of a short fill"));
  const std::string page = read_file(folder.path() / "out/scatter.html");
  CHECK(says(page, "<p>No place stayed dry in any sample. " + air + "</p>")); // never without it
  CHECK(!says(output.out, "No place stayed dry"));
  for (const std::string& text : {output.out, page}) {
    CHECK(!says(text, "Probability of a dry spot"));
  }
  const Json json = json_of(read_file(folder.path() / "out/scatter.json"));
  CHECK(json["probabilities"]["dry_spot"].is_null());
  CHECK(json["probabilities"]["short_fill"].is_object());
}

TEST_CASE("scatter command: without a word in the case the permeability scatters as published") {
  const ScatterFolder folder(plain_region, "");
  const ProgramOutput output = folder.run({"--samples", "10", "-o", "out"});
  CHECK(output.exit_code == 0);
  CHECK(says(output.out, "permeability of strip  gamma, variation 44 % *\n  * default: law after "
                         "Bodaghi, Yasaei & Correia 2016; variation of woven fabric, from "
                         "laboratory to laboratory: May et al. 2019\n"));
}

TEST_CASE("scatter command: the same bytes with 1, 2 and 3 threads") {
  const ScatterFolder folder;
  std::vector<std::string> results;
  for (const char* threads : {"1", "2", "3"}) {
    CHECK(folder.run({"-o", threads, "--threads", threads, "--quiet"}).exit_code == 0);
    results.push_back(folder.files_of(threads));
  }
  CHECK(results[0] == results[1]);
  CHECK(results[0] == results[2]);
  CHECK(folder.run({"-o", "other", "--seed", "2", "--quiet"}).exit_code == 0);
  CHECK(folder.files_of("other") != results[0]);
}

TEST_CASE("scatter command: killed or interrupted, it goes on and ends with the same bytes") {
  const ScatterFolder folder(plain_region, usual_scatter + "temperature = { deviation = \"?\" }\n");
  CHECK(folder.run({"-o", "none"}).exit_code == 2); // "?" is refused before anything runs
  CHECK(!fs::exists(folder.path() / "none"));
  const ScatterFolder whole(plain_region, "[scatter]\nsamples = 150\n");
  REQUIRE(whole.run({"-o", "whole", "--quiet"}).exit_code == 0);
  const std::string expected = whole.files_of("whole");
  REQUIRE(cut_off(whole, "killed", SIGKILL));
  const auto done = lines_of(whole.record("killed")) - 1;
  CHECK(done >= 5);
  CHECK(done < 151);
  const ProgramOutput again = whole.run({"-o", "killed"});
  CHECK(again.exit_code == 0);
  CHECK(
      says(again.err, "Going on: " + std::to_string(done) + " of 151 fillings were done before."));
  CHECK(whole.files_of("killed") == expected);
  REQUIRE(cut_off(whole, "interrupted", SIGINT));
  const Json partial = json_of(read_file(whole.path() / "interrupted/scatter.json"));
  CHECK(partial["samples_done"].get<int>() < 150);
  CHECK(partial["samples_wanted"] == 150);
  CHECK(says(read_file(whole.path() / "stdout.txt"), "Not all samples are done"));
  CHECK(whole.run({"-o", "interrupted", "--quiet"}).exit_code == 0);
  CHECK(whole.files_of("interrupted") == expected);
}

TEST_CASE("scatter command: a record of other input is refused and kept") {
  const ScatterFolder folder(plain_region, "[scatter]\nsamples = 150\n");
  REQUIRE(cut_off(folder, "out", SIGINT));
  const std::string partial = folder.files_of("out");
  const std::string before = read_file(folder.record("out"));
  const ProgramOutput output = folder.run({"-o", "out", "--seed", "5"});
  CHECK(output.exit_code == 2);
  CHECK(says(output.err, "scatter-runs.jsonl:1: seed: found \"1\", expected \"5\""));
  write_file(folder.path() / "strip.toml", read_file(folder.path() / "strip.toml") + "# more\n");
  CHECK(says(folder.run({"-o", "out"}).err, "scatter-runs.jsonl:1: case: found "));
  CHECK(read_file(folder.record("out")) == before);
  CHECK(folder.files_of("out") == partial);
}

TEST_CASE("scatter command: a damaged record is refused, and what is there stays") {
  const ScatterFolder folder(plain_region, "[scatter]\nsamples = 150\n"); // nodes 0 to 104
  REQUIRE(cut_off(folder, "out", SIGINT));
  const std::string partial = folder.files_of("out");
  const std::string record = read_file(folder.record("out"));
  struct Damage {
    std::string number, values, late, message;
  };
  const std::vector<Damage> damages = {
      {"3", "1.0", "105,1", ": run 3: found node 105, expected a whole number from 0 to 104"},
      {"3", "1.0", "100,6", ": run 3: found 6 nodes from node 100 on, expected ranges of nodes"},
      {"3", "1.0", "3,1e300", ": run 3: found 1e+300 nodes from node 3 on, expected"},
      {"3", "1.0", "5,2,6,1", ": run 3: found 1 nodes from node 6 on, expected"},
      {"3", "1.0", "5", ": run 3: "},
      {"3", "1.0,1.0", "", ": run 3: found 2 values, expected 1, one of each input that scatters"},
      {"151", "1.0", "", ": run 151: expected a number from 0 to 150, as there are samples"},
  };
  for (const Damage& damage : damages) {
    const std::string damaged =
        record + R"({"run":)" + damage.number +
        R"(,"result":{"verdict":"short","reason":"trapped air","error":"","values":[)" +
        damage.values +
        R"(],"fill_time_s":null,"end_time_s":1.0,"filled_fraction":0.5,)"
        R"("peak_head_pressure_pa":0.0,"end_head_pressure_pa":0.0,)"
        R"("peak_opening_force_n":null,"dry_spots":0,"left_dry_m3":0.0,"dry_nodes":[],"late_nodes":[)" +
        damage.late + "]}}\n";
    write_file(folder.record("out"), damaged);
    const ProgramOutput output = folder.run({"-o", "out"});
    CAPTURE(output.err);
    CHECK(output.exit_code == 2);
    CHECK(says(output.err, "scatter-runs.jsonl" + damage.message));
    CHECK(read_file(folder.record("out")) == damaged);
    CHECK(folder.files_of("out") == partial);
  }
}

TEST_CASE("scatter command: a sample that found no memory is tried again") {
  const ScatterFolder folder(plain_region, "[scatter]\nsamples = 150\n");
  REQUIRE(folder.run({"-o", "whole", "--quiet"}).exit_code == 0);
  REQUIRE(cut_off(folder, "out", SIGKILL));
  const auto done = lines_of(folder.record("out")) - 1;
  write_file(
      folder.record("out"),
      read_file(folder.record("out")) +
          R"({"run":150,"result":{"verdict":"failed","reason":"","error":"out of memory",)"
          R"("values":[1.0],"fill_time_s":null,"end_time_s":0.0,"filled_fraction":0.0,)"
          R"("peak_head_pressure_pa":0.0,"end_head_pressure_pa":0.0,)"
          R"("peak_opening_force_n":null,"dry_spots":0,"left_dry_m3":0.0,"dry_nodes":[],"late_nodes":[]}})"
          "\n");
  const ProgramOutput again = folder.run({"-o", "out"});
  CHECK(again.exit_code == 0);
  CHECK(
      says(again.err, "Going on: " + std::to_string(done) + " of 151 fillings were done before."));
  CHECK(folder.files_of("out") == folder.files_of("whole"));
  CHECK(!fs::exists(folder.record("out")));
}

TEST_CASE("scatter command: samples that cannot be computed are told, the others counted") {
  const ScatterFolder folder(
      packed_region, "[scatter]\nsamples = 20\nfibre_volume_fraction = { variation = 0.2 }\n");
  const ProgramOutput output = folder.run({"-o", "out", "--threads", "2"});
  CHECK(output.exit_code == 3);
  const Json json = json_of(read_file(folder.path() / "out/scatter.json"));
  const auto failed = std::ranges::count_if(json["samples"], [](const Json& sample) {
    return sample["verdict"] == "failed" &&
           sample["error"] == "the fibres find no room in region strip";
  });
  // Vf 0.75; hexagonal packing ends at 0.9069, a factor of 1.209: beyond 1.046 deviations, 14.8 %
  // of the (cut) normal law, 2.95 of 20 strata.
  CHECK(failed >= 2);
  CHECK(failed <= 4);
  CHECK(json["samples_computed"].get<long>() == 20 - failed);
  CHECK(says(output.out, "could not be computed and are left out of all figures:"));
}

TEST_CASE("scatter command: wrong options") {
  const ScatterFolder folder;
  const auto refusal = [&](std::vector<std::string> more) {
    const ProgramOutput output = folder.run(std::move(more));
    CHECK(output.exit_code == 2);
    return output.err;
  };
  CHECK(says(refusal({"--samples", "0"}),
             "--samples: found \"0\", expected a whole number from 1 to 100000"));
  CHECK(says(refusal({"--samples", "1e3"}), "--samples: found \"1e3\""));
  CHECK(says(refusal({"--allow", "0 mL"}), "--allow: found \"0 mL\", expected a volume above"));
  CHECK(says(refusal({"--allow", "3 mm"}), "--allow: "));
  CHECK(says(refusal({"--seed", "0"}),
             "--seed: found \"0\", expected a whole number from 1 to 2147483647"));
  CHECK(says(refusal({"--threads", "0"}), "--threads: found \"0\""));
  CHECK(says(refusal({"strip.toml"}), "scatter: found 2 cases, expected one"));
  CHECK(says(refusal({"--frames", "3"}), "scatter has no option --frames"));
  CHECK(!fs::exists(folder.path() / "strip.scatter"));
}

#ifdef TIDEMARK_MPIRUN

namespace {

/// The exit code of the command under mpirun; its words go to files in the folder. The variables
/// let Open MPI run as root and on fewer cores than processes.
int run_on(int processes, const ScatterFolder& folder, const std::string& more) {
  const std::string line = "cd '" + folder.path().string() +
                           "' && OMPI_ALLOW_RUN_AS_ROOT=1 OMPI_ALLOW_RUN_AS_ROOT_CONFIRM=1 "
                           "OMPI_MCA_rmaps_base_oversubscribe=1 " TIDEMARK_MPIRUN " -n " +
                           std::to_string(processes) +
                           " " TIDEMARK_PROGRAM " scatter strip.toml --steps 10 " + more +
                           " > out.txt 2> err.txt";
  const int status = std::system(line.c_str());
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

} // namespace

TEST_CASE("scatter command: the same bytes with 1, 2 and 3 processes as without MPI") {
  const ScatterFolder folder;
  REQUIRE(folder.run({"-o", "alone", "--quiet"}).exit_code == 0);
  const std::string expected = folder.files_of("alone");
  for (const int processes : {1, 2, 3}) {
    CAPTURE(processes);
    const std::string out = std::to_string(processes);
    CHECK(run_on(processes, folder, "-o " + out) == 0);
    CHECK(folder.files_of(out) == expected);
    const std::string told = read_file(folder.path() / "out.txt");
    CHECK(says(told, "25 samples, Latin hypercube"));
    CHECK(told.find("25 samples,") == told.rfind("25 samples,")); // one process tells
  }
}

TEST_CASE("scatter command: processes go on where another run was killed, and record failures") {
  const ScatterFolder folder(
      packed_region, "[scatter]\nsamples = 60\nfibre_volume_fraction = { variation = 0.2 }\n");
  REQUIRE(folder.run({"-o", "alone", "--quiet"}).exit_code == 3);
  REQUIRE(cut_off(folder, "killed", SIGKILL));
  CHECK(run_on(3, folder, "-o killed") == 3);
  CHECK(folder.files_of("killed") == folder.files_of("alone"));
  CHECK(says(read_file(folder.path() / "out.txt"), "the fibres find no room in region strip"));
}

TEST_CASE("scatter command: wrong input ends all processes with one message") {
  const ScatterFolder folder(plain_region, "[scatter]\nsamples = \"many\"\n");
  CHECK(run_on(3, folder, "") == 2);
  const std::string told = read_file(folder.path() / "err.txt");
  CHECK(says(told, "scatter.samples: found \"many\""));
  CHECK(told.find("scatter.samples") == told.rfind("scatter.samples"));
  const ScatterFolder sound;
  CHECK(run_on(2, sound, "--threads 2") == 2);
  CHECK(says(read_file(sound.path() / "err.txt"), "scatter: found --threads with 2 processes"));
}

#endif

TEST_CASE("scatter command: the page is the same each time and can be left out") {
  const ScatterFolder folder;
  REQUIRE(folder.run({"--samples", "5", "-o", "out", "--threads", "1"}).exit_code == 0);
  const fs::path file = folder.path() / "out" / "scatter.html";
  const std::string page = read_file(file);
  CHECK(says(page, "Probability of a short fill: 0 % ("));
  CHECK(says(page, "<th scope=\"row\">permeability of strip</th>"));
  CHECK(says(page, "lognormal, variation 40 %, from place to place over 150 mm"));
  REQUIRE(folder.run({"--samples", "5", "-o", "out", "--threads", "2"}).exit_code == 0);
  CHECK(read_file(file) == page);
  const ProgramOutput without = folder.run({"--samples", "5", "-o", "out", "--no-report"});
  CHECK(!fs::exists(file)); // that of the run before goes
  CHECK(!says(without.out, "scatter.html"));
}
