// The program as a user starts it. "whole chain" marks the tests that need the case file and mesh
// readers and the solver as well.
#include "io/folder_lock.hpp"
#include "io/written_files.hpp"
#include "tests/support/json_text.hpp"
#include "tests/support/program.hpp"
#include "tests/support/says.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <regex>
#include <sstream>
#include <thread>

using namespace tidemark;
namespace fs = std::filesystem;

namespace {

ProgramOutput run(const std::vector<std::string>& arguments) {
  const TemporaryFolder folder;
  return run_program(folder.path(), arguments);
}

/// A strip 1 m x 0.1 m of 20 x 2 squares, with lines "inlet" (x = 0) and "outlet" (x = 1 m), in mm.
std::string strip_mesh() {
  const int along = 20;
  const int across = 2;
  const auto node = [&](int i, int j) { return std::to_string(j * (along + 1) + i + 1); };
  std::ostringstream text;
  text << "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$PhysicalNames\n3\n1 1 \"inlet\"\n1 2 "
          "\"outlet\"\n2 3 \"skin\"\n$EndPhysicalNames\n$Nodes\n"
       << (along + 1) * (across + 1) << "\n";
  for (int j = 0; j <= across; ++j) {
    for (int i = 0; i <= along; ++i) {
      text << node(i, j) << " " << 50 * i << " " << 50 * j << " 0\n";
    }
  }
  text << "$EndNodes\n$Elements\n" << 2 * across + along * across << "\n";
  int label = 0;
  for (int j = 0; j < across; ++j) {
    text << ++label << " 1 2 1 1 " << node(0, j) << " " << node(0, j + 1) << "\n";
    text << ++label << " 1 2 2 2 " << node(along, j) << " " << node(along, j + 1) << "\n";
    for (int i = 0; i < along; ++i) {
      text << ++label << " 3 2 3 3 " << node(i, j) << " " << node(i + 1, j) << " "
           << node(i + 1, j + 1) << " " << node(i, j + 1) << "\n";
    }
  }
  text << "$EndElements\n";
  return text.str();
}

/// With 1 bar over 1 m the strip fills in mu phi L^2 / (2 K dp) = 0.2 * 0.8 / (2e-9 * 1e5) = 800 s
/// (1-D filling at constant pressure, a textbook formula; here worked out by hand).
std::string strip_case() {
  return "title = \"Strip\"\n"
         "temperature = \"21 degC\"\n"
         "[part]\nmesh = \"strip.msh\"\nmesh_unit = \"mm\"\n"
         "[[region]]\nname = \"skin\"\ngroups = [\"skin\"]\nthickness = \"4 mm\"\n"
         "permeability = [\"1e-9 m2\", \"1e-9 m2\"]\nporosity = 0.8\ndirection = [1, 0, 0]\n"
         "[resin]\nviscosity = \"200 mPa.s\"\ndensity = \"1100 kg/m3\"\n"
         "[injector]\npressure_cap = \"1 bar\"\n"
         "[[gate]]\nname = \"G1\"\ngroup = \"inlet\"\n"
         "[[vent]]\nname = \"V1\"\ngroup = \"outlet\"\npressure = \"0 bar\"\n"
         "[cavity]\npressure = \"0 bar\"\n";
}

void write_strip(const fs::path& folder) {
  write_file(folder / "strip.msh", strip_mesh());
  write_file(folder / "strip.toml", strip_case());
}

/// What differs between two runs of one case by permission: wall time and memory.
std::string without_cost(const std::string& summary) {
  return std::regex_replace(summary, std::regex("\"(wall_s|peak_memory_bytes)\": [^,\\n]*"), "");
}

/// Waits for a file of a running program; false after half a minute.
bool appears(const fs::path& file) {
  for (int trial = 0; trial < 3000; ++trial) {
    if (fs::exists(file)) {
      return true;
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  return false;
}

} // namespace

TEST_CASE("command line: help, with an example on every command") {
  for (const std::vector<std::string>& arguments : {std::vector<std::string>{"--help"},
                                                    {"fill", "--help"},
                                                    {"compare", "--help"},
                                                    {"gates", "--help"},
                                                    {"window", "--help"},
                                                    {"check", "-h"},
                                                    {"start", "--help"}}) {
    const ProgramOutput output = run(arguments);
    CHECK(output.exit_code == 0);
    CHECK(says(output.out, "Example:\n  tidemark "));
    CHECK(output.err.empty());
  }
  CHECK(says(run({"fill", "--help"}).out, "--time-limit"));
  CHECK(!says(run({"check", "--help"}).out, "--frames"));
}

TEST_CASE("command line: the version") {
  const ProgramOutput output = run({"--version"});
  CHECK(output.exit_code == 0);
  CHECK(std::regex_match(output.out, std::regex("tidemark [0-9]+\\.[0-9]+\\.[0-9]+\n")));
}

TEST_CASE("command line: mistakes are exit code 2, with the nearest known word") {
  const std::vector<std::pair<std::vector<std::string>, std::string>> mistakes = {
      {{},
       "error: no command given; there are fill, compare, sheet, gates, vents, window, scatter, "
       "check, "
       "start"},
      {{"fil", "a.toml"}, "error: unknown command \"fil\"; did you mean fill?"},
      {{"xyzzy"},
       "error: unknown command \"xyzzy\"; there are fill, compare, sheet, gates, vents, window, "
       "scatter, "
       "check, start"},
      {{"help"}, "error: unknown command \"help\"; tidemark --help tells the commands"},
      {{"fill", "a.toml", "-o", ""}, "error: --output: found \"\", expected the name of a folder"},
      {{"start", "a.msh", "-o", ""}, "error: --output: found \"\", expected the name of a file"},
      {{"start", "a.toml"}, "error: a.toml: is named like a case file, expected a mesh; tidemark"},
      {{"fill"}, "error: fill: no case file given"},
      {{"fill", "a.toml", "--fames", "3"}, "error: unknown option --fames; did you mean --frames?"},
      {{"fill", "a.toml", "--frame", "3"}, "did you mean --frames?"}, // no silent completion
      {{"fill", "a.toml", "--out", "x"}, "unknown option --out; did you mean --output (-o)?"},
      {{"fill", "a.toml", "-out", "x"}, "unknown option -out; did you mean --output (-o)?"},
      {{"fill", "a.toml", "-out=x"}, "unknown option -out; did you mean --output (-o)?"},
      {{"fill", "a.toml", "-output=x"}, "unknown option -output; did you mean --output (-o)?"},
      {{"fill", "a.toml", "-outputs", "x"}, "unknown option -outputs; did you mean --output (-o)?"},
      {{"fill", "a.toml", "-outdir", "x"}, "unknown option -outdir; did you mean --output (-o)?"},
      {{"fill", "a.toml", "-overwritten"}, "unknown option -overwritten; did you mean --overwrite"},
      {{"fill", "a.toml", "-o=x"},
       "error: found \"-o=x\", expected -o x or --output x: no equals sign behind a single letter"},
      {{"fill", "a.toml", "-o="}, "found \"-o=\", expected -o DIR or --output DIR"},
      {{"gates", "-o=my out", "a.toml"}, "expected -o \"my out\" or --output \"my out\""},
      {{"start", "a.msh", "-o="}, "found \"-o=\", expected -o FILE or --output FILE"},
      {{"fill", "a.toml", "-h=x"}, "found \"-h=x\", expected -h or --help: no equals sign"},
      {{"window", "a.toml", "--flows", "1", "2"}, "unknown option --flows; did you mean --flow?"},
      {{"vents", "a.toml", "--cap", "0 bar", "1 bar"},
       "vents has no option --cap (window has it); it has --own"},
      {{"check", "a.toml", "--what"},
       "unknown option --what; there are --quiet, --help, --version"},
      {{"check", "a.toml", "--frames", "3"},
       "check has no option --frames (fill, compare have it)"},
      {{"fill", "a.toml", "--frames"}, "error: the required argument for option '--frames'"},
      {{"fill", "a.toml", "--frames", "3x"}, "error: --frames: found \"3x\", expected a whole"},
      {{"fill", "a.toml", "--frames=-1"}, "expected a whole number from 0 to 9999"},
      {{"fill", "a.toml", "--frames", "99999999999999"}, "expected a whole number from 0 to 9999"},
      {{"fill", "a.toml", "--steps", "0"}, "expected a whole number from 1 to"},
      {{"fill", "a.toml", "--steps", "3", "--steps", "4"}, "more than once"},
      {{"fill", "a.toml", "--time-limit", "30"}, "error: --time-limit: "},
      {{"fill", "a.toml", "--time-limit", "2 bar"}, "error: --time-limit: "},
      {{"fill", "a.toml", "--time-limit", "0 s"}, "expected a time above zero"},
      {{"fill", "a.toml", "--view", "1, 2"}, "expected three numbers, not all zero"},
      {{"fill", "a.toml", "--view", "0 0 0"}, "error: --view: found \"0 0 0\", expected three"},
      {{"fill", "a.toml", "--view", "1,0,0", "--no-pictures"}, "does not go with --no-pictures"},
      {{"check", "a.toml", "--no-pictures"}, "check has no option --no-pictures"},
      {{"fill", "a.toml", "./a.toml"}, "error: a.toml and ./a.toml would write to the same folder"},
      {{"fill", "x/a.toml", "y/a.toml", "-o", "out"}, "would write to the same folder, out/a"},
  };
  for (const auto& [arguments, message] : mistakes) {
    const ProgramOutput output = run(arguments);
    CAPTURE(message);
    CAPTURE(output.err);
    CHECK(output.exit_code == 2);
    CHECK(says(output.err, message));
    CHECK(output.out.empty());
  }
}

TEST_CASE("command line: a case file that is not there is exit code 4") {
  const TemporaryFolder folder;
  for (const char* command : {"fill", "check"}) {
    const ProgramOutput output = run_program(folder.path(), {command, "none.toml"});
    CHECK(output.exit_code == 4);
    CHECK(output.err.starts_with("error: "));
    CHECK(says(output.err, "none.toml"));
  }
  CHECK(!fs::exists(folder.path() / "none.out"));
}

TEST_CASE("command line: a mesh in place of a case") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.msh", strip_mesh());
  for (const char* command : {"check", "fill", "window"}) {
    const ProgramOutput output = run_program(folder.path(), {command, "strip.msh"});
    CHECK(output.exit_code == 2);
    CHECK(says(output.err, "error: strip.msh: is named like a mesh, expected a case file; tidemark "
                           "start strip.msh writes a first one"));
  }
}

TEST_CASE("command line: of several cases none is run if one cannot be opened") {
  const TemporaryFolder folder;
  write_file(folder.path() / "strip.msh", strip_mesh());
  write_file(folder.path() / "strip.toml", strip_case());
  const ProgramOutput output =
      run_program(folder.path(), {"fill", "strip.toml", "none.toml", "-o", "out"});
  CHECK(output.exit_code == 4);
  CHECK(says(output.err, "error: none.toml: cannot be opened: "));
  CHECK(says(output.err, "error: none of the 2 cases was run\n"));
  CHECK(!fs::exists(folder.path() / "out"));
  CHECK(run_program(folder.path(), {"check", "strip.toml", "none.toml"}).out.starts_with("Strip"));
}

TEST_CASE("whole chain: fill leaves alone what it did not write, and another run's folder") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const auto run = [&] {
    return run_program(folder.path(), {"fill", "strip.toml", "--no-pictures", "--frames", "0"});
  };
  fs::create_directory(folder.path() / "strip.out");
  write_file(folder.path() / "strip.out" / "report.html", "mine");
  const ProgramOutput refused = run();
  CHECK(refused.exit_code == 4);
  CHECK(says(refused.err,
             "strip.out: found report.html, not on the list of files tidemark wrote there"));
  CHECK(read_file(folder.path() / "strip.out" / "report.html") == "mine");
  fs::remove(folder.path() / "strip.out" / "report.html");
  {
    const FolderLock other(folder.path() / "strip.out", "fill hood.toml");
    const ProgramOutput late = run();
    CHECK(late.exit_code == 4);
    CHECK(says(late.err, "another run of tidemark writes there: fill hood.toml, process "));
    CHECK(!fs::exists(folder.path() / "strip.out" / "summary.json"));
  }
  CHECK(run().exit_code == 0);
  CHECK(run().exit_code == 0); // again, over its own files
  CHECK(!fs::exists(lock_file(folder.path() / "strip.out")));
}

