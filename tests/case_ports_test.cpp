// Injectors, gates, vents and the air of a case file; messages are in bad_input_test.cpp.
#include "support/small_case.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>

using namespace tidemark;
using namespace tidemark::small_case;

namespace {

const std::string part = head + two_regions;
const std::string resin = "[resin]\nviscosity = \"180 mPa.s\"\n";

/// A gate at the left end, called G1, with more keys.
std::string first_gate(const std::string& keys = "") {
  return "[[gate]]\nname = \"G1\"\nat = [0, 10, 0]\nradius = \"1 mm\"\n" + keys;
}

/// A gate in the middle, called G2, with more keys.
std::string second_gate(const std::string& keys) {
  return "[[gate]]\nname = \"G2\"\nat = [20, 10, 0]\nradius = \"1 mm\"\n" + keys;
}

/// The second of two gates.
Gate gate_with(const std::string& keys) {
  const Outcome outcome =
      outcome_of(part + resin_and_injector + first_gate() + second_gate(keys) + vent);
  CHECK(outcome.errors.empty());
  REQUIRE(outcome.problem.gates.size() == 2);
  return outcome.problem.gates[1];
}

Vent vent_with(const std::string& keys) {
  const Outcome outcome = outcome_of(part + resin_and_injector + gate + vent + keys);
  CHECK(outcome.errors.empty());
  REQUIRE(outcome.problem.vents.size() == 1);
  return outcome.problem.vents[0];
}

Injector injector_with(const std::string& keys) {
  const Outcome outcome = outcome_of(part + resin_and_injector + keys + gate + vent);
  CHECK(outcome.errors.empty());
  return outcome.problem.injector;
}

} // namespace

TEST_CASE("a line is one hose or several in a row") {
  CHECK(injector_with("").line.empty());
  const Injector one = injector_with("line = { length = \"2 m\", bore = \"8 mm\" }\n");
  REQUIRE(one.line.size() == 1);
  CHECK(is_near(one.line[0].length, 2));
  CHECK(is_near(one.line[0].bore, 0.008));
  const Injector two = injector_with("line = [ { length = \"2 m\", bore = \"8 mm\" },\n"
                                     "         { length = \"30 cm\", bore = \"6 mm\" } ]\n");
  REQUIRE(two.line.size() == 2);
  CHECK(is_near(two.line[1].length, 0.3));
  CHECK(is_near(two.line[1].bore, 0.006));
}

TEST_CASE("a line may be a table with a header of its own") {
  const Outcome outcome =
      outcome_of(part + resin_and_injector +
                 "[injector.line]\nlength = \"2 m\"\nbore = \"8 mm\"\n" + gate + vent);
  CHECK(outcome.errors.empty());
  REQUIRE(outcome.problem.injector.line.size() == 1);
  CHECK(is_near(outcome.problem.injector.line[0].length, 2));
}

TEST_CASE("a schedule keeps its order, times and volumes ascending each among themselves") {
  const Injector injector = injector_with(
      "schedule = [ { from_volume = \"1.5 L\", pressure_cap = \"2 bar\" },\n"
      "             { from_time = \"1 min\", flow_rate = \"2 L/min\", pressure_cap = \"1 bar\" },\n"
      "             { from_volume = \"2 L\", flow_rate = \"0.6 L/min\" } ]\n");
  CHECK(is_near(injector.flow_rate.value(), 2.5e-5));
  REQUIRE(injector.stages.size() == 3);
  CHECK(is_near(injector.stages[0].from_volume.value(), 1.5e-3));
  CHECK_FALSE(injector.stages[0].from_time.has_value());
  CHECK_FALSE(injector.stages[0].flow_rate.has_value());
  CHECK(is_near(injector.stages[0].pressure_cap.value(), 2e5));
  CHECK(is_near(injector.stages[1].from_time.value(), 60));
  CHECK_FALSE(injector.stages[1].from_volume.has_value());
  CHECK(is_near(injector.stages[1].flow_rate.value(), 2e-3 / 60));
  CHECK(is_near(injector.stages[1].pressure_cap.value(), 1e5));
  CHECK(is_near(injector.stages[2].flow_rate.value(), 1e-5));
  CHECK_FALSE(injector.stages[2].pressure_cap.has_value());
}

TEST_CASE("a gate has a drive of its own or hangs on the common injector") {
  CHECK_FALSE(gate_with("").own_injector.has_value());
  const Gate pump = gate_with("flow_rate = \"0.6 L/min\"\npressure_cap = \"1 bar\"\n"
                              "line = { length = \"2 m\", bore = \"8 mm\" }\n"
                              "schedule = [ { from_time = \"60 s\", flow_rate = \"1 L/min\" } ]\n");
  REQUIRE(pump.own_injector.has_value());
  CHECK(is_near(pump.own_injector->flow_rate.value(), 1e-5));
  CHECK(is_near(pump.own_injector->pressure_cap.value(), 1e5));
  CHECK(pump.own_injector->line.size() == 1);
  CHECK(pump.own_injector->stages.size() == 1);
}

