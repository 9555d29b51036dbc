// Fabrics and layups of a case file, and what a filling makes of them; messages are in
// bad_input_test.cpp.
#include "io/layup_text.hpp"
#include "solver/element_permeability.hpp"
#include "support/checked_fill.hpp"
#include "support/closeness.hpp"
#include "support/meshes.hpp"
#include "support/small_case.hpp"
#include "support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <numbers>
#include <string>

using namespace tidemark;
using namespace tidemark::small_case;
using namespace tidemark::test;

namespace {

/// A fabric 1 mm thick at 45 % of fibres: 1125 g/m2 over 2500 kg/m3 is 0.45 mm.
std::string fabric_text(const std::string& name, const std::string& permeability) {
  return "[fabric." + name + "]\nareal_weight = \"1125 g/m2\"\nfibre_density = \"2500 kg/m3\"\n" +
         "permeability = " + permeability + "\n";
}

std::string constant_law(const std::string& value) {
  return "{ law = \"constant\", value = " + value + ", valid = [0.2, 0.6] }";
}

std::string region_text(const std::string& keys) {
  return "[[region]]\nname = \"skin\"\n" + keys;
}

Outcome good_outcome(const std::string& region, const std::string& fabrics) {
  Outcome outcome =
      outcome_of(head + region_text(region) + fabrics + resin_and_injector + gate + vent);
  CHECK(outcome.errors.empty());
  CHECK(outcome.warnings.empty());
  REQUIRE(outcome.problem.regions.size() == 1);
  return outcome;
}

Region good_region(const std::string& region, const std::string& fabrics) {
  return good_outcome(region, fabrics).problem.regions[0];
}

/// K1 of one ply of 1 mm whose fabric has this law, at Vf 0.45.
double permeability_by(const std::string& law) {
  return good_region("thickness = \"1 mm\"\ndirection = [1, 0, 0]\nlayup = [{ fabric = \"a\" }]\n",
                     fabric_text("a", law))
      .permeability_1;
}

/// A strip 1 m x 0.3 m fed along x = 0, at 1 bar, with a resin of 0.2 Pa s.
FillProblem strip_problem(const std::string& region, const std::string& fabrics) {
  ShellMesh mesh =
      plate({.length = 1, .width = 0.3, .columns = 100, .rows = 30, .jitter = 0.25, .seed = 1});
  mesh.node_sets.push_back(
      {"start", nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; })});
  const std::string text =
      "[part]\nmesh = \"strip.msh\"\nmesh_unit = \"m\"\n" + region_text(region) + fabrics +
      "[resin]\nviscosity = \"200 mPa.s\"\n[injector]\npressure_cap = \"1 bar\"\n"
      "[[gate]]\nname = \"G\"\ngroup = \"start\"\n"
      "[cavity]\npressure = \"0 bar\"\nsealed_air = false\n";
  Outcome outcome = outcome_of(text, mesh);
  CHECK(outcome.errors.empty());
  CHECK(outcome.warnings.empty());
  return outcome.problem;
}

const std::string skins_and_core =
    "thickness = \"4 mm\"\nlayup = [{ fabric = \"skin\" }, { core = \"2 mm\", permeability = "
    "\"5e-9 m2\", porosity = 0.85 }, { fabric = \"skin\" }]\n";

} // namespace

TEST_CASE("layup: every law gives its permeability") {
  // At Vf 0.45, by hand.
  CHECK(is_near(permeability_by(constant_law("\"3e-10 m2\"")), 3e-10));
  // 1e-11 / 0.45^2
  CHECK(is_near(permeability_by("{ law = \"power\", factor = \"1e-11 m2\", exponent = -2, valid = "
                                "[0.4, 0.5] }"),
                4.93827160493827e-11));
  // 1e-10 * 0.55^3 / 0.45^2 = 1e-10 * 0.166375 / 0.2025
  CHECK(is_near(permeability_by("{ law = \"kozeny-carman\", constant = \"1e-10 m2\", valid = "
                                "[\"40 %\", \"50 %\"] }"),
                8.21604938271605e-11));
  // (10 um)^2 / (4 * 0.25) = 1e-10 again
  CHECK(is_near(permeability_by("{ law = \"kozeny-carman\", fibre_radius = \"10 um\", "
                                "kozeny_constant = 0.25, valid = [0.4, 0.5] }"),
                8.21604938271605e-11));
  // Half-way between 4e-10 and 1e-10 in the logarithm.
  CHECK(is_near(permeability_by("{ law = \"table\", fibre_volume_fraction = [0.3, 0.4, 0.5], k1 = "
                                "[\"1e-9 m2\", \"4e-10 m2\", \"1e-10 m2\"] }"),
                2e-10));
  // 8 / 57 (10 um)^2 * 0.166375 / 0.2025
  CHECK(is_near(permeability_by("{ law = \"aligned-fibres\", fibre_radius = \"10 um\", packing = "
                                "\"square\", valid = [0.4, 0.5] }"),
                1.153129737925059e-11));
}

