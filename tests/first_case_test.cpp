// The command `start`: the case file it writes for a mesh, and what becomes of it when it is filled
// in. Areas and lengths are worked out by hand.
#include "io/first_case.hpp"
#include "tests/support/says.hpp"

#include "io/case_file.hpp"
#include "io/case_start.hpp"
#include "io/mesh_reader.hpp"
#include "io/toml_text.hpp"
#include "io/written_files.hpp"
#include "mesh/error.hpp"
#include "tests/support/program.hpp"
#include "tests/support/small_case.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>
#include <toml++/toml.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <set>
#include <sstream>
#include <string>
#include <vector>

using namespace tidemark;
namespace fs = std::filesystem;

namespace {

std::vector<fs::path> all_meshes() {
  std::vector<fs::path> meshes;
  const fs::path root = TIDEMARK_SOURCE_DIR;
  for (const fs::path& folder : {root / "cases", root / "tests/meshes"}) {
    for (const auto& entry : fs::recursive_directory_iterator(folder)) {
      const std::set<std::string> formats = {".msh", ".vtk", ".vtu", ".vtp",
                                             ".stl", ".obj", ".ply"};
      if (formats.contains(entry.path().extension().string())) {
        meshes.push_back(entry.path());
      }
    }
  }
  std::ranges::sort(meshes);
  return meshes;
}

/// [x, y, z] in mesh units with all digits.
std::string point_text(const Vector3& point) {
  std::ostringstream text;
  text.precision(17);
  text << std::showpoint << "[" << point.x() << ", " << point.y() << ", " << point.z() << "]";
  return text.str();
}

/// A line `key = "?"` with a sensible value. Gates are put to one place, vents to another.
std::string filled_line(const std::string& line, const std::string& place, bool is_vent) {
  const std::map<std::string, std::string> values = {
      {"mesh_unit", "\"mm\""},      {"thickness", "\"4 mm\""},     {"permeability", "\"2e-9 m2\""},
      {"porosity", "0.8"},          {"viscosity", "\"0.2 Pa.s\""}, {"density", "\"1100 kg/m3\""},
      {"gel_time", "\"25 min\""},   {"flow_rate", "\"1 L/min\""},  {"pressure_cap", "\"1 bar\""},
      {"pressure", "\"-0.5 bar\""}, {"radius", "\"6 mm\""}};
  const std::string key = line.substr(0, line.find(" = \"?\""));
  if (key == "group" || key == "at") {
    return "at = " + place + (is_vent ? "  # vent" : "  # gate");
  }
  REQUIRE(values.contains(key));
  return key + " = " + values.at(key);
}

/// The case with every "?" outside comments filled in.
std::string filled_in(const std::string& text, const ShellMesh& mesh) {
  const Vector3 start = mesh.positions[NodeId(0)];
  NodeId farthest(0);
  for (const NodeId node : mesh.positions.ids()) {
    if ((mesh.positions[node] - start).norm() > (mesh.positions[farthest] - start).norm()) {
      farthest = node;
    }
  }
  std::istringstream lines(text);
  std::string result;
  bool is_vent = false;
  for (std::string line; std::getline(lines, line);) {
    is_vent = is_vent || line == "[[vent]]";
    if (!line.starts_with("#") && says(line, " = \"?\"")) {
      line = filled_line(line, point_text(mesh.positions[is_vent ? farthest : NodeId(0)]), is_vent);
    }
    result += line + "\n";
  }
  return result;
}

/// How many values the case lacks; there must be nothing else wrong with it.
std::size_t unfilled_of(const fs::path& case_file) {
  try {
    read_case(case_file);
  } catch (const InputError& error) {
    CHECK(error.unfilled() == error.findings().size());
    return error.unfilled();
  }
  return 0;
}

std::string started(const fs::path& mesh, const fs::path& case_file) {
  run_start(mesh, {case_file, false, true});
  return read_file(case_file);
}

/// Starts a case for a mesh, fills it in and reads it, with both of them in a folder that goes.
Case filled_case(const std::string& mesh_text, std::string& case_text) {
  const TemporaryFolder folder;
  write_file(folder.path() / "a.msh", mesh_text);
  case_text = started(folder.path() / "a.msh", folder.path() / "a.toml");
  const ShellMesh mesh = read_mesh(folder.path() / "a.msh", 1).mesh;
  write_file(folder.path() / "a.toml", filled_in(case_text, mesh));
  return read_case(folder.path() / "a.toml");
}

/// A row of squares with sides of 100, each in the physical group of its number.
std::string row_mesh(const std::vector<std::string>& names) {
  const std::size_t count = names.size();
  std::ostringstream text;
  text << "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$PhysicalNames\n" << count << "\n";
  for (std::size_t i = 0; i < count; ++i) {
    text << "2 " << i + 1 << " \"" << names[i] << "\"\n";
  }
  text << "$EndPhysicalNames\n$Nodes\n" << 2 * count + 2 << "\n";
  for (std::size_t i = 0; i <= count; ++i) {
    text << 2 * i + 1 << " " << 100 * i << " 0 0\n" << 2 * i + 2 << " " << 100 * i << " 100 0\n";
  }
  text << "$EndNodes\n$Elements\n" << count << "\n";
  for (std::size_t i = 0; i < count; ++i) {
    text << i + 1 << " 3 2 " << i + 1 << " 1 " << 2 * i + 1 << " " << 2 * i + 3 << " " << 2 * i + 4
         << " " << 2 * i + 2 << "\n";
  }
  text << "$EndElements\n";
  return text.str();
}

} // namespace