TEST_CASE("whole chain: each command spares what it did not write, and a folder in use") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  struct Trial {
    std::vector<std::string> arguments;
    std::string folder, file;
  };
  const std::vector<Trial> trials = {
      {{"fill", "strip.toml"}, "strip.out", "front_0003.vtu"},
      {{"sheet", "strip.toml"}, "strip.out", "setup-sheet.md"},
      {{"compare", "strip.toml", "--try", "part.mesh_unit = cm"}, "strip.compare", "compare.json"},
      {{"compare", "strip.toml", "--try", "part.mesh_unit = cm", "--files"},
       "strip.compare/run-2",
       "report.html"},
      {{"gates", "strip.toml", "--radius", "10 mm"}, "strip.gates", "layout-9.toml"},
      {{"vents", "strip.toml"}, "strip.vents", "with-vents.toml"},
      {{"window", "strip.toml", "--flow", "1 L/min", "2 L/min"}, "strip.window", "window.csv"},
      {{"scatter", "strip.toml"}, "strip.scatter", "scatter.vtu"},
  };
  for (const Trial& trial : trials) {
    CAPTURE(trial.arguments[0]);
    const fs::path out = folder.path() / trial.folder;
    fs::remove_all(out);
    fs::create_directories(out);
    write_file(lock_file(out), "fill hood.toml, process 7\n"); // of a run that was killed
    write_file(out / trial.file, "mine");
    const ProgramOutput refused = run_program(folder.path(), trial.arguments);
    CHECK(refused.exit_code == 4);
    CHECK(says(refused.err,
               "error: " + trial.folder + ": found " + trial.file +
                   ", not on the list of files tidemark wrote there (.tidemark-files); this run "
                   "would replace it"));
    CHECK(read_file(out / trial.file) == "mine");
    CHECK(!fs::exists(lock_file(out)));
    fs::remove(out / trial.file);
    const FolderLock other(out, "fill hood.toml");
    const ProgramOutput late = run_program(folder.path(), trial.arguments);
    CHECK(late.exit_code == 4);
    CHECK(says(late.err, "error: " + trial.folder +
                             ": another run of tidemark writes there: fill hood.toml, process "));
    CHECK(std::distance(fs::directory_iterator(out), {}) == 1); // the lock
  }
}