TEST_CASE("a held pressure is a cap without a flow rate") {
  const Gate pot = gate_with("pressure = \"0.8 bar\"\n");
  REQUIRE(pot.own_injector.has_value());
  CHECK_FALSE(pot.own_injector->flow_rate.has_value());
  CHECK(is_near(pot.own_injector->pressure_cap.value(), 8e4));
}

TEST_CASE("the injector may be left out only if every gate has a drive of its own") {
  const std::string own = "pressure = \"1 bar\"\n";
  const Outcome without = outcome_of(part + resin + first_gate(own) + second_gate(own) + vent);
  CHECK(without.errors.empty());
  CHECK(without.warnings.empty());
  CHECK_FALSE(without.problem.injector.flow_rate.has_value());
  CHECK_FALSE(without.problem.injector.pressure_cap.has_value());
  CHECK(error_of(part + resin + first_gate() + second_gate(own) + vent) ==
        "case.toml:1: injector: found no such table, expected a table [injector] with flow_rate, "
        "pressure_cap or both");
}

TEST_CASE("gates open and close from the start, at a time, or when a port is reached") {
  const Gate always = gate_with("");
  CHECK_FALSE(always.opens.time.has_value());
  CHECK_FALSE(always.opens.reached.has_value());
  CHECK_FALSE(always.closes.time.has_value());
  CHECK_FALSE(always.closes.reached.has_value());
  const Gate timed = gate_with("opens_at = \"30 s\"\ncloses_at = \"1.5 min\"\n");
  CHECK(is_near(timed.opens.time.value(), 30));
  CHECK(is_near(timed.closes.time.value(), 90));
  const Gate waiting = gate_with("opens = \"when G1 is reached\"\n"
                                 "closes = \"when V1 is reached\"\n");
  CHECK(waiting.opens.reached.value() == PortRef{PortRef::Kind::gate, 0});
  CHECK(waiting.closes.reached.value() == PortRef{PortRef::Kind::vent, 0});
}

TEST_CASE("on arrival is when the gate itself is reached") {
  const PortRef itself{PortRef::Kind::gate, 1};
  CHECK(gate_with("opens = \"on arrival\"\n").opens.reached.value() == itself);
  CHECK(gate_with("opens = \"when G2 is reached\"\n").opens.reached.value() == itself);
}

TEST_CASE("a name with words in it can be waited for") {
  const Outcome outcome = outcome_of(
      part + resin_and_injector + first_gate() +
      second_gate("closes = \"when far end is reached is reached\"\n") +
      "[[vent]]\nname = \"far end is reached\"\ngroup = \"port\"\npressure = \"0 bar\"\n");
  CHECK(outcome.errors.empty());
  CHECK(outcome.problem.gates[1].closes.reached.value() == PortRef{PortRef::Kind::vent, 0});
}

TEST_CASE("a gate more than half an element from its node is told of, unless its port reaches it") {
  // The middle of a square of 10 mm is 7.07 mm from its corners, half its diagonal.
  const auto warnings_at = [](const std::string& at, const std::string& radius) {
    const std::string gate_there =
        "[[gate]]\nname = \"G1\"\nat = " + at + "\nradius = \"" + radius + "\"\n";
    const Outcome outcome = outcome_of(part + resin_and_injector + gate_there + vent);
    CHECK(outcome.errors.empty());
    return std::ranges::count_if(outcome.warnings, [](const std::string& warning) {
      return warning.find("more than half an element off") != std::string::npos;
    });
  };
  CHECK(warnings_at("[5, 5, 3]", "3 mm") == 1);
  CHECK(warnings_at("[5, 5, 3]", "8 mm") == 0);
  CHECK(warnings_at("[4, 5, 0]", "3 mm") == 0);
}

TEST_CASE("a gate and a vent share no name, whether or not another gate waits for it") {
  const std::string same = "[[vent]]\nname = \"G1\"\ngroup = \"port\"\npressure = \"0 bar\"\n";
  for (const std::string& other :
       {std::string(), second_gate("opens = \"when G1 is reached\"\n")}) {
    CHECK(error_of(part + resin_and_injector + first_gate() + other + same)
              .find("vent[G1].name: found \"G1\", which a gate has too") != std::string::npos);
  }
}

