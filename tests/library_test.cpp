// The starter library of cases/library: every fabric, core and resin of it does in a case.
#include "io/case_file.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>
#include <toml++/toml.h>

#include <algorithm>
#include <filesystem>
#include <set>
#include <sstream>
#include <string>
#include <vector>

using namespace tidemark;
namespace fs = std::filesystem;

namespace {

const fs::path library = fs::path(TIDEMARK_SOURCE_DIR) / "cases/library";

/// A stack as it is laid, its fibre volume fraction worked out by hand: plies x areal weight /
/// density of the fibres / thickness; and the permeabilities such a fabric commonly has there.
struct Laid {
  const char* fabric;
  int plies;
  const char* thickness;
  double fraction;
  double lowest;  // [m2] both from memory, typical, unverified: orders of magnitude
  double highest; // [m2]
};

const std::vector<Laid> usual_stacks = {
    {"chopped-strand-mat-450", 4, "4 mm", 0.17578, 5e-10, 3e-9},
    {"continuous-filament-mat-450", 4, "5 mm", 0.14063, 1e-9, 1e-8},
    {"flow-core-mat-780", 1, "2.2 mm", 0.19642, 1e-9, 1e-8},
    {"woven-roving-800", 5, "3.4 mm", 0.45956, 5e-11, 5e-10},
    {"biaxial-0-90-600", 6, "2.8 mm", 0.50223, 2e-11, 2e-10},
    {"biaxial-45-600", 6, "2.8 mm", 0.50223, 2e-11, 2e-10},
    {"unidirectional-glass-600", 6, "2.5 mm", 0.56250, 5e-12, 1e-10},
    {"carbon-twill-200", 10, "2.1 mm", 0.53505, 1e-11, 5e-11},
    {"unidirectional-carbon-300", 8, "2.35 mm", 0.57375, 5e-12, 1e-10},
};

const std::string usual_resin = "[resin]\nviscosity = \"200 mPa.s\"\n";

std::string case_text(const std::string& region, const std::string& resin) {
  const fs::path mesh = fs::path(TIDEMARK_SOURCE_DIR) / "cases/strip-with-cap/strip.msh";
  return "fabrics = \"" + (library / "fabrics.toml").string() + "\"\n[part]\nmesh = \"" +
         mesh.string() + "\"\nmesh_unit = \"mm\"\n[[region]]\nname = \"strip\"\n" +
         "direction = [1, 0, 0]\n" + region + resin +
         "[injector]\npressure_cap = \"0.8 bar\"\n[[gate]]\nname = \"port\"\nat = [20, 150, 0]\n"
         "radius = \"6 mm\"\n[[vent]]\nname = \"end\"\ngroup = \"vent end\"\n"
         "pressure = \"-0.5 bar\"\n";
}

/// Throws if the case is not accepted.
Case read_with(const std::string& region, const std::string& resin = usual_resin) {
  const TemporaryFolder folder;
  write_file(folder.path() / "a.toml", case_text(region, resin));
  return read_case(folder.path() / "a.toml");
}

std::string stack_text(const Laid& laid, const std::string& size) {
  return size + "\nlayup = [{ fabric = \"" + laid.fabric +
         "\", count = " + std::to_string(laid.plies) + " }]\n";
}

Region laid_to(const Laid& laid, double fraction) {
  std::ostringstream size;
  size << "fibre_volume_fraction = " << fraction;
  return read_with(stack_text(laid, size.str())).problem.regions.at(0);
}

/// The blocks of commented lines that begin with one that starts like that, without the #.
std::vector<std::string> commented_blocks(const fs::path& file, const std::string& start) {
  std::istringstream lines(read_file(file));
  std::vector<std::string> blocks;
  bool inside = false;
  for (std::string line; std::getline(lines, line);) {
    if (line.starts_with("# " + start)) {
      blocks.emplace_back();
      inside = true;
    }
    inside = inside && line.starts_with("#");
    if (inside) {
      blocks.back() += line.substr(line.starts_with("# ") ? 2 : 1) + "\n";
    }
  }
  return blocks;
}

} // namespace