TEST_CASE("whole chain: fill writes its files and prints the verdict") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const ProgramOutput output =
      run_program(folder.path(), {"fill", "strip.toml", "--no-pictures", "--frames", "5"});
  CAPTURE(output.err);
  CHECK(output.exit_code == 0);
  CHECK(says(output.out, "The part fills."));
  CHECK(says(output.out, "Written to strip.out: summary.json, history.csv, fill.vtu, report.html, "
                         "front.pvd"));
  CHECK(output.err.empty()); // no progress line into a file
  for (const char* name :
       {"summary.json", "history.csv", "fill.vtu", "report.html", "front.pvd", "front_0000.vtu"}) {
    CHECK(fs::exists(folder.path() / "strip.out" / name));
  }
  const auto summary = json_of(read_file(folder.path() / "strip.out" / "summary.json"));
  CHECK(summary["verdict"] == "filled");
  CHECK(summary["fill_time_s"].get<double>() == doctest::Approx(800).epsilon(0.03));
}

TEST_CASE("whole chain: fill lists its pictures, and says why there are none") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const fs::path picture = folder.path() / "strip.out" / "fill-time.png";
#ifdef TIDEMARK_EGL
  const ProgramOutput drawn = run_program(folder.path(), {"fill", "strip.toml", "--frames", "0"});
  CHECK(drawn.exit_code == 0);
  CHECK(drawn.err.empty()); // whatever the graphics driver says
  CHECK(says(drawn.out,
             "fill.vtu, report.html, fill-time.png, pressure.png, last-places.png, layout.png.\n"));
  CHECK(fs::exists(picture));
