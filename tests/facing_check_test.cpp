// Elements that face the other way than their neighbours, and what is said of angles about them.
#include "io/facing_check.hpp"

#include "io/case_check.hpp"
#include "io/raw_case.hpp"
#include "mesh/facing.hpp"
#include "support/meshes.hpp"
#include "support/small_case.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <numeric>
#include <string>

using namespace tidemark;
using namespace tidemark::small_case;
using namespace tidemark::test;

namespace {

void turn(Element& element) {
  std::swap(element.nodes[0], element.nodes[1]);
}

std::vector<ElementId> turned_in(const ShellMesh& mesh) {
  return turned_over(mesh, PerElement<bool>(mesh.elements.size(), true));
}

/// A plate of 32 elements, of which those named are turned over.
ShellMesh plate_turned(const std::vector<int>& turned) {
  ShellMesh mesh = plate({.length = 0.4, .width = 0.4, .columns = 4, .rows = 4});
  for (const int element : turned) {
    turn(mesh.elements[ElementId(element)]);
  }
  return mesh;
}

std::string case_with(const std::string& reinforcement) {
  return "[part]\nmesh = \"plate.msh\"\nmesh_unit = \"m\"\n[[region]]\nname = \"skin\"\nthickness "
         "= "
         "\"3 mm\"\nporosity = 0.5\n" +
         reinforcement + resin_and_injector +
         "[[gate]]\nname = \"G\"\nat = [0, 0, 0]\nradius = \"5 mm\"\n"
         "[cavity]\npressure = \"0 bar\"\nsealed_air = false\n";
}

const std::string askew = "permeability = [\"5e-10 m2\", \"1e-10 m2\"]\ndirection = [1, 0, 0]\n"
                          "angle = \"40 deg\"\n";

std::vector<std::string> warnings_of(const ShellMesh& mesh, const std::string& reinforcement) {
  const Outcome outcome = outcome_of(case_with(reinforcement), mesh);
  CHECK(outcome.errors.empty());
  std::vector<std::string> found;
  for (const std::string& warning : outcome.warnings) {
    if (warning.find("the other way") != std::string::npos) {
      found.push_back(warning);
    }
  }
  return found;
}

} // namespace

TEST_CASE("facing: elements turned over are found, whichever way the rest faces") {
  CHECK(turned_in(plate_turned({})).empty());
  const std::vector<int> some{3, 4, 9, 31};
  const std::vector<ElementId> expected{ElementId(3), ElementId(4), ElementId(9), ElementId(31)};
  CHECK(turned_in(plate_turned(some)) == expected);
  ShellMesh down = plate_turned(some);
  for (Element& element : down.elements) {
    turn(element);
  }
  CHECK(turned_in(down) == expected);
}

TEST_CASE("facing: a border of a region and a joint of three are not passed over") {
  // Half of a plate of its own, and three plates at one edge: each may face as it likes.
  ShellMesh halves = plate_turned({});
  PerElement<bool> is_part(halves.elements.size(), false);
  for (int i = 0; i < 16; ++i) {
    is_part[ElementId(i)] = true;
  }
  for (int i = 16; i < 32; ++i) {
    turn(halves.elements[ElementId(i)]);
  }
  CHECK(turned_over(halves, is_part).empty());
  CHECK(turned_in(halves).size() == 16);
  ShellMesh joint = t_joint(1, 1, 3, 3);
  const std::size_t each = joint.elements.size() / 3;
  for (std::size_t i = 0; i < each; ++i) {
    turn(joint.elements[ElementId(i)]);
  }
  CHECK(turned_in(joint).empty());
}

TEST_CASE("facing: warned of where an angle bears on the flow, and only there") {
  const ShellMesh mesh = plate_turned({3, 4});
  const std::vector<std::string> warnings = warnings_of(mesh, askew);
  REQUIRE(warnings.size() == 1);
  // Element 4 of those labelled from 1: the upper half of the second square, 0.1 m wide.
  CHECK(warnings[0].find("region[skin]: found 2 of 32 elements that face the other way than their "
                         "neighbours, the first element 4 at [0.13333") != std::string::npos);
  CHECK(warnings_of(plate_turned({}), askew).empty());
  const std::string k = "permeability = [\"5e-10 m2\", \"1e-10 m2\"]\ndirection = [1, 0, 0]\n";
  CHECK(warnings_of(mesh, k).empty());
  CHECK(warnings_of(mesh, k + "angle = \"-90 deg\"\n").empty());
  CHECK(warnings_of(mesh, k + "angle = \"-88 deg\"\n").size() == 1);
  CHECK(warnings_of(mesh, "permeability = \"5e-10 m2\"\n").empty());
}

TEST_CASE("facing: plies at an angle that no other balances turn K1 as well") {
  const auto warnings = [](const std::string& plies) {
    const std::string text =
        "[part]\nmesh = \"plate.msh\"\nmesh_unit = \"m\"\n[[region]]\nname = \"skin\"\n"
        "thickness = \"2 mm\"\ndirection = [1, 0, 0]\nlayup = [" +
        plies +
        "]\n[fabric.a]\nareal_weight = \"1125 g/m2\"\nfibre_density = \"2500 kg/m3\"\n"
        "permeability = { law = \"constant\", value = [\"3e-10 m2\", \"1e-10 m2\"], valid = [0.2, "
        "0.6] }\n" +
        resin_and_injector +
        "[[gate]]\nname = \"G\"\nat = [0, 0, 0]\nradius = \"5 mm\"\n"
        "[cavity]\npressure = \"0 bar\"\nsealed_air = false\n";
    const Outcome outcome = outcome_of(text, plate_turned({3, 4}));
    CHECK(outcome.errors.empty());
    return std::ranges::count_if(outcome.warnings, [](const std::string& warning) {
      return warning.find("face the other way") != std::string::npos;
    });
  };
  const std::string to_left = R"({ fabric = "a", angle = "30 deg" })";
  const std::string to_right = R"({ fabric = "a", angle = "-30 deg" })";
  CHECK(warnings(to_left + ", " + to_left) == 1);
  CHECK(warnings(to_left + ", " + to_right) == 0);
}

TEST_CASE("facing: the side from which angles count is told") {
  const auto notes = [](ShellMesh mesh, const std::string& reinforcement) {
    Findings findings{"case.toml", {}, {}};
    const RawCase raw = parse_case(case_with(reinforcement), findings);
    return facing_notes(raw, build_problem(raw, std::move(mesh), findings));
  };
  const auto text = [](const std::string& side) {
    return std::vector{"Angles in the region \"skin\" count counter-clockwise as seen from " +
                       side + ", the side its elements face."};
  };
  CHECK(notes(plate_turned({}), askew) == text("+z"));
  ShellMesh steep = plate_turned({}); // turned over and leaning: its normal is (0.6, 0, -0.8)
  for (const NodeId node : steep.positions.ids()) {
    Vector3& at = steep.positions[node];
    at = {0.8 * at.x(), at.y(), 0.6 * at.x()};
  }
  for (Element& element : steep.elements) {
    turn(element);
  }
  CHECK(notes(steep, askew) == text("[0.6, 0, -0.8]"));
  CHECK(notes(plate_turned({}), "permeability = \"5e-10 m2\"\n").empty());
  std::vector<int> half(16);
  std::iota(half.begin(), half.end(), 0);
  CHECK(notes(plate_turned(half), askew).empty());
}
