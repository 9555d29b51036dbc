// The command vents as a user starts it.
#include "io/case_file.hpp"
#include "tests/support/json_text.hpp"
#include "tests/support/program.hpp"
#include "tests/support/says.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <cmath>
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

using namespace tidemark;
namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

/// A strip 1 m x 10 mm along x of 20 squares, in mm, with the line "middle" at x = 500.
std::string strip_mesh() {
  std::string text = "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$PhysicalNames\n1\n1 1 \"middle\"\n"
                     "$EndPhysicalNames\n$Nodes\n42\n";
  for (int i = 0; i < 42; ++i) {
    text += std::to_string(i + 1) + " " + std::to_string(50 * (i / 2)) + " " +
            std::to_string(10 * (i % 2)) + " 0\n";
  }
  text += "$EndNodes\n$Elements\n21\n1 1 2 1 1 21 22\n";
  for (int i = 0; i < 20; ++i) {
    const int a = 2 * i + 1;
    text += std::to_string(i + 2) + " 3 2 0 1 " + std::to_string(a) + " " + std::to_string(a + 2) +
            " " + std::to_string(a + 3) + " " + std::to_string(a + 1) + "\n";
  }
  return text + "$EndElements\n";
}

const std::string usual_vents =
    "[[vent]]\nname = \"V1\"\nat = [0, 0, 0]\npressure = \"0 bar\"\n"
    "[[vent]]\nname = \"V2\"\nat = [1000, 10, 0]\npressure = \"0 bar\"\n";

/// more: of the gate, a line each, or further gates.
void write_strip(const fs::path& folder, const std::string& vents = usual_vents,
                 const std::string& sealed = "true", const std::string& more = "") {
  write_file(folder / "strip.msh", strip_mesh());
  write_file(folder / "strip.toml",
             "title = \"Strip\"\n[part]\nmesh = \"strip.msh\"\nmesh_unit = \"mm\"\n[[region]]\n"
             "name = \"all\"\nthickness = \"4 mm\"\npermeability = \"2e-9 m2\"\nporosity = 0.8\n"
             "[resin]\nviscosity = \"200 mPa.s\"\n[injector]\npressure_cap = \"1 bar\"\n[[gate]]\n"
             "name = \"G1\"\ngroup = \"middle\"\n" +
                 more + vents + "[cavity]\npressure = \"0 bar\"\nsealed_air = " + sealed + "\n");
}

Json survey(const TemporaryFolder& folder, std::vector<std::string> arguments, int exit_code = 0) {
  arguments.insert(arguments.begin(), {"vents", "strip.toml"});
  const ProgramOutput output = run_program(folder.path(), arguments);
  CAPTURE(output.err);
  CHECK(output.exit_code == exit_code);
  return json_of(read_file(folder.path() / "strip.vents" / "vents.json"));
}

} // namespace

TEST_CASE("vents: one at each end of a strip, none can be spared, nor moved") {
  const TemporaryFolder folder;
  write_strip(folder.path(), "", "false");
  const ProgramOutput output = run_program(folder.path(), {"vents", "strip.toml"});
  CHECK(output.exit_code == 0);
  CHECK(says(output.out, "with 2 vents found by the search"));
  CHECK(says(output.out, "sealed_air = false"));
  const Json json = survey(folder, {});
  CHECK(json["vents_sought"] == true);
  const Json& vents = json["vents"];
  REQUIRE(vents.size() == 2);
  const double one = vents[0]["position_m"][0];
  const double other = vents[1]["position_m"][0];
  CHECK(std::abs(std::min(one, other)) <= 1e-12);
  CHECK(std::abs(std::max(one, other) - 1) <= 1e-12);
  for (const Json& vent : vents) {
    CHECK(vent["without"]["reason"] == "trapped air");
    CHECK(vent["without"]["may_be"] == false);
    // Boyle: the air of half the strip but for the half cell of the gate, 1 atm in the beginning,
    // at 1 bar more.
    const double dry = 0.475 * 0.01 * 0.004 * 0.8 * 101325 / 201325;
    CHECK(std::abs(vent["without"]["dry_volume_m3"].get<double>() / dry - 1) <= 2e-3);
    CHECK(std::abs(vent["nearest_short"]["distance_m"].get<double>() - 0.1) <= 1e-9);
  }
  // The case that is written fills with its vents; they stand where the search put them.
  const Case written = read_case(folder.path() / "strip.vents" / "with-vents.toml");
  CHECK(written.problem.vents.size() == 2);
  CHECK(written.problem.gates.front().nodes.size() == 2);
  CHECK(fs::exists(folder.path() / "strip.vents" / "vents.vtu"));
  const std::string page = read_file(folder.path() / "strip.vents" / "vents.html");
  CHECK(says(page, "with 2 vents found by the search"));
  CHECK(says(page, "vent_shuts_in"));
  run_program(folder.path(), {"vents", "strip.toml", "--reach", "0 mm", "--no-report"});
  CHECK_FALSE(fs::exists(folder.path() / "strip.vents" / "vents.html"));
  CHECK(says(read_file(folder.path() / "strip.vents" / "vents.csv"), "\nV2,"));
}