#endif
  // No driver is found where the loader of EGL is told to look. An old picture goes.
  setenv("__EGL_VENDOR_LIBRARY_FILENAMES", "/nonexistent", 1);
  const ProgramOutput none = run_program(folder.path(), {"fill", "strip.toml", "--frames", "0"});
  unsetenv("__EGL_VENDOR_LIBRARY_FILENAMES");
  CHECK(none.exit_code == 0);
  CHECK(std::regex_match(none.err, std::regex("No pictures: .*EGL.*\\.\n")));
  CHECK(says(none.out, "history.csv, fill.vtu, report.html.\n"));
  CHECK_FALSE(fs::exists(picture));

  const ProgramOutput unwanted =
      run_program(folder.path(), {"fill", "strip.toml", "--no-pictures"});
  CHECK(unwanted.exit_code == 0);
  CHECK(unwanted.err.empty());
  CHECK_FALSE(says(unwanted.out, ".png"));
  CHECK_FALSE(fs::exists(picture));
}

TEST_CASE("whole chain: no report if none is wanted, nor an old one") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  REQUIRE(run_program(folder.path(), {"fill", "strip.toml", "--frames", "0"}).exit_code == 0);
  REQUIRE(fs::exists(folder.path() / "strip.out" / "report.html"));
  const ProgramOutput output =
      run_program(folder.path(), {"fill", "strip.toml", "--frames", "0", "--no-report"});
  CHECK(output.exit_code == 0);
  CHECK(!says(output.out, "report.html"));
  CHECK(!fs::exists(folder.path() / "strip.out" / "report.html"));
  CHECK(fs::exists(folder.path() / "strip.out" / "summary.json"));
}

