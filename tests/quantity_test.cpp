// Sizes of units: SI Brochure (9th edition, 2019), tables 7 and 8 (bar, litre, minute, hour,
// degree); poise and darcy from memory; pound-force per square inch from memory.
#include "io/quantity.hpp"

#include "mesh/error.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <thread>
#include <vector>

using namespace tidemark;

namespace {

std::string refusal(const std::string& text, Dimension dimension) {
  try {
    parse_quantity(text, dimension);
  } catch (const InputError& error) {
    return error.what();
  }
  return "accepted";
}

void check_value(const std::string& text, Dimension dimension, double expected) {
  CAPTURE(text);
  // doctest's Approx is absolute below 1: a permeability of 1e-9 would equal nothing at all.
  CHECK(std::abs(parse_quantity(text, dimension) / expected - 1) < 1e-7);
}

} // namespace

TEST_CASE("the units of a case file come out in SI") {
  check_value("180 mPa.s", Dimension::viscosity, 0.18);
  check_value("0.18 Pa s", Dimension::viscosity, 0.18);
  check_value("0.18 Pa*s", Dimension::viscosity, 0.18);
  check_value("180 cP", Dimension::viscosity, 0.18);
  check_value("1.8 P", Dimension::viscosity, 0.18);
  check_value("0.18 N.s/m2", Dimension::viscosity, 0.18);
  check_value("1.5 L/min", Dimension::flow_rate, 2.5e-5);
  check_value("1.5 l/min", Dimension::flow_rate, 2.5e-5);
  check_value("1.5 L min-1", Dimension::flow_rate, 2.5e-5);
  check_value("1.5 L min^-1", Dimension::flow_rate, 2.5e-5);
  check_value("25 cm3/s", Dimension::flow_rate, 2.5e-5);
  check_value("25 cc/s", Dimension::flow_rate, 2.5e-5);
  check_value("25 mL/s", Dimension::flow_rate, 2.5e-5);
  check_value("1.2 bar", Dimension::pressure, 1.2e5);
  check_value("-0.5 bar", Dimension::pressure, -5e4);
  check_value("+1.2bar", Dimension::pressure, 1.2e5);
  check_value("1013.25 hPa", Dimension::pressure, 101325);
  check_value("500 mbar", Dimension::pressure, 5e4);
  check_value("10 psi", Dimension::pressure, 68947.57);
  check_value("760 mmHg", Dimension::pressure, 101325.0144);
  check_value("1.2 Bar", Dimension::pressure, 1.2e5);
  check_value("21 degC", Dimension::temperature, 294.15);
  check_value("21 °C", Dimension::temperature, 294.15);
  check_value("50 degF", Dimension::temperature, 283.15);
  check_value("294.15 K", Dimension::temperature, 294.15);
  check_value("3e-9 m2", Dimension::permeability, 3e-9);
  check_value("3E-9 m^2", Dimension::permeability, 3e-9);
  check_value("3e-9 m²", Dimension::permeability, 3e-9);
  check_value("3000 um2", Dimension::permeability, 3e-9);
  check_value("1000 darcy", Dimension::permeability, 9.869233e-10);
  check_value("25 min", Dimension::time, 1500);
  check_value("2 h", Dimension::time, 7200);
  check_value("90 s", Dimension::time, 90);
  check_value("4 mm", Dimension::length, 0.004);
  check_value("400 µm", Dimension::length, 4e-4);
  check_value("0.5 in", Dimension::length, 0.0127);
  check_value("180 deg", Dimension::angle, std::numbers::pi);
  check_value("180 °", Dimension::angle, std::numbers::pi);
  check_value("1 rad", Dimension::angle, 1);
  check_value("1.1 g/cm3", Dimension::density, 1100);
  check_value("450 g/m2", Dimension::areal_weight, 0.45);
  check_value("35 %", Dimension::fraction, 0.35);
  CHECK(std::abs(parse_unit("mm", Dimension::length) - 0.001) < 1e-15);
  CHECK(parse_unit("m", Dimension::length) == 1);
}

TEST_CASE("a quantity without its unit, or a unit without its number, is refused") {
  CHECK(refusal("1.2", Dimension::pressure) ==
        "found \"1.2\" without a unit, expected a pressure such as \"1.2 bar\"");
  CHECK(refusal("bar", Dimension::pressure) ==
        "found \"bar\", which does not start with a number, expected a pressure such as "
        "\"1.2 bar\"");
  CHECK(refusal("", Dimension::time) ==
        "found \"\", which does not start with a number, expected a time such as \"25 min\"");
  CHECK(refusal(" \t ", Dimension::time).starts_with("found"));
  CHECK(refusal("+-3 s", Dimension::time).starts_with("found"));
  CHECK(refusal("- 3 s", Dimension::time).starts_with("found"));
}