TEST_CASE("layup: K1, K2, angle, porosity and Vf of the region") {
  const Region region = good_region(
      "thickness = \"2 mm\"\ndirection = [0, 2, 0]\nangle = \"10 deg\"\n"
      "layup = [{ fabric = \"a\" }, { fabric = \"a\", angle = \"45 deg\" }]\n",
      fabric_text("a", constant_law("[\"3e-10 m2\", \"1e-10 m2\"]")) + "warp_to_k1 = \"5 deg\"\n");
  // Mean 2e-10, deviators of 1e-10 at right angles: see layup_test.
  CHECK(is_near(region.permeability_1, 2.70710678118655e-10));
  CHECK(std::abs(region.permeability_2 - 1.29289321881345e-10) < 1e-21);
  CHECK(std::abs(region.angle - (10 + 5 + 22.5) * std::numbers::pi / 180) < 1e-12);
  CHECK(region.direction == Vector3(0, 1, 0));
  CHECK(is_near(region.porosity, 0.55));
  CHECK(is_near(fibre_volume_fraction(region), 0.45));
  CHECK(region.thickness == 2e-3);
}

TEST_CASE("layup: the thickness follows from a fibre volume fraction") {
  const Outcome outcome = good_outcome(
      "fibre_volume_fraction = \"30 %\"\n"
      "layup = [{ fabric = \"a\", count = 4 }, { gap = \"0.5 mm\" }, { core = \"3 mm\" }]\n",
      fabric_text("a", constant_law("\"1e-10 m2\"")));
  const Region& region = outcome.problem.regions[0];
  CHECK(is_near(region.thickness, 9.5e-3)); // 1.8 mm / 0.3 = 6 mm for the plies
  CHECK(is_near(fibre_volume_fraction(region), 1.8 / 9.5));
  CHECK(is_near(region.porosity, (6 * 0.7 + 0.5) / 9.5)); // the core takes no resin
  const UsedValue thickness = value_of(outcome, "region[skin].thickness");
  CHECK(thickness.value == "9.5 mm (from fibre_volume_fraction)");
  CHECK_FALSE(thickness.given);
}

TEST_CASE("layup: every value is listed as given or default") {
  const Outcome outcome = good_outcome("thickness = \"4 mm\"\ndirection = [1, 0, 0]\nlayup = [{ "
                                       "fabric = \"a\", angle = \"0 deg\" }, "
                                       "{ core = \"3 mm\", grooves = { width = \"2 mm\", depth = "
                                       "\"1 mm\", spacing = \"2 cm\" } }]\n",
                                       fabric_text("a", constant_law("\"1e-10 m2\"")) +
                                           "[fabric.a.compaction]\nlaw = \"power\"\n"
                                           "pressure = \"0.5 bar\"\n"
                                           "fibre_volume_fraction = 0.45\n"
                                           "exponent = 0.1\nvalid = [0.2, 0.6]\n");
  const auto check = [&](const std::string& key, const std::string& text, bool given) {
    CAPTURE(key);
    CHECK(value_of(outcome, key).value == text);
    CHECK(value_of(outcome, key).given == given);
  };
  check("region[skin].layup[1].fabric", "a", true);
  check("region[skin].layup[1].count", "1", false);
  check("region[skin].layup[1].angle", "0 deg", true);
  check("region[skin].layup[2].core", "3 mm", true);
  check("region[skin].layup[2].angle", "0 deg", false);
  check("region[skin].layup[2].grooves.spacing", "2 cm", true);
  check("region[skin].layup[2].grooves.crossed", "false", false);
  check("fabric[a].areal_weight", "1125 g/m2", true);
  check("fabric[a].warp_to_k1", "0 deg", false);
  check("fabric[a].permeability.law", "constant", true);
  check("fabric[a].permeability.valid", "[0.2, 0.6]", true);
  check("fabric[a].compaction.exponent", "0.1", true);
}