TEST_CASE("whole chain: the same run gives the same bytes") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  for (const char* name : {"one", "two"}) {
    REQUIRE(
        run_program(folder.path(), {"fill", "strip.toml", "--no-pictures", "-o", name, "--quiet"})
            .exit_code == 0);
  }
  for (const fs::directory_entry& entry : fs::directory_iterator(folder.path() / "one")) {
    const fs::path name = entry.path().filename();
    CAPTURE(name.string());
    if (entry.path() == written_list(folder.path() / "one")) {
      continue; // has a digest of the summary, wall time included
    }
    const std::string one = read_file(entry.path());
    const std::string two = read_file(folder.path() / "two" / name);
    CHECK((name == "summary.json" ? without_cost(one) == without_cost(two) : one == two));
  }
}

TEST_CASE("whole chain: --json prints the summary and nothing else, --quiet nothing") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const ProgramOutput json =
      run_program(folder.path(), {"fill", "strip.toml", "--no-pictures", "--json"});
  CHECK(json.out == read_file(folder.path() / "strip.out" / "summary.json"));
  CHECK(json_of(json.out)["verdict"] == "filled");
  const ProgramOutput quiet =
      run_program(folder.path(), {"fill", "strip.toml", "--no-pictures", "--quiet"});
  CHECK(quiet.exit_code == 0);
  CHECK((quiet.out + quiet.err).empty());
}

TEST_CASE("whole chain: a fill that ends short is exit code 1") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const ProgramOutput output =
      run_program(folder.path(), {"fill", "strip.toml", "--no-pictures", "--time-limit", "100 s"});
  CHECK(output.exit_code == 1);
  CHECK(says(output.out, "The part does not fill. The time limit"));
  const auto summary = json_of(read_file(folder.path() / "strip.out" / "summary.json"));
  CHECK(summary["reason"] == "time limit");
  CHECK(summary["end_time_s"].get<double>() == doctest::Approx(100));
}

TEST_CASE("whole chain: short by gel, and what would fill it") {
  // 800 s are needed and 400 s given; with 1 bar held there is no flow to raise.
  const TemporaryFolder folder;
  write_strip(folder.path());
  std::string text = strip_case();
  text.replace(text.find("[injector]"), 0, "gel_time = \"400 s\"\n");
  write_file(folder.path() / "strip.toml", text);
  const ProgramOutput output = run_program(folder.path(), {"fill", "strip.toml", "--no-pictures"});
  CHECK(output.exit_code == 1);
  CHECK(says(output.out, "The part does not fill. The resin gels before the part is full."));
  CHECK(says(output.out, "It fills if the resin gels no earlier than 13:"));
  const fs::path file = folder.path() / "strip.out" / "summary.json";
  auto summary = json_of(read_file(file));
  CHECK(summary["cure_search"]["gel_age_s"].get<double>() == doctest::Approx(800).epsilon(0.01));
  CHECK(summary["cure_search"]["runs"] == 1);
  const ProgramOutput plain =
      run_program(folder.path(), {"fill", "strip.toml", "--no-pictures", "--no-cure-search"});
  CHECK(plain.exit_code == 1);
  CHECK_FALSE(says(plain.out, "It fills if"));
  summary = json_of(read_file(file));
  CHECK(summary["cure_search"].is_null());
}

