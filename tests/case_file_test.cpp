// A case file against a small plate held in memory; whole messages are in bad_input_test.cpp.
#include "io/case_file.hpp"

#include "io/case_check.hpp"
#include "io/raw_case.hpp"
#include "mesh/error.hpp"
#include "support/small_case.hpp"
#include "support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>

using namespace tidemark;
using namespace tidemark::small_case;

namespace {

std::string direct_region(const std::string& name, const std::string& groups) {
  return "[[region]]\nname = \"" + name + "\"\n" + groups +
         "thickness = \"4 mm\"\npermeability = \"1e-9 m2\"\nporosity = 0.8\n";
}

} // namespace

TEST_CASE("a case becomes a problem in SI units") {
  const Outcome outcome = outcome_of(head + two_regions + resin_and_injector + gate + vent);
  CHECK(outcome.errors.empty());
  CHECK(outcome.warnings.empty());
  const FillProblem& problem = outcome.problem;
  REQUIRE(problem.regions.size() == 2);
  CHECK(problem.regions[0].name == "skin");
  CHECK(is_near(problem.regions[0].thickness, 0.004));
  CHECK(is_near(problem.regions[0].permeability_1, 3e-9));
  CHECK(is_near(problem.regions[0].permeability_2, 1e-9));
  CHECK(is_near(problem.regions[0].porosity, 0.8));
  CHECK((problem.regions[0].direction - Vector3(0, 0.6, 0.8)).norm() < 1e-12);
  CHECK(is_near(problem.regions[0].angle, std::acos(-1.0) / 6));
  CHECK(is_near(problem.regions[1].permeability_1, 5e-9));
  CHECK(is_near(problem.regions[1].permeability_2, 5e-9));
  CHECK(is_near(problem.regions[1].porosity, 0.9));
  CHECK(is_near(problem.resin.viscosity, 0.18));
  CHECK(is_near(problem.resin.density.value(), 1100));
  CHECK(is_near(problem.resin.gel_time.value(), 1500));
  CHECK(is_near(problem.injector.flow_rate.value(), 2.5e-5));
  CHECK(is_near(problem.injector.pressure_cap.value(), 1.2e5));
  CHECK(is_near(problem.ambient, 101325));
  CHECK(is_near(front_pressure(problem), -5e4));
  CHECK(is_near(problem.cavity_pressure, -5e4));
}

TEST_CASE("a part under 20 mm or over 100 m is doubtful: is the unit of the mesh right?") {
  const auto is_doubted = [](double longest_side) {
    ShellMesh mesh = small_plate(); // 30 mm long
    for (const NodeId node : mesh.positions.ids()) {
      mesh.positions[node] *= longest_side / 0.03;
    }
    const Outcome outcome = outcome_of(head + two_regions + resin_and_injector + gate + vent, mesh);
    return std::ranges::any_of(outcome.warnings, [](const std::string& warning) {
      return warning.find("is it the unit of the mesh's coordinates?") != std::string::npos;
    });
  };
  CHECK(is_doubted(0.019));
  CHECK_FALSE(is_doubted(0.021));
  CHECK_FALSE(is_doubted(99));
  CHECK(is_doubted(101));
}

TEST_CASE("an isotropic region drops its direction, which may be perpendicular to it") {
  const Outcome outcome = outcome_of(head + two_regions + resin_and_injector + gate + vent);
  CHECK(outcome.problem.regions[1].direction == Vector3(0, 0, 0));
  CHECK(value_of(outcome, "region[rest].direction").value ==
        "[0, 0, 1] (not used: K1 and K2 are equal)");
}

TEST_CASE("the list of values says what was given and what is the default") {
  const Outcome outcome = outcome_of(head + two_regions + resin_and_injector + gate + vent);
  CHECK(value_of(outcome, "resin.viscosity").value == "180 mPa.s");
  CHECK(value_of(outcome, "resin.viscosity").given);
  CHECK(value_of(outcome, "region[skin].permeability").value == "[3e-9 m2, 1e-9 m2]");
  CHECK(value_of(outcome, "ambient").value == "1013.25 hPa");
  CHECK_FALSE(value_of(outcome, "ambient").given);
  CHECK(value_of(outcome, "region[rest].groups").value == "all that no other region takes");
  CHECK_FALSE(value_of(outcome, "region[rest].groups").given);
  CHECK(value_of(outcome, "cavity.pressure").value == "-0.5 bar (that of the vents)");
  CHECK(value_of(outcome, "cavity.sealed_air").value ==
        "true: air without an open vent is shut in");
  CHECK_FALSE(value_of(outcome, "cavity.sealed_air").given);
  CHECK(value_of(outcome, "temperature").key.empty());
}

