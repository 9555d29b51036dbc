// The resin of a case file as it comes out in the problem.
#include "io/shop_units.hpp"
#include "support/closeness.hpp"
#include "tests/support/small_case.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

using namespace tidemark;
using namespace tidemark::test;
using namespace tidemark::small_case;

namespace {

Outcome outcome_with(const std::string& resin, const std::string& injector = "mixing = \"batch\"") {
  const std::string temperature = "temperature = \"20 degC\"\n";
  return outcome_of(temperature + head + two_regions + "[resin]\n" + resin +
                    "\n[injector]\nflow_rate = \"1.5 L/min\"\n" + injector + "\n" + gate + vent);
}

Resin resin_with(const std::string& resin, const std::string& injector = "mixing = \"batch\"") {
  const Outcome outcome = outcome_with(resin, injector);
  REQUIRE(outcome.errors.empty());
  return outcome.problem.resin;
}

} // namespace

TEST_CASE("a constant viscosity stays what it was") {
  const Resin resin = resin_with("viscosity = \"180 mPa.s\"\ngel_time = \"25 min\"", "");
  CHECK(resin.viscosity == 0.18);
  CHECK(resin.gel_time == 1500.0);
  CHECK_FALSE(thickens(resin));
  CHECK(resin.mixing == Mixing::batch);
  CHECK(resin.mixed_before == 0);
}

TEST_CASE("viscosity over the temperature") {
  // Half-way between 15 and 25 degC: the geometric mean.
  CHECK(relative_error(
            resin_with("viscosity = { law = \"table\", temperature = [\"15 degC\", \"25 degC\"], "
                       "viscosity = [\"400 mPa.s\", \"100 mPa.s\"] }")
                .viscosity,
            0.2) < 1e-12);
  // 0.1 Pa s at 25 degC, 45 kJ/mol: exp(45000 / 8.31446 (1/293.15 - 1/298.15)) = 1.362914.
  CHECK(relative_error(
            resin_with("viscosity = { law = \"arrhenius\", viscosity = \"100 mPa.s\", at = \"25 "
                       "degC\", activation_energy = \"45 kJ/mol\", valid = [\"15 degC\", \"35 "
                       "degC\"] }")
                .viscosity,
            0.1 * std::exp(45000 / 8.314462618 * (1 / 293.15 - 1 / 298.15))) < 1e-9);
}

TEST_CASE("viscosity over the age") {
  const Resin fast = resin_with(
      "viscosity = { law = \"exponential\", initial = \"200 mPa.s\", time_constant = \"5 min\" }",
      "mixing = \"inline\"");
  CHECK(relative_error(viscosity_at(fast, 300), 0.2 * std::exp(1.0)) < 1e-12);
  CHECK(fast.mixing == Mixing::inline_head);
  const Resin power = resin_with("viscosity = { law = \"power-to-gel\", initial = \"200 mPa.s\", "
                                 "exponent = 2 }\ngel_time = \"15 min\"",
                                 "mixing = \"batch\"\nmixed_before = \"2 min\"");
  CHECK(relative_error(viscosity_at(power, 450), 0.8) < 1e-12);
  CHECK(power.mixed_before == 120);
  const Resin table = resin_with("viscosity = { law = \"table\", age = [\"0 s\", \"10 min\"], "
                                 "viscosity = [\"100 mPa.s\", \"400 mPa.s\"] }");
  CHECK(relative_error(viscosity_at(table, 300), 0.2) < 1e-12);
  CHECK(relative_error(table.viscosity, 0.1) < 1e-12);
}

TEST_CASE("cure gives gel and viscosity") {
  const Resin resin = resin_with(
      "viscosity = { law = \"cure\", initial = \"200 mPa.s\", exponents = [1, 0] }\n"
      "cure = { law = \"first-order\", rate = \"0.06 min-1\", gel_conversion = \"60 %\" }");
  CHECK(relative_error(resin.gel_time.value(), 916.290732) < 1e-8); // ln 2.5 / 1e-3
  // At half the way in ln: alpha = 1 - exp(-0.3) = 0.259182; 0.6 / (0.6 - alpha) = 1.760449.
  CHECK(relative_error(viscosity_at(resin, 300), 0.2 * 0.6 / (0.6 - 0.2591817793)) < 1e-8);
}

TEST_CASE("gel time over temperature and catalyst") {
  const std::string table =
      "viscosity = \"180 mPa.s\"\ngel_time = { temperature = [\"15 degC\", \"25 degC\"], catalyst "
      "= "
      "[\"1 %\", \"2 %\"], time = [[\"40 min\", \"20 min\"], [\"20 min\", \"10 min\"]] }\n";
  // In the middle of both: 20 min; at 1 phr and 20 degC sqrt(40 x 20) min.
  CHECK(relative_error(resin_with(table + "catalyst = \"1.5 %\"", "").gel_time.value(), 1200) <
        1e-12);
  CHECK(relative_error(resin_with(table + "catalyst = \"1 phr\"", "").gel_time.value(),
                       60 * std::sqrt(800.0)) < 1e-12);
  const Outcome outcome = outcome_with(table + "catalyst = \"1.5 %\"", "");
  CHECK(value_of(outcome, "temperature").value == "20 degC"); // used, not for the record
  CHECK(value_of(outcome, "resin.gel_time.time").value ==
        "[[\"40 min\", \"20 min\"], [\"20 min\", \"10 min\"]]");
}

TEST_CASE("the machine may stand alone where every gate has a drive of its own") {
  const std::string own_gate = "[[gate]]\nname = \"G1\"\nat = [1, 9, 0]\nradius = \"11 "
                               "mm\"\nflow_rate = \"1 L/min\"\n";
  const Outcome outcome =
      outcome_of(head + two_regions +
                 "[resin]\nviscosity = { law = \"exponential\", initial = \"200 mPa.s\", "
                 "time_constant = \"5 min\" }\n[injector]\nmixing = \"inline\"\n" +
                 own_gate + vent);
  CHECK(outcome.errors.empty());
  CHECK(outcome.problem.resin.mixing == Mixing::inline_head);
}

TEST_CASE("viscosities as they are said") {
  CHECK(as_viscosity(0.18) == "180 mPa.s");
  CHECK(as_viscosity(0.0005) == "0.500 mPa.s");
  CHECK(as_viscosity(2.145) == "2.15 Pa.s");
  CHECK(as_viscosity(33.3) == "33.3 Pa.s");
}