TEST_CASE("layup: skins and core fill in 264.15 s") {
  // K = 2.65e-9 m2 and phi = 0.7 (layup_test): t = phi mu L^2 / (2 K dp) = 264.150943 s.
  const FillProblem problem =
      strip_problem(skins_and_core, fabric_text("skin", constant_law("\"3e-10 m2\"")));
  const CheckedFill result = checked_fill(problem);
  REQUIRE(result.fill_time);
  CHECK(relative_error(*result.fill_time, 264.150943) <= 1e-3);
  // Without flow from layer to layer the core alone would need 170 s, a skin alone 1833 s.
  CHECK(*result.fill_time > 170);
  CHECK(*result.fill_time < 1833.33333);
}

TEST_CASE("layup: a filling is that of its K and porosity given outright") {
  const std::string direction = "thickness = \"2 mm\"\ndirection = [1, 0, 0]\n";
  const FillProblem laid = strip_problem(
      direction + "layup = [{ fabric = \"a\" }, { fabric = \"a\", angle = \"45 deg\" }]\n",
      fabric_text("a", constant_law("[\"3e-10 m2\", \"1e-10 m2\"]")));
  const FillProblem given = strip_problem(
      direction + "permeability = [\"2.7071067811865475e-10 m2\", \"1.2928932188134525e-10 m2\"]\n"
                  "porosity = 0.55\nangle = \"22.5 deg\"\n",
      "");
  const CheckedFill of_laid = checked_fill(laid);
  const CheckedFill of_given = checked_fill(given);
  REQUIRE(of_laid.fill_time);
  REQUIRE(of_given.fill_time);
  CHECK(relative_error(*of_laid.fill_time, *of_given.fill_time) < 1e-8);
  CHECK(relative_error(of_laid.injected, of_given.injected) < 1e-10);
  double worst = 0;
  for (const NodeId node : laid.mesh.positions.ids()) {
    worst =
        std::max(worst, std::abs(of_laid.fill_time_field[node] - of_given.fill_time_field[node]));
  }
  CHECK(worst < 1e-6 * *of_given.fill_time);
}

TEST_CASE("layup: fabrics of a file that several cases share") {
  const TemporaryFolder folder;
  std::filesystem::copy_file(std::filesystem::path(TIDEMARK_SOURCE_DIR) /
                                 "tests/bad_input/case/plate.msh",
                             folder.path() / "plate.msh");
  std::filesystem::create_directory(folder.path() / "shop");
  write_file(
      folder.path() / "shop/shelf.toml",
      "title = \"On the shelf\"\n" + fabric_text("a", constant_law("\"1e-10 m2\"")) +
          fabric_text("not used", constant_law("\"2e-10 m2\"")).replace(8, 8, "\"not used\""));
  write_file(folder.path() / "case.toml",
             "fabrics = \"shop/shelf.toml\"\n" + head +
                 region_text("thickness = \"5 mm\"\nlayup = [{ fabric = \"a\", count = 2 }, "
                             "{ gap = \"2 mm\" }, { fabric = \"a\" }]\n") +
                 resin_and_injector +
                 "[[gate]]\nname = \"G1\"\nat = [0, 20, 0]\nradius = \"8 mm\"\n" + vent);
  const Case input = read_case(folder.path() / "case.toml");
  CHECK(input.warnings.empty()); // nothing is said of the fabric that lies on the shelf
  CHECK(input.fabrics_file == folder.path() / "shop/shelf.toml");
  REQUIRE(input.layups.size() == 1);
  REQUIRE(input.layups[0]);
  CHECK(input.layups[0]->names == std::vector<std::string>{"2 x a", "gap", "1 x a"});
  CHECK(is_near(input.layups[0]->stack.areal_weight, 3.375));
  // (3 mm 1e-10 + 2 mm (2 mm)^2 / 12) / 5 mm = 1.33e-7; Vf 1.35 / 5, porosity (3 * 0.55 + 2) / 5.
  CHECK(layups_text(input) ==
        "Layup of region skin, from one face to the other:\n"
        "  layer  mm    Vf  porosity     K1 m2     K2 m2  angle deg  fibre g/m2\n"
        "  2 x a   2  0.45      0.55     1e-10     1e-10          -        2250\n"
        "  gap     2     -         1  3.33e-07  3.33e-07          -           -\n"
        "  1 x a   1  0.45      0.55     1e-10     1e-10          -        1125\n"
        "  stack   5  0.27      0.73  1.33e-07  1.33e-07          -        3375\n"
        "  Fibre volume fraction of the plies alone 0.45. What closing it takes is not known.\n");
}