TEST_CASE("a gate takes all nodes within its radius and always the nearest") {
  const std::string rest = head + two_regions + resin_and_injector + vent;
  const std::string name = "[[gate]]\nname = \"G\"\n";
  const Outcome wide = outcome_of(rest + gate);
  REQUIRE(wide.problem.gates.size() == 1);
  // From (1, 9): 1.4 mm to (0, 10), 9.1 mm to (0, 0) and (10, 10), 11.05 mm to (0, 20).
  CHECK(wide.problem.gates[0].nodes == std::vector<NodeId>{NodeId(0), NodeId(4), NodeId(5)});
  CHECK((wide.problem.gates[0].centre - Vector3(0.001, 0.009, 0)).norm() < 1e-15);
  CHECK(is_near(wide.problem.gates[0].radius.value(), 0.011));
  const Outcome narrow = outcome_of(rest + name + "at = [12, 9, 0]\nradius = \"1 mm\"\n");
  CHECK(narrow.problem.gates[0].nodes == std::vector<NodeId>{NodeId(5)});
  const Outcome point = outcome_of(rest + name + "at = [12, 9, 0]\n");
  CHECK(point.problem.gates[0].nodes == std::vector<NodeId>{NodeId(5)});
  CHECK_FALSE(point.problem.gates[0].radius.has_value());
  CHECK(point.warnings.size() == 1);
  const Outcome line = outcome_of(rest + name + "group = \"edge\"\n");
  CHECK(line.problem.gates[0].nodes == std::vector<NodeId>{NodeId(0), NodeId(4), NodeId(8)});
  CHECK_FALSE(line.problem.gates[0].radius.has_value());
  CHECK(line.warnings.empty());
}

TEST_CASE("a gate may stand off the part by three edges and no more") {
  const std::string rest = head + two_regions + resin_and_injector + vent;
  const std::string gate_at = "[[gate]]\nname = \"G\"\nradius = \"2 mm\"\nat = ";
  // The longest edge at a node is the diagonal: 3 * 14.142 = 42.4 mm; 2 % of the part is less.
  CHECK(outcome_of(rest + gate_at + "[0, 0, 42]\n").errors.empty());
  CHECK(outcome_of(rest + gate_at + "[0, 0, 43]\n").errors.size() == 1);
}

TEST_CASE("the first region that names a group takes it") {
  const std::string rest = resin_and_injector + gate + vent;
  const Outcome first = outcome_of(head + direct_region("a", "groups = [\"overlap\"]\n") +
                                   direct_region("b", "groups = [\"skin\", \"core\"]\n") + rest);
  CHECK(first.errors.empty());
  CHECK(first.problem.element_region[ElementId(0)] == RegionId(0));
  CHECK(first.problem.element_region[ElementId(4)] == RegionId(0));
  CHECK(first.problem.element_region[ElementId(1)] == RegionId(1));
  const Outcome last = outcome_of(head + direct_region("a", "groups = [\"skin\"]\n") +
                                  direct_region("b", "groups = [\"overlap\", \"core\"]\n") + rest);
  CHECK(last.errors.empty());
  CHECK(last.problem.element_region[ElementId(0)] == RegionId(0));
  CHECK(last.problem.element_region[ElementId(4)] == RegionId(1));
}

TEST_CASE("a region without groups takes the rest wherever it stands") {
  const Outcome outcome =
      outcome_of(head + direct_region("rest", "") + direct_region("skin", "groups = [\"skin\"]\n") +
                 resin_and_injector + gate + vent);
  CHECK(outcome.errors.empty());
  CHECK(outcome.problem.element_region[ElementId(0)] == RegionId(1));
  CHECK(outcome.problem.element_region[ElementId(11)] == RegionId(0));
}

TEST_CASE("elements that no region takes are counted by their group") {
  CHECK(error_of(head + direct_region("skin", "groups = [\"skin\"]\n") + resin_and_injector + gate +
                 vent) ==
        "case.toml:5: region: found 8 elements of the group \"core\" that no region takes, "
        "expected a region that names the group or a region without groups, box and sphere, which "
        "takes the rest");
}

TEST_CASE("a named group without nodes is told apart from an unknown one") {
  Findings findings{"case.toml", {}, {}};
  ShellMesh mesh = small_plate();
  mesh.node_sets.push_back({"lost", {}});
  const RawCase raw = parse_case(head + two_regions + resin_and_injector + vent +
                                     "[[gate]]\nname = \"G\"\ngroup = \"lost\"\n",
                                 findings);
  build_problem(raw, mesh, findings);
  REQUIRE(findings.errors.size() == 1);
  CHECK(findings.errors[0].text.ends_with("gate[G].group: found \"lost\", which has no node on "
                                          "the part, expected a group that has some"));
}