TEST_CASE("gates that open later at a time suffice, gates that all wait do not") {
  const Outcome later =
      outcome_of(part + resin_and_injector + first_gate("opens_at = \"5 s\"\n") + vent);
  CHECK(later.errors.empty());
  CHECK(error_of(part + resin_and_injector + first_gate("opens = \"when V1 is reached\"\n") + vent)
            .find("found no gate that opens without waiting for the front") != std::string::npos);
}

TEST_CASE("a gate may open at the start of injection and not close as it opens") {
  CHECK(gate_with("opens_at = \"0 s\"\n").opens.time.value() == 0);
  CHECK(outcome_of(part + resin_and_injector + first_gate() +
                   second_gate("opens_at = \"60 s\"\ncloses_at = \"1 min\"\n") + vent)
            .errors.size() == 1);
}

TEST_CASE("a vent closes on arrival, after a bleed, or never") {
  CHECK(vent_with("").bleed == 0);
  CHECK(vent_with("closes = \"on arrival\"\n").bleed == 0);
  CHECK(std::isinf(vent_with("closes = \"never\"\n").bleed));
  CHECK(is_near(vent_with("bleed = \"50 mL\"\n").bleed, 5e-5));
}

TEST_CASE("a vent has a line of its own") {
  const Vent vented =
      vent_with("bleed = \"50 mL\"\nline = { length = \"1 m\", bore = \"6 mm\" }\n");
  REQUIRE(vented.line.size() == 1);
  CHECK(is_near(vented.line[0].length, 1));
  CHECK(is_near(vented.line[0].bore, 0.006));
}

TEST_CASE("vents of different pressures keep theirs, with a warning") {
  const std::string other = "[[vent]]\nname = \"V2\"\nat = [30, 0, 0]\nradius = \"1 mm\"\n"
                            "pressure = \"-0.9 bar\"\n";
  const Outcome outcome = outcome_of(part + resin_and_injector + gate + vent + other);
  CHECK(outcome.errors.empty());
  CHECK(outcome.warnings.size() == 1);
  CHECK(is_near(outcome.problem.vents[0].pressure, -5e4));
  CHECK(is_near(outcome.problem.vents[1].pressure, -9e4));
  CHECK(is_near(outcome.problem.cavity_pressure, -9e4));
}

TEST_CASE("air is shut in unless the case says otherwise") {
  const std::string rest = part + resin_and_injector + gate + vent;
  CHECK(outcome_of(rest).problem.sealed_air);
  CHECK_FALSE(outcome_of(rest + "[cavity]\nsealed_air = false\n").problem.sealed_air);
  const Outcome given = outcome_of(rest + "[cavity]\nsealed_air = true\n");
  CHECK(given.problem.sealed_air);
  CHECK(given.warnings.empty());
  CHECK(value_of(given, "cavity.sealed_air").given);
}

TEST_CASE("without a vent air that is shut in brings a warning, vented air none") {
  const std::string rest = part + resin_and_injector + gate + "[cavity]\npressure = \"-0.9 bar\"\n";
  CHECK(outcome_of(rest).warnings.size() == 1);
  CHECK(outcome_of(rest + "sealed_air = false\n").warnings.empty());
}

TEST_CASE("the list of values has lines, schedules and moments") {
  const Outcome outcome = outcome_of(
      part + resin_and_injector + "line = { length = \"2 m\", bore = \"8 mm\" }\n" +
      "schedule = [ { from_time = \"60 s\", flow_rate = \"2 L/min\" } ]\n" + first_gate() +
      second_gate("pressure = \"1 bar\"\nopens = \"on arrival\"\ncloses_at = \"5 min\"\n") + vent +
      "bleed = \"50 mL\"\n");
  CHECK(outcome.errors.empty());
  CHECK(value_of(outcome, "injector.line.length").value == "2 m");
  CHECK(value_of(outcome, "injector.schedule[1].flow_rate").value == "2 L/min");
  CHECK(value_of(outcome, "gate[G1].opens").value == "from the start");
  CHECK_FALSE(value_of(outcome, "gate[G1].opens").given);
  CHECK(value_of(outcome, "gate[G1].closes").value == "never");
  CHECK(value_of(outcome, "gate[G2].pressure").value == "1 bar");
  CHECK(value_of(outcome, "gate[G2].opens").value == "on arrival");
  CHECK(value_of(outcome, "gate[G2].opens").given);
  CHECK(value_of(outcome, "gate[G2].closes_at").value == "5 min");
  CHECK(value_of(outcome, "gate[G2].closes").key.empty());
  CHECK(value_of(outcome, "vent[V1].bleed").value == "50 mL");
  CHECK(value_of(outcome, "vent[V1].closes").key.empty());
}