TEST_CASE("start: every mesh gets a case that wants nothing but its \"?\"") {
  const TemporaryFolder folder;
  const std::vector<fs::path> meshes = all_meshes();
  CHECK(meshes.size() >= 20);
  for (std::size_t i = 0; i < meshes.size(); ++i) {
    CAPTURE(meshes[i].string());
    const fs::path case_file = folder.path() / (std::to_string(i) + ".toml");
    const std::string text = started(meshes[i], case_file);
    const toml::table toml = toml::parse(text);
    const std::size_t regions = toml["region"].as_array()->size();
    // Unit; three of each region; three of the resin, two of the injector; the vent's pressure;
    // a place for each port, with a radius if the place is a point.
    const bool by_point = says(text, "\nat = \"?\"");
    CHECK(unfilled_of(case_file) == 1 + 3 * regions + 3 + 2 + 1 + (by_point ? 4 : 2));
    write_file(case_file, filled_in(text, read_mesh(meshes[i], 1).mesh));
    CHECK_NOTHROW(read_case(case_file));
  }
}

TEST_CASE("start: what it tells of a mesh") {
  // 30 by 20 in squares with sides of 10: "skin" has two of them, "core" four; "overlap" has half a
  // square of each.
  const std::string text =
      first_case_text(small_case::small_plate(), 1e-3, "plate", "../meshes/plate.msh");
  CHECK(says(text, "title = \"plate\"\n"));
  CHECK(says(text, "mesh = \"../meshes/plate.msh\"\n"));
  CHECK(says(text, "# 12 elements and 12 nodes in the box [0, 0, 0] to [30, 20, 0];\n"
                   "# area 600 square units"));
  CHECK(says(text, "name = \"skin\"\n# 4 elements, area 200 square units"));
  CHECK(says(text, "name = \"core\"\n# 8 elements, area 400 square units"));
  CHECK(says(text, "without a region of their own here:\n#   \"overlap\"\n"));
  CHECK(says(text, "#   \"port\": 1 point at [30, 10, 0]\n"));
  CHECK(says(text, "#   \"edge\": 2 lines, 20 units long, in the box [0, 0, 0] to [0, 20, 0]\n"));
  CHECK(says(text, "# Free edges of the mesh, 10 lines in 1 piece:\n"
                   "#   closed rim: 10 lines, 100 units long, in the box [0, 0, 0] to [30, 20, "
                   "0]\n"));
  CHECK(!says(text, "\"rest\""));
}

TEST_CASE("start: the closing direction proposed is the axis that shows most of the part") {
  ShellMesh mesh = small_case::small_plate(); // in the plane z = 0
  CHECK(says(first_case_text(mesh, 1e-3, "a", "a.msh"), "# closing_direction = [0, 0, 1] "));
  for (Vector3& position : mesh.positions) {
    position = Vector3(position.x(), 0, position.y());
  }
  CHECK(says(first_case_text(mesh, 1e-3, "a", "a.msh"), "# closing_direction = [0, 1, 0] "));
  for (Vector3& position : mesh.positions) {
    position = Vector3(0, position.x(), position.z());
  }
  CHECK(says(first_case_text(mesh, 1e-3, "a", "a.msh"), "# closing_direction = [1, 0, 0] "));
}

