// "?" in the place of each value of a case in turn: it is said to be missing, and nothing else is
// said to be wrong because of it.
#include "tests/support/small_case.hpp"

#include <doctest/doctest.h>

#include <regex>
#include <string>
#include <vector>

using namespace tidemark;
using namespace tidemark::small_case;

namespace {

/// Most keys there are, on the small plate.
const std::string whole_case = R"(
title = "Plate"
ambient = "1000 hPa"
temperature = "21 degC"
[part]
mesh = "plate.msh"
mesh_unit = "mm"
[[region]]
name = "skin"
groups = ["skin"]
thickness = "4 mm"
permeability = ["3e-9 m2", "1e-9 m2"]
porosity = 0.8
direction = [1, 0, 0]
angle = "30 deg"
[[region]]
name = "core"
groups = ["core"]
thickness = "9 mm"
direction = [1, 0, 0]
layup = [
  { fabric = "mat", count = 2, angle = "10 deg" },
  { gap = "0.2 mm" },
  { core = "2 mm", permeability = "1e-9 m2", porosity = 0.1 },
  { core = "5 mm", grooves = { width = "2 mm", depth = "1 mm", spacing = "20 mm", crossed = true } },
  { fabric = "woven" },
]
[fabric.mat]
areal_weight = "450 g/m2"
fibre_density = "2550 kg/m3"
permeability = { law = "power", factor = "2e-11 m2", exponent = -2.5, valid = [0.12, 0.30] }
[fabric.mat.compaction]
law = "power"
pressure = "1 bar"
fibre_volume_fraction = 0.30
exponent = 0.15
valid = [0.12, 0.4]
[fabric.woven]
areal_weight = "600 g/m2"
fibre_density = "2550 kg/m3"
warp_to_k1 = "10 deg"
permeability = { law = "table", fibre_volume_fraction = [0.35, 0.6], k1 = ["4e-10 m2", "5e-11 m2"], k2 = ["2e-10 m2", "3e-11 m2"] }
compaction = { law = "table", pressure = ["0.05 bar", "5 bar"], fibre_volume_fraction = [0.38, 0.58] }
[resin]
viscosity = "180 mPa.s"
density = "1100 kg/m3"
gel_time = "25 min"
[injector]
flow_rate = "1.5 L/min"
pressure_cap = "1.2 bar"
line = { length = "2 m", bore = "8 mm" }
schedule = [{ from_time = "60 s", flow_rate = "2 L/min" }]
[[gate]]
name = "G1"
at = [1, 9, 0]
radius = "11 mm"
closes_at = "20 min"
[[gate]]
name = "G2"
at = [30, 20, 0]
pressure = "0.5 bar"
opens = "when V1 is reached"
[[vent]]
name = "V1"
group = "port"
pressure = "-0.5 bar"
bleed = "5 mL"
line = [{ length = "1 m", bore = "6 mm" }]
[[vent]]
name = "V2"
at = [30, 0, 0]
pressure = "-0.5 bar"
closes = "never"
[[runner]]
name = "R1"
path = [[0, 0, 0], [0, 20, 0]]
width = "10 mm"
depth = "5 mm"
[[race_track]]
name = "T1"
between = ["skin", "core"]
gap = "2 mm"
permeability = "1e-7 m2"
[[race_track]]
name = "T2"
along = "free edges"
gap = "2 mm"
[[race_track]]
name = "T3"
path = [[10, 0, 0], [20, 0, 0]]
gap = "1 mm"
[cavity]
pressure = "-0.5 bar"
sealed_air = true
[gravity]
direction = [0, 0, -1]
acceleration = "9.81 m/s2"
[mould]
closing_direction = [0, 0, 1]
flange_pressure = "-0.9 bar"
flange_area = "0.25 m2"
clamp_force = "10 kN"
[scatter]
samples = 50
seed = 3
permeability = { law = "lognormal", variation = 0.3, correlation_length = "20 mm" }
[scatter.viscosity]
law = "gamma"
variation = "10 %"
[scatter.race_track_gap]
variation = 0.2
[scatter.region.core.fibre_volume_fraction]
variation = 0.01
[run]
time_limit = "1 h"
)";

} // namespace

TEST_CASE("unfilled: \"?\" for any value is asked for, and brings no other error") {
  REQUIRE(outcome_of(whole_case).errors == std::vector<std::string>{});
  const std::regex value("([a-z0-9_]+) = (\"[^\"]*\"|\\[\\[.*\\]\\]|\\[[^{\\]]+\\]|[-0-9.]+|true|"
                         "\\{ length[^}]*\\}|\\[\\{[^\\n]*\\}\\]|\\{ law[^\\n]*\\})");
  int values = 0;
  for (auto match = std::sregex_iterator(whole_case.begin(), whole_case.end(), value);
       match != std::sregex_iterator(); ++match) {
    ++values;
    std::string text = whole_case;
    text.replace(static_cast<std::size_t>(match->position(2)),
                 static_cast<std::size_t>(match->length(2)), "\"?\"");
    CAPTURE(match->str());
    const Outcome outcome = outcome_of(text);
    CAPTURE(outcome.errors.back());
    CHECK(outcome.errors.size() == 1);
    CHECK(outcome.errors.front().find((*match)[1].str() + ": still \"?\", expected ") !=
          std::string::npos);
  }
  CHECK(values >= 75);
}

TEST_CASE("unfilled: each \"?\" of a list counts") {
  std::string text = whole_case;
  const std::string at = "at = [1, 9, 0]";
  text.replace(text.find(at), at.size(), "at = [\"?\", 9, \"?\"]");
  CHECK(outcome_of(text).errors.size() == 2);
  const std::string k = "[\"3e-9 m2\", \"1e-9 m2\"]";
  text.replace(text.find(k), k.size(), "[\"?\", \"?\"]");
  CHECK(outcome_of(text).errors.size() == 4);
}