TEST_CASE("vents: those of the case, and what may stay dry") {
  const TemporaryFolder folder;
  write_strip(folder.path(), usual_vents + "[[vent]]\nname = \"V3\"\nat = [700, 0, 0]\npressure = "
                                           "\"0 bar\"\n");
  // Air shut in behind a vent 0.1 m before the end: 1.61 mL, of 0.15 m 2.42 mL.
  const Json json = survey(folder, {"--own", "--allow", "2 mL", "--threads", "2"});
  CHECK(json["vents_sought"] == false);
  CHECK(json["vents"][0]["without"]["may_be"] == false);
  CHECK(json["vents"][2]["name"] == "V3");
  CHECK(json["vents"][2]["without"]["verdict"] == "filled");
  CHECK(json["vents"][2]["nearest_short"].is_null());
  CHECK(std::abs(json["vents"][0]["may_move_m"].get<double>() - 0.1) <= 2e-3);
  CHECK(std::abs(json["vents"][0]["nearest_short"]["distance_m"].get<double>() - 0.15) <= 3e-3);
  CHECK(!fs::exists(folder.path() / "strip.vents" / "with-vents.toml"));
  const std::string first = read_file(folder.path() / "strip.vents" / "vents.json");
  survey(folder, {"--own", "--allow", "2 mL", "--threads", "1"});
  CHECK(read_file(folder.path() / "strip.vents" / "vents.json") == first);
}

TEST_CASE("vents: a gate that waits for a vent goes on waiting for it when others are left out") {
  const TemporaryFolder folder;
  // V3 at x = 700 is spare; the gate opens once V2 at the end is reached, when nothing is left.
  const std::string waiting =
      "[[gate]]\nname = \"G2\"\nat = [750, 0, 0]\nopens = \"when V2 is reached\"\n";
  write_strip(folder.path(),
              "[[vent]]\nname = \"V3\"\nat = [700, 0, 0]\npressure = \"0 bar\"\n" + usual_vents,
              "true", waiting);
  const Json json = survey(folder, {"--own", "--reach", "0 mm"});
  CHECK(json["trials"] == 2);
  CHECK(json["vents"][0]["without"]["verdict"] == "filled");
  CHECK(json["vents"][0]["awaited_by"].empty());
  CHECK(json["vents"][1]["without"]["reason"] == "trapped air");
  CHECK(json["vents"][2]["without"].is_null()); // without it the gate would wait for nothing
  CHECK(json["vents"][2]["awaited_by"] == Json{"G2"});
  const ProgramOutput output =
      run_program(folder.path(), {"vents", "strip.toml", "--own", "--reach", "0 mm"});
  CHECK(says(output.out, "gate G2 waits for it"));
}

TEST_CASE("vents: none are sought in place of one a gate waits for") {
  const std::string second = "[[gate]]\nname = \"G2\"\nat = [750, 0, 0]\n";
  const std::string moment = " = \"when V2 is reached\"\n";
  for (const auto& [key, more] : {std::pair<std::string, std::string>{"gate[G1].closes", "closes"},
                                  {"gate[G2].opens", second + "opens"}}) {
    CAPTURE(key);
    const TemporaryFolder folder;
    write_strip(folder.path(), usual_vents, "true", more + moment);
    const ProgramOutput output =
        run_program(folder.path(), {"vents", "strip.toml", "--reach", "0 mm"});
    CHECK(output.exit_code == 2);
    CHECK(says(output.err, "strip.toml: " + key +
                               ": found \"when V2 is reached\", expected a gate that waits for no "
                               "vent, or --own for the vents as they are"));
    CHECK(!fs::exists(folder.path() / "strip.vents"));
  }
}

TEST_CASE("vents: a command that was cut off goes on where it was, to the same bytes") {
  const TemporaryFolder folder;
  write_strip(folder.path(), "");
  const fs::path out = folder.path() / "strip.vents";
  survey(folder, {});
  CHECK(!fs::exists(out / "vents.runs"));
  const std::string whole = read_file(out / "vents.json");
  REQUIRE(fs::remove_all(out) > 0);
  // A program killed in the middle of one of its records: made from the lines of a whole record,
  // which stays where a file of the end cannot be written.
  fs::create_directories(out / ".tidemark-vents.json.part" / "in the way");
  CHECK(run_program(folder.path(), {"vents", "strip.toml"}).exit_code == 4);
  const std::string record = read_file(out / "vents.runs");
  fs::remove_all(out / ".tidemark-vents.json.part");
  std::size_t cut = 0;
  for (int line = 0; line < 9; ++line) { // in the search, and beyond
    cut = record.find('\n', cut) + 1;
    REQUIRE(cut > 0);
    write_file(out / "vents.runs", record.substr(0, cut + 3));
    survey(folder, {});
    CHECK(read_file(out / "vents.json") == whole);
    CHECK(!fs::exists(out / "vents.runs"));
  }
  CHECK(says(record, "{\"run\":2,\"result\":{\"vents\":[")); // each filling of the search
  // A record of other input is refused and stays.
  write_file(out / "vents.runs", record);
  const ProgramOutput other = run_program(folder.path(), {"vents", "strip.toml", "--steps", "50"});
  CHECK(other.exit_code == 2);
  CHECK(says(other.err, "vents.runs:1: steps: found \"100\", expected \"50\""));
  CHECK(read_file(out / "vents.runs") == record);
}