TEST_CASE("a unit of another dimension is refused and named") {
  CHECK(refusal("4 mm", Dimension::pressure) ==
        "found \"4 mm\", which is a length, expected a pressure such as \"1.2 bar\"");
  CHECK(refusal("180 cSt", Dimension::viscosity) ==
        "found \"180 cSt\", whose unit measures something else, expected a viscosity such as "
        "\"180 mPa.s\"");
  CHECK(refusal("25 m", Dimension::time) ==
        "found \"25 m\", which is a length, expected a time such as \"25 min\"");
  // Quirks of the unit library that would otherwise pass unseen.
  CHECK(refusal("250 1/m", Dimension::length).starts_with("found"));
  CHECK(refusal("250 m-1", Dimension::length).find("measures something else") != std::string::npos);
  CHECK(refusal("3 Hz", Dimension::time).find("a rate") != std::string::npos);
  CHECK(refusal("5 %", Dimension::angle).find("a fraction") != std::string::npos);
  CHECK(refusal("5 deg", Dimension::fraction).find("an angle") != std::string::npos);
  CHECK(refusal("1 L.deg/min", Dimension::flow_rate).find("something else") != std::string::npos);
  CHECK(refusal("5 Min", Dimension::time).find("a length") != std::string::npos);     // mega-inch
  CHECK(refusal("2 H", Dimension::time).find("something else") != std::string::npos); // henry
  CHECK(refusal("21 C", Dimension::temperature).find("something else") != std::string::npos);
  CHECK(refusal("1 gal/min", Dimension::flow_rate).find("something else") != std::string::npos);
  CHECK(refusal("180 mPa.S", Dimension::viscosity).find("something else") != std::string::npos);
  CHECK(refusal("10 lb/in2", Dimension::pressure).find("an areal weight") != std::string::npos);
  CHECK(refusal("3 kg/m.s", Dimension::viscosity).find("something else") != std::string::npos);
}

TEST_CASE("a unit nobody knows is refused") {
  CHECK(refusal("1.2 foo", Dimension::time) ==
        "found \"1.2 foo\", whose unit \"foo\" is not known, expected a time such as \"25 min\"");
  CHECK(refusal("1.2 barg", Dimension::pressure) ==
        "found \"1.2 barg\", whose unit \"barg\" is not known, expected a pressure such as "
        "\"1.2 bar\" (pressures are gauge without saying so: 0 bar = atmosphere)");
  for (const std::string text :
       {"1.2 bar abs", "1.2 bar(g)", "1.2 mpa", "1.2 Mpa", "1.2 kkPa", "1.2 bar\x01"}) {
    CAPTURE(text);
    CHECK(refusal(text, Dimension::pressure).find("is not known") != std::string::npos);
  }
}

TEST_CASE("words of machines and drums are known for what they mean") {
  const auto suggests = [](const char* text, Dimension dimension, const char* unit) {
    return refusal(text, dimension).find("(did you mean " + std::string(unit) + "?)") !=
           std::string::npos;
  };
  CHECK(suggests("1.5 lpm", Dimension::flow_rate, "L/min"));
  CHECK(suggests("20 C", Dimension::temperature, "degC"));
  CHECK(suggests("20 deg C", Dimension::temperature, "degC"));
  CHECK(suggests("68 F", Dimension::temperature, "degF"));
  CHECK(suggests("200 cps", Dimension::viscosity, "cP"));
  CHECK(suggests("450 gsm", Dimension::areal_weight, "g/m2"));
  CHECK(suggests("180 mPas", Dimension::viscosity, "mPa.s"));
  CHECK(!suggests("1.5 lpm", Dimension::pressure, "L/min"));
}

TEST_CASE("numbers and other things after the unit are refused") {
  for (const std::string text :
       {"1.2 bar 3", "1.2 3 bar", "1.2 bar/3", "1.2 bar.3", "1.2 bar -3", "1.2 bar @ 1", "1.2 bar;",
        "1.2 bar x", "1.2. bar", "1.2 lg(re bar)", "1.2 bar^", "1.2 bar^999999", "1.2 bar-",
        "1:30 bar", "1.2 /bar", "1.2 bar//s", "0x10 bar", "1.2 bar since 2000", "2 x 10^5 Pa"}) {
    CAPTURE(text);
    CHECK(refusal(text, Dimension::pressure).starts_with("found"));
  }
}

TEST_CASE("a decimal comma is pointed out") {
  CHECK(refusal("1,2 bar", Dimension::pressure) ==
        "found \"1,2 bar\" with a comma, expected a pressure such as \"1.2 bar\", with a decimal "
        "point");
}

TEST_CASE("a number that is not finite is refused") {
  for (const std::string text :
       {"nan bar", "inf bar", "-inf bar", "1e999 bar", "NAN bar", "1e308 bar"}) {
    CAPTURE(text);
    CHECK(refusal(text, Dimension::pressure).find("not a finite number") != std::string::npos);
  }
}

TEST_CASE("a unit that stands alone has no number") {
  CHECK_THROWS_WITH_AS(
      parse_unit("1 mm", Dimension::length),
      "found \"1 mm\", whose unit \"1 mm\" is not known, expected the unit of a length such as "
      "\"mm\"",
      InputError);
  CHECK_THROWS_WITH_AS(parse_unit("bar", Dimension::length),
                       "found \"bar\", which is a pressure, expected the unit of a length such as "
                       "\"mm\"",
                       InputError);
  CHECK_THROWS_AS(parse_unit("", Dimension::length), InputError);
}

TEST_CASE("quantities may be read by several threads at once") {
  std::vector<std::thread> threads;
  std::vector<double> sums(4, 0);
  for (double& sum : sums) {
    threads.emplace_back([&sum] {
      for (int i = 0; i < 200; ++i) {
        sum += parse_quantity("1 bar", Dimension::pressure);
      }
    });
  }
  for (std::thread& thread : threads) {
    thread.join();
  }
  for (const double sum : sums) {
    CHECK(sum == doctest::Approx(200 * 1e5));
  }
}

TEST_CASE("catalyst levels, energies and rates come out in SI") {
  check_value("1.5 %", Dimension::mass_share, 0.015);
  check_value("1.5 phr", Dimension::mass_share, 0.015);
  check_value("45 kJ/mol", Dimension::molar_energy, 45e3);
  check_value("10 kcal/mol", Dimension::molar_energy, 41868); // of the International Table
  check_value("0.06 min-1", Dimension::rate, 1e-3);
  check_value("2e-3 s^-1", Dimension::rate, 2e-3);
}
