// What is said of temperatures, of made-up results.
#include "io/gel_text.hpp"
#include "io/heat_text.hpp"
#include "io/summary.hpp"
#include "io/verdict_text.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <string>

using namespace tidemark;

namespace {

/// 12 degC into 40 degC, kinetics that gel after 20 min at the inlet's temperature.
Case heated_case() {
  Case input = sample_case();
  input.problem.resin = {0.4, 1100, 1200};
  input.problem.resin.laws = {ArrheniusViscosity{0.4, 285.15, 45e3}};
  CureKinetics kinetics;
  kinetics.rate_1 = {1e-3, 0};
  kinetics.gel_conversion = 0.6;
  input.problem.resin.laws.cure = kinetics;
  input.problem.heat = Heat{285.15, 313.15, 50, 1800, 800, 3e5};
  return input;
}

FillResult heated_result() {
  FillResult result = sample_result();
  result.age = AgeFacts{320, 600};
  result.heat =
      HeatFacts{NodeId(0), 341.25, 130, 306.15, 313.15, 0.35, 0.44, {-50, 80, -20, 49.9, 0}};
  return result;
}

} // namespace

TEST_CASE("temperatures in the verdict") {
  const std::string text = heat_text(heated_case(), heated_result());
  CHECK(says(text,
             "The resin comes in at 12 degC, the mould has 40 degC. At the end the resin has 33 "
             "degC in the mean, 40 degC at the place it came to last.\n"));
  CHECK(says(text, "It is hottest at about 2:10 min with 68.1 degC, at x "));
  CHECK(says(text, "Where it is nearest to the gel the resin has gone 44"));
  CHECK(says(text, "The cure has come to 35"));
  CHECK(says(text, "Heat balance: off by 0.001 of the heat exchanged.\n")); // 0.1 of 80
  CHECK(heat_text(sample_case(), sample_result()).empty());
  CHECK(says(gel_text(heated_case(), heated_result()),
             "it gels at 20:00 min if it keeps the temperature it comes in with."));
}

TEST_CASE("temperatures in check") {
  // exp(45e3 / 8.314463 (1/313.15 - 1/285.15)) = 0.18321; gel: -ln 0.4 / 1e-3 = 916.3 s.
  const std::string text = resin_in_mould_text(heated_case());
  CHECK(says(text, "In the mould, at 40 degC: 73.3 mPa.s when fresh, gels when 15:16 min old."));
  CHECK(resin_in_mould_text(sample_case()).empty());
}

TEST_CASE("resin that becomes too hot, and heat that is lost, are warned of") {
  Case input = heated_case();
  input.highest_temperature = 333.15;
  input.problem.resin.laws.highest = 328.15;
  const auto warnings = heat_warnings(input, heated_result());
  REQUIRE(warnings.size() == 3);
  CHECK(says(warnings[0], "The resin becomes too hot: 68.1 degC at about 2:10 min, at x "));
  CHECK(says(warnings[0], "more than the 60 degC of heat.highest_temperature"));
  CHECK(says(warnings[1],
             "The resin becomes 68.1 degC hot, beyond the data of [resin]: above 55 degC"));
  CHECK(says(warnings[2], "Heat is lost or made in the computation: 0.00125"));
  input.highest_temperature = 350;
  input.problem.resin.laws.highest = 400;
  FillResult sound = heated_result();
  sound.heat->balance.to_mould = 50;
  CHECK(heat_warnings(input, sound).empty());
  // More than 1 / 2 of the way to the gel is too close for a safety of 2, 0.44 is not.
  input.resin.gel_safety = 2;
  CHECK(gel_warnings(input, sound).empty());
  sound.heat->gel_share = 0.6;
  REQUIRE(gel_warnings(input, sound).size() == 1);
  CHECK(says(gel_warnings(input, sound).front(), "60.0 % of its way to the gel"));
}

TEST_CASE("temperatures in the summary") {
  const auto json = heat_json(heated_case(), heated_result());
  CHECK(json.at("inlet_temperature_k") == 285.15);
  CHECK(json.at("highest_temperature_k") == 341.25);
  CHECK(json.at("highest_temperature_time_s") == 130);
  CHECK(json.at("temperature_at_last_place_k") == 313.15);
  CHECK(json.at("largest_gel_share") == 0.44);
  CHECK(json.at("given_to_mould_j") == 49.9);
  CHECK(heat_json(sample_case(), sample_result()).is_null());
  CHECK(summarise(sample_case(), sample_result(), {1, 1}).at("heat").is_null());
}