TEST_CASE("start: the unit is asked for, with what each would mean, and never set") {
  const std::string text = first_case_text(small_case::small_plate(), 1e-3, "a", "a.msh");
  // 30 is 0.03 m in mm, too small for a part; 0.3 m in cm, 30 m in m, 0.762 m in inches.
  CHECK(says(text, "# In cm the part would be 0.3 m in its largest extent, in m 30 m, in inch "
                   "0.762 m. Which unit is it?\nmesh_unit = \"?\""));
}

TEST_CASE("start: a mesh without groups, and one with elements in none") {
  ShellMesh mesh = small_case::small_plate();
  mesh.element_sets.pop_back();
  mesh.element_sets.pop_back();
  const std::string with_rest = first_case_text(mesh, 1e-3, "a", "a.msh");
  CHECK(says(with_rest, "groups = [\"skin\"]\n"));
  CHECK(says(with_rest, "name = \"rest\"\n# No groups: all that no other region takes, 8 elements, "
                        "area 400 square units"));
  mesh.element_sets.clear();
  mesh.node_sets.clear();
  mesh.line_sets.clear();
  const std::string without = first_case_text(mesh, 1e-3, "a", "a.msh");
  CHECK(says(without, "name = \"part\"\n# No groups"));
  CHECK(!says(without, "\ngroups"));
  CHECK(says(without, "\nat = \"?\""));
  CHECK(!says(without, "\ngroup = \"?\""));
}