TEST_CASE("whole chain: a folder that cannot be written is exit code 4 before the run") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  write_file(folder.path() / "taken", "a file");
  const ProgramOutput output =
      run_program(folder.path(), {"fill", "strip.toml", "--no-pictures", "-o", "taken"});
  CHECK(output.exit_code == 4);
  CHECK(says(output.err, "error: taken: cannot be used as the output folder"));
  CHECK(read_file(folder.path() / "taken") == "a file");
}

TEST_CASE("whole chain: files of an earlier run do not outlive the next") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const auto run = [&](const std::string& frames) {
    return run_program(folder.path(), {"fill", "strip.toml", "--no-pictures", "--frames", frames});
  };
  CHECK(run("3").exit_code == 0);
  CHECK(fs::exists(folder.path() / "strip.out" / "front_0002.vtu"));
  write_file(folder.path() / "strip.out" / "notes.txt", "mine");
  CHECK(run("0").exit_code == 0);
  CHECK(!fs::exists(folder.path() / "strip.out" / "front_0002.vtu"));
  CHECK(!fs::exists(folder.path() / "strip.out" / "front.pvd"));
  CHECK(fs::exists(folder.path() / "strip.out" / "notes.txt"));
}

TEST_CASE("whole chain: wrong input is exit code 2, touches no files and spares the next case") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  write_file(folder.path() / "bad.toml", "titel = \"x\"\n");
  fs::create_directory(folder.path() / "bad.out");
  write_file(folder.path() / "bad.out" / "summary.json", "of an earlier run");
  const ProgramOutput output =
      run_program(folder.path(), {"fill", "bad.toml", "strip.toml", "--no-pictures"});
  CHECK(output.exit_code == 2);
  CHECK(output.err.starts_with("error: "));
  CHECK(read_file(folder.path() / "bad.out" / "summary.json") == "of an earlier run");
  CHECK(fs::exists(folder.path() / "strip.out" / "summary.json"));
  std::istringstream lines(output.err);
  for (std::string line; std::getline(lines, line);) {
    CHECK(line.starts_with("error: "));
  }
}

TEST_CASE("whole chain: check tells what is in a case and writes nothing") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const ProgramOutput output = run_program(folder.path(), {"check", "strip.toml"});
  CHECK(output.exit_code == 0);
  CHECK(says(output.out, "Mesh: 63 nodes, 0 triangles, 40 quadrilaterals."));
  CHECK(says(output.out, "Gate G1: 3 nodes around x 0.0 mm, y 50.0 mm, z 0.0 mm."));
  CHECK(says(output.out, "default"));
  CHECK(!fs::exists(folder.path() / "strip.out"));
}

TEST_CASE("whole chain: the input is never overwritten") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  REQUIRE(
      run_program(folder.path(), {"fill", "strip.toml", "--no-pictures", "-o", "out"}).exit_code ==
      0);
  const std::string mesh = read_file(folder.path() / "out" / "fill.vtu");
  std::string text = strip_case();
  text.replace(text.find("strip.msh"), 9, "out/fill.vtu");
  text.replace(text.find("\"mm\""), 4, "\"m\"");
  text.replace(text.find("groups = [\"skin\"]\n"), 18, "");
  text.replace(text.find("group = \"inlet\""), 15, "at = [0, 0, 0]");
  text.replace(text.find("group = \"outlet\""), 16, "at = [1, 0, 0]");
  write_file(folder.path() / "again.toml", text);
  const ProgramOutput output =
      run_program(folder.path(), {"fill", "again.toml", "--no-pictures", "-o", "out"});
  CAPTURE(output.err);
  CHECK(output.exit_code == 2);
  CHECK(says(output.err, "out/fill.vtu: lies in the output folder"));
  CHECK(read_file(folder.path() / "out" / "fill.vtu") == mesh);
}