TEST_CASE("vents: a record with a node the mesh has not is refused, and what is there stays") {
  const TemporaryFolder folder;
  write_strip(folder.path(), ""); // nodes 0 to 41
  const fs::path out = folder.path() / "strip.vents";
  fs::create_directories(out / ".tidemark-vents.json.part" / "in the way");
  CHECK(run_program(folder.path(), {"vents", "strip.toml"}).exit_code == 4);
  const std::string record = read_file(out / "vents.runs");
  fs::remove_all(out / ".tidemark-vents.json.part");
  const std::string map = read_file(out / "vents.vtu");
  CHECK(!map.empty());
  for (const std::string key : {"\"next\":", "\"vents\":[", "\"fills\":[[", "\"shut_in\":["}) {
    CAPTURE(key);
    // The first of them that is not empty.
    std::size_t begin = record.find(key);
    while (begin != std::string::npos &&
           record.find_first_of("0123456789", begin) != begin + key.size()) {
      begin = record.find(key, begin + 1);
    }
    REQUIRE(begin != std::string::npos);
    begin += key.size();
    const std::string damaged =
        record.substr(0, begin) + "42" + record.substr(record.find_first_of(",}]", begin));
    write_file(out / "vents.runs", damaged);
    const ProgramOutput refused = run_program(folder.path(), {"vents", "strip.toml"});
    CHECK(refused.exit_code == 2);
    CHECK(says(refused.err, ": found node 42, expected a whole number from 0 to 41, one of the "
                            "mesh; remove the file to begin anew"));
    CHECK(read_file(out / "vents.runs") == damaged);
    CHECK(read_file(out / "vents.vtu") == map);
  }
}

TEST_CASE("vents: a part that is short with its vents is said to be, and nothing is moved") {
  const TemporaryFolder folder;
  write_strip(folder.path(), "[[vent]]\nname = \"V1\"\nat = [0, 0, 0]\npressure = \"0 bar\"\n");
  const Json json = survey(folder, {"--own"}, 1);
  CHECK(json["reason"] == "trapped air");
  CHECK(json["vents"][0]["ways"].empty());
  CHECK(json["vents"][0]["may_move_m"].is_null());
}

TEST_CASE("vents: a piece without a gate: the search is skipped, and what to do is said") {
  const TemporaryFolder folder;
  write_strip(folder.path(), "");
  std::string mesh = strip_mesh(); // without the square from x = 800 to 850
  const std::string square = "18 3 2 0 1 33 35 36 34\n";
  REQUIRE(says(mesh, square));
  mesh.replace(mesh.find(square), square.size(), "");
  mesh.replace(mesh.find("$Elements\n21\n"), 13, "$Elements\n20\n");
  write_file(folder.path() / "strip.msh", mesh);
  const ProgramOutput output = run_program(folder.path(), {"vents", "strip.toml"});
  CAPTURE(output.out);
  CHECK(output.exit_code == 1);
  CHECK(says(output.out, "The search for vents was skipped"));
  CHECK(says(output.out, "What to look at: a gate on each piece of the part, or a mesh whose "
                         "pieces are joined; where all gates close, how long they stay open.\n"));
  CHECK(!fs::exists(folder.path() / "strip.vents" / "with-vents.toml"));
}

TEST_CASE("vents: what is wrong is said before anything is written") {
  const TemporaryFolder folder;
  write_strip(folder.path(), "");
  const auto error_of = [&](std::vector<std::string> arguments) {
    arguments.insert(arguments.begin(), {"vents", "strip.toml"});
    const ProgramOutput output = run_program(folder.path(), arguments);
    CHECK(output.exit_code == 2);
    return output.err;
  };
  CHECK(says(error_of({"--own"}), "found no vent in strip.toml, expected one at least with --own"));
  CHECK(
      says(error_of({"--reach", "-1 mm"}), "--reach: found \"-1 mm\", expected a length of zero"));
  CHECK(says(error_of({"--allow", "0 mL"}), "--allow: found \"0 mL\", expected a volume above"));
  CHECK(says(error_of({"--allow", "3 mm"}), "--allow: "));
  CHECK(says(error_of({"--count", "2"}), "vents has no option --count"));
  CHECK(!fs::exists(folder.path() / "strip.vents"));
}
