#include "io/case_file.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <string>

using namespace tidemark;
namespace fs = std::filesystem;
using Kind = ScatteredInput::Kind;

namespace {

/// The scatter of a case with two regions, one a layup, a race track, heat and these lines.
Case case_with(const std::string& scatter) {
  const TemporaryFolder folder;
  fs::copy_file(fs::path(TIDEMARK_SOURCE_DIR) / "tests/bad_input/case/plate.msh",
                folder.path() / "plate.msh");
  write_file(folder.path() / "plate.toml", R"(
temperature = "21 degC"
[part]
mesh = "plate.msh"
mesh_unit = "mm"
[[region]]
name = "skin"
groups = ["skin"]
thickness = "4 mm"
permeability = "2e-9 m2"
porosity = 0.8
[[region]]
name = "core"
groups = ["core"]
thickness = "4 mm"
layup = [{ fabric = "mat", count = 4 }]
[fabric.mat]
areal_weight = "450 g/m2"
fibre_density = "2550 kg/m3"
permeability = { law = "power", factor = "2e-11 m2", exponent = -2.5, valid = [0.12, 0.30] }
[resin]
viscosity = { law = "arrhenius", viscosity = "180 mPa.s", at = "21 degC", activation_energy = "45 kJ/mol", valid = ["10 degC", "60 degC"] }
density = "1100 kg/m3"
[heat]
mould_temperature = "40 degC"
wall_coefficient = "200 W/m2/K"
resin_specific_heat = "1800 J/kg/K"
fibre_specific_heat = "800 J/kg/K"
fibre_density = "2550 kg/m3"
[injector]
pressure_cap = "1 bar"
[[gate]]
name = "G1"
at = [0, 20, 0]
radius = "8 mm"
[[vent]]
name = "V1"
group = "port"
pressure = "0 bar"
[[race_track]]
name = "T1"
along = "free edges"
gap = "1 mm"
)" + scatter);
  return read_case(folder.path() / "plate.toml");
}

} // namespace

TEST_CASE("scatter values: without [scatter] the permeability of each region, by default") {
  const ScatterFacts facts = case_with("").scatter;
  REQUIRE(facts.inputs.size() == 2);
  CHECK(facts.inputs[1].name == "permeability of core");
  CHECK(facts.inputs[1].column == "permeability_factor[core]");
  CHECK(facts.inputs[0].law == RandomLaw::gamma);
  CHECK(facts.inputs[0].spread == 0.44);
  CHECK(facts.inputs[0].source.starts_with("default: law after Bodaghi"));
  CHECK(!facts.inputs[0].correlation_length);
  CHECK(facts.samples == 200);
  CHECK(facts.seed == 1);
}

TEST_CASE("scatter values: everything given") {
  const ScatterFacts facts = case_with(R"(
[scatter]
samples = 300
seed = 9
permeability = { law = "lognormal", variation = "12 %", correlation_length = "20 cm" }
fibre_volume_fraction = { variation = 0.04 }
viscosity = { law = "normal", variation = 0.1 }
race_track_gap = { variation = 0.5 }
temperature = { deviation = "2 K" }
mould_temperature = { deviation = "3 K" }
[scatter.region.core]
permeability = { variation = 0.2 }
)")
                                 .scatter;
  CHECK(facts.samples == 300);
  CHECK(facts.seed == 9);
  REQUIRE(facts.inputs.size() == 8);
  const ScatteredInput& skin = facts.inputs[0];
  CHECK(skin.law == RandomLaw::lognormal);
  CHECK(skin.spread == 0.12);
  CHECK(skin.correlation_length == 0.2);
  CHECK(skin.source.empty());
  CHECK(facts.inputs[1].kind == Kind::fibre_volume_fraction);
  CHECK(facts.inputs[1].spread == 0.04);
  const ScatteredInput& core = facts.inputs[2]; // as its own table says, the law by default
  CHECK(core.law == RandomLaw::gamma);
  CHECK(core.spread == 0.2);
  CHECK(!core.correlation_length);
  CHECK(core.source == "default: law after Bodaghi, Yasaei & Correia 2016");
  CHECK(facts.inputs[4].name == "viscosity");
  CHECK(facts.inputs[4].law == RandomLaw::normal);
  CHECK(facts.inputs[5].name == "gap of T1");
  CHECK(facts.inputs[5].law == RandomLaw::lognormal);
  CHECK(facts.inputs[5].source == "default law");
  CHECK(facts.inputs[6].kind == Kind::temperature);
  CHECK(std::abs(facts.inputs[6].mean - 294.15) < 1e-9);
  CHECK(facts.inputs[6].spread == 2);
  CHECK(std::abs(facts.inputs[7].mean - 313.15) < 1e-9);
}

TEST_CASE("scatter values: 0 is no scatter at all") {
  const ScatterFacts facts =
      case_with("[scatter]\npermeability = { variation = 0 }\nviscosity = { variation = 0.1 }\n")
          .scatter;
  REQUIRE(facts.inputs.size() == 1);
  CHECK(facts.inputs[0].kind == Kind::viscosity);
}

TEST_CASE("scatter values: what changes a sample is at hand") {
  const ScatterFacts facts = case_with("").scatter;
  REQUIRE(facts.tracks.size() == 1);
  CHECK(facts.tracks[0].channel == 0);
  CHECK(facts.tracks[0].gap == 1e-3);
  REQUIRE(facts.layups.size() == 2);
  CHECK(!facts.layups[0]);
  REQUIRE(facts.layups[1]);
  CHECK(facts.layups[1]->thickness == 0.004);
  REQUIRE(facts.resin_at);
  CHECK(std::abs(facts.resin_at(294.15).viscosity - 0.18) < 1e-12);
  // exp(45000 / 8.314463 (1 / 304.15 - 1 / 294.15)) = 0.54610 of it 10 K warmer.
  CHECK(std::abs(facts.resin_at(304.15).viscosity / 0.18 - 0.54610) < 1e-5);
}

TEST_CASE("scatter values: they are listed with the inputs") {
  const Case input = case_with("[scatter]\nseed = 4\nviscosity = { variation = \"10 %\" }\n");
  const auto has = [&](const char* key, const char* value) {
    return std::ranges::any_of(input.values, [&](const UsedValue& used) {
      return used.key == key && used.value == value && used.given;
    });
  };
  CHECK(has("scatter.seed", "4"));
  CHECK(has("scatter.viscosity.variation", "10 %"));
}
