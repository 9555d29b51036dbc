// Quantities of a made-up shot, worked out by hand.
#include "io/resin_use.hpp"
#include "support/closeness.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <string>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// 4 L in the part, a hose 2 m x 10 mm (0.15708 L), 10 % waste, 2 % catalyst, strokes of 0.3 L.
Case shot() {
  Case input = sample_case();
  input.problem.resin.density = 1100;
  input.problem.injector.line = {{2, 0.01}};
  input.resin.waste = 0.1;
  input.resin.catalyst = 0.02;
  input.resin.catalyst_density = 1170;
  input.machine.stroke_volume = 3e-4;
  return input;
}

} // namespace

TEST_CASE("resin, catalyst and strokes of a shot") {
  const ResinUse use = resin_use(shot(), sample_result());
  CHECK(use.in_part == 4e-3);
  CHECK(relative_error(use.hoses, 1.570796e-4) < 1e-6);
  CHECK(relative_error(use.waste, 4.157080e-4) < 1e-6); // a tenth of 4.15708 L
  CHECK(relative_error(use.to_mix, 4.572788e-3) < 1e-6);
  CHECK(relative_error(use.mass.value(), 5.030066) < 1e-6);
  CHECK(relative_error(use.catalyst_mass.value(), 0.0986287) < 1e-5); // 2 parts of 102
  CHECK(relative_error(use.catalyst_volume.value(), 8.42980e-5) < 1e-5);
  REQUIRE(use.strokes);
  CHECK(use.strokes->shot == 14); // 13.33
  CHECK(relative_error(use.strokes->remainder, 2e-4) < 1e-9);
  CHECK(use.strokes->hoses == 1);
}

TEST_CASE("whole strokes are not rounded up by rounding errors") {
  Case input = shot();
  input.machine.stroke_volume = 4e-4;
  const ResinUse use = resin_use(input, sample_result());
  CHECK(use.strokes->shot == 10);
  CHECK(use.strokes->remainder == 0);
  FillResult result = sample_result();
  result.gates[0].injected = result.injected = 4e-3 - 1.57e-17; // what rounding leaves
  CHECK(resin_use(input, result).strokes->remainder == 0);
}

TEST_CASE("quantities as they are said, and only where something was given") {
  const Case input = shot();
  const std::string text = resin_use_text(input, resin_use(input, sample_result()));
  CHECK(says(text, "To mix: 4.57 L (5.03 kg), of which 4.00 L for the part, 157 mL for the hoses, "
                   "416 mL as waste.\n"));
  CHECK(says(text, "Catalyst: 98.6 g (84.3 mL), 2 % by mass of the resin, to 4.93 kg of resin.\n"));
  CHECK(says(text, "Strokes of the pump: 14 of 300 mL, the last one 200 mL more than needed; 1 "
                   "before that to fill the hose."));
  CHECK(resin_use_text(sample_case(), resin_use(sample_case(), sample_result())).empty());
}

TEST_CASE("what the machine does not give") {
  Case input = shot();
  CHECK(machine_warnings(input, sample_result()).empty());
  input.problem.injector.pressure_cap.reset();
  input.machine.max_pressure = 1e5; // the head peaks at 1.2 bar
  REQUIRE(machine_warnings(input, sample_result()).size() == 1);
  CHECK(says(machine_warnings(input, sample_result()).front(), "The head reaches 1.20 bar"));
  input.machine.pressure_ratio = 2;
  input.machine.air_pressure = 5e4;
  CHECK(machine_warnings(input, sample_result()).size() == 2);
  input.problem.injector.flow_rate.reset();
  input.machine.max_flow_rate = 1e-9;
  CHECK(machine_warnings(input, sample_result()).size() == 3);
}

TEST_CASE("quantities for scripts") {
  const auto json = resin_use_json(resin_use(shot(), sample_result()));
  CHECK(json["in_part_m3"] == 4e-3);
  CHECK(json["strokes"]["shot"] == 14);
  CHECK(resin_use_json(resin_use(sample_case(), sample_result()))["strokes"].is_null());
}