TEST_CASE("without a vent the cavity's pressure holds on the front") {
  const Outcome outcome = outcome_of(head + two_regions + resin_and_injector + gate +
                                     "[cavity]\npressure = \"-0.9 bar\"\n");
  CHECK(outcome.errors.empty());
  CHECK(is_near(front_pressure(outcome.problem), -9e4));
}

TEST_CASE("vents agree to rounding, whatever their units") {
  const Outcome outcome = outcome_of(head + two_regions + resin_and_injector + gate + vent +
                                     "[[vent]]\nname = \"V2\"\nat = [30, 0, 0]\nradius = \"1 mm\"\n"
                                     "pressure = \"-500 mbar\"\n");
  CHECK(outcome.errors.empty());
  REQUIRE(outcome.problem.vents.size() == 2);
  CHECK(outcome.problem.vents[1].nodes == std::vector<NodeId>{NodeId(3)});
  CHECK(outcome.problem.vents[0].pressure == outcome.problem.vents[1].pressure);
}

TEST_CASE("a mesh that is no part is refused, not computed with") {
  Findings findings{"case.toml", {}, {}};
  const RawCase raw = parse_case(head + two_regions + resin_and_injector + gate + vent, findings);
  build_problem(raw, ShellMesh{}, findings);
  CHECK(findings.errors.size() == 1);
  ShellMesh huge = small_plate();
  for (Vector3& position : huge.positions) {
    position *= 1e200;
  }
  build_problem(raw, huge, findings);
  CHECK(findings.errors.size() == 2);
}

TEST_CASE("all findings of a case come in the order of its lines") {
  const Outcome outcome = outcome_of("ambient = 1\n" + head + two_regions +
                                     "[resin]\nviscosity = \"1 m\"\n[injector]\n" + gate + vent);
  REQUIRE(outcome.errors.size() == 3);
  CHECK(outcome.errors[0].starts_with("case.toml:1: ambient:"));
  CHECK(outcome.errors[1].starts_with("case.toml:22: resin.viscosity:"));
  CHECK(outcome.errors[2].starts_with("case.toml:23: injector:"));
}

TEST_CASE("a byte order mark and Windows line ends are read over") {
  std::string text = "\xEF\xBB\xBF" + head + two_regions + resin_and_injector + gate + vent;
  for (std::size_t at = text.find('\n'); at != std::string::npos; at = text.find('\n', at + 2)) {
    text.insert(at, 1, '\r');
  }
  CHECK(outcome_of(text).errors.empty());
}

TEST_CASE("the time limit, the title and the file names come with the case") {
  const std::filesystem::path folder =
      std::filesystem::path(TIDEMARK_SOURCE_DIR) / "tests/bad_input/case";
  const Case good = read_case(folder / "good.toml");
  CHECK(good.title == "Plate");
  CHECK(good.time_limit.value() == doctest::Approx(7200));
  CHECK(good.mesh_file == folder / "plate.msh");
  CHECK(good.mesh_unit == doctest::Approx(0.001));
  CHECK(good.mesh_unit_name == "mm");
  CHECK(good.problem.mesh.elements.size() == 80);
  CHECK(good.warnings.empty());
  CHECK_FALSE(good.values.empty());
}

TEST_CASE("a case without a title is called by its file") {
  const TemporaryFolder folder;
  const std::filesystem::path source =
      std::filesystem::path(TIDEMARK_SOURCE_DIR) / "tests/bad_input/case";
  std::string text = read_file(source / "good.toml");
  text.erase(0, text.find('\n') + 1);
  write_file(folder.path() / "left wing.toml", text);
  write_file(folder.path() / "plate.msh", read_file(source / "plate.msh"));
  CHECK(read_case(folder.path() / "left wing.toml").title == "left wing");
}

TEST_CASE("files that cannot be read are FileErrors") {
  const TemporaryFolder folder;
  const std::string name = folder.path().string();
  CHECK_THROWS_WITH_AS(read_case(folder.path()),
                       (name + ": is a folder, expected a case file").c_str(), FileError);
  CHECK_THROWS_WITH_AS(
      read_case(folder.path() / "nowhere.toml"),
      (name + "/nowhere.toml: cannot be opened: No such file or directory").c_str(), FileError);
  const std::filesystem::path source =
      std::filesystem::path(TIDEMARK_SOURCE_DIR) / "tests/bad_input/case/good.toml";
  write_file(folder.path() / "no_mesh.toml", read_file(source));
  CHECK_THROWS_AS(read_case(folder.path() / "no_mesh.toml"), FileError);
}

TEST_CASE("a file that is far too large for a case is refused") {
  const TemporaryFolder folder;
  write_file(folder.path() / "large.toml", std::string((1 << 24) + 1, '#'));
  CHECK_THROWS_WITH_AS(
      read_case(folder.path() / "large.toml"),
      (folder.path().string() + "/large.toml: found more than 16 MiB, expected a case file")
          .c_str(),
      InputError);
}