TEST_CASE("library: the fabrics are those of the table, each with its sources") {
  const std::string text = read_file(library / "fabrics.toml");
  const std::string readme = read_file(library / "README.md");
  const toml::table toml = toml::parse(text);
  std::set<std::string> names;
  for (const auto& [name, table] : *toml["fabric"].as_table()) {
    names.insert(std::string(name.str()));
  }
  std::set<std::string> expected;
  for (const Laid& laid : usual_stacks) {
    const std::string name = laid.fabric;
    CAPTURE(name);
    expected.insert(name);
    CHECK(readme.find("`" + name + "`") != std::string::npos);
    for (const std::string part : {"", ".permeability", ".compaction"}) {
      const std::size_t begin = text.find("[fabric." + name + part + "]");
      REQUIRE(begin != std::string::npos);
      const std::size_t end = std::min(text.find("\n[", begin), text.size());
      CHECK(text.substr(begin, end - begin).find("typical, unverified") != std::string::npos);
    }
  }
  CHECK(names == expected);
}

TEST_CASE("library: each fabric in a usual stack") {
  for (const Laid& laid : usual_stacks) {
    CAPTURE(laid.fabric);
    const Case read =
        read_with(stack_text(laid, std::string("thickness = \"") + laid.thickness + "\""));
    CHECK(read.warnings == std::vector<std::string>{});
    const Region& region = read.problem.regions.at(0);
    CHECK(1 - region.porosity == doctest::Approx(laid.fraction).epsilon(1e-4));
    CHECK(region.permeability_1 >= region.permeability_2);
    CHECK(region.permeability_1 <= laid.highest);
    CHECK(region.permeability_2 >= laid.lowest);
    REQUIRE(read.layups.at(0));
    const double pressure = read.layups.at(0)->stack.closing_pressure.value_or(0);
    CHECK(pressure > 0.02e5);    // or resin washes it away: common practice, no source
    CHECK(pressure < 1.01325e5); // vacuum closes it
  }
}

TEST_CASE("library: permeability falls as the fibres close up") {
  for (const Laid& laid : usual_stacks) {
    CAPTURE(laid.fabric);
    const Region loose = laid_to(laid, 0.96 * laid.fraction);
    const Region usual = laid_to(laid, laid.fraction);
    const Region dense = laid_to(laid, 1.04 * laid.fraction);
    for (const auto& [less, more] : {std::pair(&usual, &loose), {&dense, &usual}}) {
      CHECK(less->permeability_1 < more->permeability_1);
      CHECK(less->permeability_2 < more->permeability_2);
      CHECK(less->permeability_1 >= less->permeability_2);
    }
  }
}

TEST_CASE("library: fabrics of different kinds share a cavity") {
  const Case read = read_with("thickness = \"3 mm\"\nlayup = [\n"
                              "  { fabric = \"chopped-strand-mat-450\" },\n"
                              "  { fabric = \"woven-roving-800\", count = 2, angle = \"0 deg\" },\n"
                              "  { fabric = \"chopped-strand-mat-450\" },\n]\n");
  CHECK(read.problem.regions.at(0).permeability_1 > 0);
  for (const std::string& warning : read.warnings) {
    CHECK(warning.find("strip") == std::string::npos); // none about the region
  }
}

TEST_CASE("library: each core between two mats") {
  const std::vector<std::string> cores = commented_blocks(library / "cores.toml", "{ core");
  CHECK(cores.size() >= 6);
  for (const std::string& core : cores) {
    CAPTURE(core);
    const std::string mat = "{ fabric = \"chopped-strand-mat-450\", count = 2 },\n";
    const Case read =
        read_with("fibre_volume_fraction = 0.2\nlayup = [\n" + mat + core + mat + "]\n");
    CHECK(read.warnings == std::vector<std::string>{});
    // 4 x 450 g/m2 / 2560 kg/m3 / 0.2 is 3.516 mm of mats beside the core.
    const double core_thickness = std::stod(core.substr(core.find('"') + 1)) * 1e-3;
    CHECK(read.problem.regions.at(0).thickness ==
          doctest::Approx(core_thickness + 3.515625e-3).epsilon(1e-9));
  }
}

TEST_CASE("library: each resin in a case") {
  const std::vector<std::string> resins = commented_blocks(library / "resins.toml", "[resin]");
  CHECK(resins.size() >= 5);
  for (const std::string& resin : resins) {
    CAPTURE(resin);
    const Case read = read_with(stack_text(usual_stacks.at(0), "thickness = \"4 mm\""), resin);
    CHECK(read.warnings == std::vector<std::string>{});
    CHECK(read.problem.resin.density.value_or(0) > 1000);
    CHECK(read.problem.resin.gel_time.value_or(0) > 0);
  }
}
