// Gravity and mould of a case file; messages are in bad_input_test.cpp.
#include "support/small_case.hpp"

#include <doctest/doctest.h>

#include <string>

using namespace tidemark;
using namespace tidemark::small_case;

namespace {

const std::string whole = head + two_regions + resin_and_injector + gate + vent;

FillProblem problem_with(const std::string& text) {
  Outcome outcome = outcome_of(whole + text);
  CHECK(outcome.errors.empty());
  CHECK(outcome.warnings.empty());
  return outcome.problem;
}

} // namespace

TEST_CASE("gravity is off unless the case has it") {
  CHECK_FALSE(problem_with("").gravity.has_value());
  CHECK_FALSE(problem_with("").mould.has_value());
}

TEST_CASE("gravity takes its direction, and the standard value unless another is given") {
  const Vector3 standard = problem_with("[gravity]\ndirection = [0, -3, -4]\n").gravity.value();
  CHECK((standard - 9.80665 * Vector3(0, -0.6, -0.8)).norm() < 1e-12);
  const Vector3 given =
      problem_with("[gravity]\ndirection = [2, 0, 0]\nacceleration = \"981 cm/s2\"\n")
          .gravity.value();
  CHECK((given - Vector3(9.81, 0, 0)).norm() < 1e-12);
}

TEST_CASE("under gravity resin may flow from a gate at the pressure of the air") {
  std::string text = whole;
  text.replace(text.find("1.2 bar"), 7, "-0.5 bar");
  CHECK(outcome_of(text).warnings.size() == 1);
  CHECK(outcome_of(text + "[gravity]\ndirection = [0, -1, 0]\n").warnings.empty());
  text.replace(text.find("-0.5 bar"), 8, "-0.6 bar");
  CHECK(outcome_of(text + "[gravity]\ndirection = [0, -1, 0]\n").warnings.size() == 1);
}

TEST_CASE("a direction may be of any length that is not zero") {
  const Vector3 small = problem_with("[gravity]\ndirection = [0, 0, -1e-300]\n").gravity.value();
  CHECK((small - Vector3(0, 0, -9.80665)).norm() < 1e-12);
  const Vector3 large =
      problem_with("[mould]\nclosing_direction = [0, 0, 1e300]\n").mould->closing_direction;
  CHECK((large - Vector3(0, 0, 1)).norm() < 1e-12);
}

TEST_CASE("a closing direction in the part is told, one that sees 2 % of it is not") {
  // A flat part seen at an angle a from its plane shows sin a of its area.
  const auto warnings = [](const char* direction) {
    return outcome_of(whole + "[mould]\nclosing_direction = " + direction + "\n").warnings;
  };
  CHECK(warnings("[1, 0, 0.0199]").size() == 1);
  CHECK(warnings("[0, 1, 0.0202]").empty());
}

TEST_CASE("what holds the mould shut is the clamp and the vacuum of the flange") {
  const std::string mould = "[mould]\nclosing_direction = [0, 0, 2]\n";
  const FillProblem none = problem_with(mould);
  CHECK((none.mould->closing_direction - Vector3(0, 0, 1)).norm() < 1e-12);
  CHECK(none.mould->hold_down_force == 0);
  CHECK(is_near(problem_with(mould + "clamp_force = \"20 kN\"\n").mould->hold_down_force, 2e4));
  // 0.9 bar on 0.25 m2 is 22.5 kN.
  const std::string flange = "flange_pressure = \"-0.9 bar\"\nflange_area = \"2500 cm2\"\n";
  CHECK(is_near(problem_with(mould + flange).mould->hold_down_force, 22500));
  CHECK(is_near(problem_with(mould + flange + "clamp_force = \"20 kN\"\n").mould->hold_down_force,
                42500));
  CHECK(problem_with(mould + "clamp_force = \"0 N\"\n").mould->hold_down_force == 0);
}

TEST_CASE("the flange cannot have less than nothing at the ambient given") {
  const std::string text = "ambient = \"800 hPa\"\n" + whole +
                           "[mould]\nclosing_direction = [0, 0, 1]\nflange_area = \"1 m2\"\n"
                           "flange_pressure = ";
  CHECK(outcome_of(text + "\"-800 hPa\"\n").errors.empty());
  CHECK(outcome_of(text + "\"-801 hPa\"\n").errors.size() == 1);
}

TEST_CASE("the list of values has gravity and mould") {
  const Outcome outcome = outcome_of(whole + "[gravity]\ndirection = [0, 0, -1]\n"
                                             "[mould]\nclosing_direction = [0, 0, 1]\n"
                                             "flange_pressure = \"-0.9 bar\"\n"
                                             "flange_area = \"0.25 m2\"\n");
  CHECK(value_of(outcome, "gravity.direction").value == "[0, 0, -1]");
  CHECK(value_of(outcome, "gravity.acceleration").value == "9.80665 m/s2");
  CHECK_FALSE(value_of(outcome, "gravity.acceleration").given);
  CHECK(value_of(outcome, "mould.closing_direction").value == "[0, 0, 1]");
  CHECK(value_of(outcome, "mould.flange_pressure").value == "-0.9 bar");
  CHECK(value_of(outcome, "mould.flange_area").value == "0.25 m2");
  CHECK(value_of(outcome, "mould.clamp_force").value == "none");
  CHECK_FALSE(value_of(outcome, "mould.clamp_force").given);
}