TEST_CASE("start: a closed surface has no free edges") {
  ShellMesh mesh;
  for (const Vector3& corner :
       {Vector3(0, 0, 0), Vector3(1, 0, 0), Vector3(0, 1, 0), Vector3(0, 0, 1)}) {
    mesh.positions.push_back(corner);
  }
  for (const auto& [a, b, c] : {std::array{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {2, 0, 3}}) {
    mesh.elements.push_back({{NodeId(a), NodeId(b), NodeId(c), NodeId()}});
  }
  const std::string text = first_case_text(mesh, 1, "a", "a.msh");
  CHECK(says(text, "# The mesh has no free edges"));
  CHECK(!says(text, "race_track"));
}

TEST_CASE("start: names that TOML must write with care") {
  const std::vector<std::string> names = {
      "skin \"A\"", "back\\slash", "F\xC3\xBCllung \xE5\xA4\x96", "a, b; c", "tab' # no", "rest"};
  std::string text;
  const Case read = filled_case(row_mesh(names), text);
  REQUIRE(read.problem.regions.size() == names.size());
  const toml::table toml = toml::parse(text);
  for (std::size_t i = 0; i < names.size(); ++i) {
    CHECK(toml["region"][i]["groups"][0].value<std::string>() == names[i]);
  }
  CHECK(read.problem.regions[0].name == "skin _A_");
  CHECK(read.problem.regions[1].name == "back\\slash");
  CHECK(read.problem.regions[2].name == names[2]);
  CHECK(read.problem.regions[3].name == "a_ b_ c");
}

TEST_CASE("start: names that no case file can hold go to a region without groups") {
  std::string text;
  const std::string dots(101, '.');
  const Case read = filled_case(row_mesh({"skin", "?", "caf\xE9", dots, "rest"}), text);
  REQUIRE(read.problem.regions.size() == 3);
  CHECK(read.problem.regions[1].name == "rest");
  CHECK(read.problem.regions[2].name == "rest 2"); // the first is the group of that name
  CHECK(says(text, "#   \"?\" (no case file can name it"));
  CHECK(says(text, "#   \"caf?\" (no case file can name it"));
}

TEST_CASE("start: more surfaces than anybody fills in by hand share the last region") {
  std::vector<std::string> names;
  for (int i = 1; i <= 130; ++i) {
    names.push_back("patch " + std::to_string(i));
  }
  std::string text;
  const Case read = filled_case(row_mesh(names), text);
  CHECK(read.problem.regions.size() == 101);
  CHECK(read.problem.regions.back().name == "rest");
  CHECK(says(text, "#   \"patch 120\"\n#   and 10 more\n"));
}

TEST_CASE("start: groups of a case by name") {
  const TemporaryFolder folder;
  const fs::path mesh = fs::path(TIDEMARK_SOURCE_DIR) / "cases/strip-with-cap/strip.msh";
  std::string text = started(mesh, folder.path() / "strip.toml");
  CHECK(says(text, "#   \"vent end\": "));
  text.replace(text.rfind("group = \"?\"", text.find("pressure = \"?\" ")), 11,
               "group = \"vent end\"");
  write_file(folder.path() / "strip.toml", filled_in(text, read_mesh(mesh, 1).mesh));
  const Case read = read_case(folder.path() / "strip.toml");
  REQUIRE(read.problem.vents.size() == 1);
  CHECK(read.problem.vents[0].nodes.size() > 1);
}

TEST_CASE("start: UTF-8 and TOML texts") {
  CHECK(is_utf8("plain"));
  CHECK(is_utf8("\xC3\xBC \xE5\xA4\x96 \xF0\x9F\x8C\x8A"));
  CHECK(!is_utf8("\xFC"));             // Latin-1
  CHECK(!is_utf8("\xC3"));             // cut off
  CHECK(!is_utf8("\xC0\xAF"));         // a longer way of writing /
  CHECK(!is_utf8("\xE0\x80\xAF"));     // another
  CHECK(!is_utf8("\xED\xA0\x80"));     // half a pair of UTF-16
  CHECK(!is_utf8("\xF4\x90\x80\x80")); // beyond the last character
  CHECK(toml_string("a \"b\" \\ c") == "\"a \\\"b\\\" \\\\ c\"");
  CHECK(toml_string("\n\x7F") == "\"\\u000A\\u007F\"");
}

TEST_CASE("start: the file and its place") {
  const TemporaryFolder folder;
  const fs::path mesh = folder.path() / "my meshes" / "plate.v2.msh";
  fs::create_directories(mesh.parent_path());
  fs::create_directories(folder.path() / "cases");
  write_file(mesh, row_mesh({"skin"}));
  SUBCASE("beside the mesh, and nothing else is left there") {
    const ProgramOutput output = run_program(folder.path(), {"start", "my meshes/plate.v2.msh"});
    CHECK(output.exit_code == 0);
    CHECK(says(output.out, "Written to my meshes/plate.v2.toml. 14 values are still to be filled"));
    CHECK(says(read_file(folder.path() / "my meshes/plate.v2.toml"), "mesh = \"plate.v2.msh\"\n"));
    CHECK(!fs::exists(temporary_name(folder.path() / "my meshes/plate.v2.toml")));
  }
  SUBCASE("elsewhere: the mesh is found from there, through a link to a folder too") {
    fs::create_directory_symlink(folder.path() / "my meshes", folder.path() / "cases/link");
    for (const std::string target : {"cases/a.toml", "cases/link/b.toml"}) {
      const ProgramOutput output =
          run_program(folder.path(), {"start", "my meshes/plate.v2.msh", "-o", target, "--quiet"});
      CHECK(output.exit_code == 0);
      CHECK(output.out.empty());
      CHECK(unfilled_of(folder.path() / target) == 14);
      std::string text = read_file(folder.path() / target);
      write_file(folder.path() / target, filled_in(text, read_mesh(mesh, 1).mesh));
      CHECK_NOTHROW(read_case(folder.path() / target));
    }
    CHECK(says(read_file(folder.path() / "cases/a.toml"), "\"../my meshes/plate.v2.msh\""));
  }
  SUBCASE("a file that is there stays as it is unless told") {
    write_file(folder.path() / "a.toml", "mine");
    const std::vector<std::string> words = {"start", "my meshes/plate.v2.msh", "-o", "a.toml"};
    ProgramOutput output = run_program(folder.path(), words);
    CHECK(output.exit_code == 4);
    CHECK(output.err == "error: a.toml: is there already; --overwrite replaces it, -o FILE writes "
                        "to another\n");
    CHECK(read_file(folder.path() / "a.toml") == "mine");
    output = run_program(folder.path(),
                         {"start", "my meshes/plate.v2.msh", "-o", "a.toml", "--overwrite"});
    CHECK(output.exit_code == 0);
    CHECK(says(read_file(folder.path() / "a.toml"), "[part]"));
  }
}

TEST_CASE("start: bad input") {
  const TemporaryFolder folder;
  write_file(folder.path() / "plate.msh", row_mesh({"skin"}));
  write_file(folder.path() / "broken.msh", "$MeshFormat\n2.2 0 8\n");
  write_file(folder.path() / "plate.step", "");
  std::string bent = row_mesh({"skin", "core"}); // the second square has one corner twice
  const std::string second = "2 3 2 2 1 3 5 6 4";
  bent.replace(bent.find(second), second.size(), "2 3 2 2 1 3 5 5 4");
  write_file(folder.path() / "bent.msh", bent);
  fs::create_directories(folder.path() / "folder");
  struct Mistake {
    std::vector<std::string> words;
    int exit_code;
    std::string message;
  };
  const std::vector<Mistake> mistakes = {
      {{"start"}, 2, "start: no mesh given; tidemark start --help tells more"},
      {{"start", "plate.msh", "plate.msh"}, 2, "start: found 2 meshes, expected one"},
      {{"start", "plate.msh", "--frames", "3"}, 2, "start has no option --frames"},
      {{"check", "plate.msh", "--overwrite"}, 2, "check has no option --overwrite"},
      {{"start", "none.msh"}, 4, "none.msh: cannot be opened: "},
      {{"start", "broken.msh"}, 2, "broken.msh"},
      {{"start", "bent.msh"}, 2, "as if the mesh's unit were mm"},
      {{"start", "plate.step"}, 2, "is none of the mesh formats"},
      {{"start", "plate.msh", "-o", "folder"}, 4, "folder: is a folder, expected the name of a"},
      {{"start", "plate.msh", "-o", "no/a.toml"}, 4, "no/a.toml: cannot be written: there is no"},
      {{"start", "plate.msh", "-o", "/proc/a.toml"}, 4, "cannot be written: "},
      {{"start", "plate.msh", "-o", "plate.msh", "--overwrite"}, 2, "plate.msh: is the mesh"},
  };
  for (const Mistake& mistake : mistakes) {
    CAPTURE(mistake.message);
    const ProgramOutput output = run_program(folder.path(), mistake.words);
    CAPTURE(output.err);
    CHECK(output.exit_code == mistake.exit_code);
    CHECK(says(output.err, mistake.message));
    CHECK(output.out.empty());
  }
  for (const auto& entry : fs::directory_iterator(folder.path())) {
    CHECK(entry.path().extension() != ".toml");
    CHECK(entry.path().extension() != ".part");
  }
}

TEST_CASE("start: check and fill tell what is still to be filled in, apart from mistakes") {
  const TemporaryFolder folder;
  write_file(folder.path() / "plate.msh", row_mesh({"skin"}));
  std::string text = started(folder.path() / "plate.msh", folder.path() / "plate.toml");
  const std::string porosity = "porosity = \"?\"";
  text.replace(text.find(porosity), porosity.size(), "porosity = 1.2");
  write_file(folder.path() / "plate.toml", text);
  for (const std::string command : {"check", "fill"}) {
    const ProgramOutput output = run_program(folder.path(), {command, "plate.toml"});
    CHECK(output.exit_code == 2);
    CHECK(output.out.empty());
    CHECK(output.err.starts_with("error: plate.toml:"));
    CHECK(says(output.err, "region[skin].porosity: found "));
    CHECK(says(output.err, "\nto fill in: plate.toml:13: part.mesh_unit: still \"?\", expected the "
                           "unit of the mesh's coordinates such as \"mm\"\n"));
    CHECK(says(output.err, "still \"?\", expected a length such as \"4 mm\"\n"));
    CHECK(output.err.ends_with("\n13 values still to be filled in\n"));
    std::istringstream lines(output.err);
    int mistakes = 0;
    for (std::string line; std::getline(lines, line);) {
      mistakes += line.starts_with("error: ") ? 1 : 0;
    }
    CHECK(mistakes == 1);
  }
  CHECK(!fs::exists(folder.path() / "plate.out"));
}