TEST_CASE("whole chain: Ctrl-C leaves valid files of the steps done and says so") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const Program program(folder.path(),
                        {"fill", "strip.toml", "--no-pictures", "--steps", "100000"});
  const fs::path out = folder.path() / "strip.out";
  const bool has_begun = appears(out / "front.pvd");
  program.send(SIGINT);
  const ProgramOutput output = program.wait();
  REQUIRE(has_begun);
  CHECK(output.exit_code == 1);
  CHECK(says(output.out, "The run was interrupted before the part was full."));
  CHECK(says(output.err, "Interrupted: the files hold the steps done so far."));
  const auto summary = json_of(read_file(out / "summary.json"));
  CHECK(summary["reason"] == "interrupted");
  CHECK(says(read_file(folder.path() / "strip.out" / "report.html"), "was interrupted"));
  CHECK(summary["filled_fraction"].get<double>() < 1);
  CHECK(read_file(out / "front.pvd").ends_with("</VTKFile>\n"));
  CHECK(read_file(out / "fill.vtu").ends_with("</VTKFile>\n"));
  CHECK(says(read_file(out / "history.csv"), "\n"));
  for (const fs::directory_entry& entry : fs::directory_iterator(out)) {
    CHECK(entry.path().extension() != ".part");
  }
}

TEST_CASE("whole chain: sheet writes its two files and spares those of a filling") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  REQUIRE(
      run_program(folder.path(), {"fill", "strip.toml", "--no-pictures", "--quiet"}).exit_code ==
      0);
  const auto summary = json_of(read_file(folder.path() / "strip.out" / "summary.json"));
  const ProgramOutput output = run_program(folder.path(), {"sheet", "strip.toml"});
  CAPTURE(output.err);
  CHECK(output.exit_code == 0);
  CHECK(says(output.out, "The part fills. It takes about 13:"));
  CHECK(says(output.out, "Written to strip.out: setup-sheet.md, setup-sheet.html."));
  CHECK(output.err.empty());
  CHECK(fs::exists(folder.path() / "strip.out" / "summary.json"));
  const std::string sheet = read_file(folder.path() / "strip.out" / "setup-sheet.md");
  // The time of the summary; at constant pressure times go as 1 / K, so that 800 s becomes
  // 800 / 1.4 = 571 s and 800 x 1.4 = 1120 s (worked out by hand).
  CHECK(summary["fill_time_s"].get<double>() == doctest::Approx(800).epsilon(0.005));
  CHECK(says(sheet, "| 100 % | 13:20 min (9:3"));
  CHECK(says(sheet, " to 18:"));
  CHECK(says(sheet, "320 mL, 352 g")); // 1 m x 0.1 m x 4 mm x 0.8
  CHECK(says(read_file(folder.path() / "strip.out" / "setup-sheet.html"), "</html>\n"));
}

TEST_CASE("whole chain: a sheet for a part that does not fill forbids it, exit code 1") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  const ProgramOutput output =
      run_program(folder.path(), {"sheet", "strip.toml", "-o", "s", "--time-limit", "100 s"});
  CHECK(output.exit_code == 1);
  CHECK(says(output.out, "Do not inject as set:"));
  const std::string sheet = read_file(folder.path() / "s" / "setup-sheet.md");
  CHECK(says(sheet, "## DO NOT INJECT AS SET\n\n- The part does not fill. The time limit"));
  CHECK(!says(sheet, "Expected course"));
  CHECK(run_program(folder.path(), {"sheet", "none.toml"}).exit_code == 4);
  CHECK(run_program(folder.path(), {"sheet", "strip.toml", "--frames", "3"}).exit_code == 2);
}

TEST_CASE("whole chain: an interrupted sheet leaves none") {
  const TemporaryFolder folder;
  write_strip(folder.path());
  CHECK(run_program(folder.path(), {"sheet", "strip.toml", "--steps", "10"}).exit_code == 0);
  CHECK(fs::exists(folder.path() / "strip.out" / "setup-sheet.md"));
  const Program program(folder.path(), {"sheet", "strip.toml", "--steps", "100000"});
  for (int i = 0; i < 500 && fs::exists(folder.path() / "strip.out" / "setup-sheet.md"); ++i) {
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  program.send(SIGINT);
  const ProgramOutput output = program.wait();
  CHECK(output.exit_code == 1);
  CHECK(says(output.err, "Interrupted: no sheet was written."));
  CHECK(fs::is_empty(folder.path() / "strip.out"));
}
