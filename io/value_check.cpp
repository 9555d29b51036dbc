// Ranges of the values of a case, one by one and against each other, without the mesh.
#include "io/case_check.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace tidemark {

namespace {

/// Outside low to high nothing can be computed (numbers overflow); outside usual_low to usual_high
/// a slip of the unit is likelier than the value. The usual ranges are the trade's as remembered:
/// common practice, no source.
struct Limits {
  double low;
  double high;
  double usual_low;
  double usual_high;
  const char* expected;
  const char* advice;
};

constexpr Limits thickness_limits{1e-7,
                                  10,
                                  1e-4,
                                  0.2,
                                  "a thickness above 0 (from 1e-7 m to 10 m)",
                                  "0.1 mm to 200 mm are usual; is the unit right (mm, cm, m)?"};
constexpr Limits permeability_limits{
    1e-25,
    1,
    1e-15,
    1e-4,
    "a permeability above 0 (from 1e-25 m2 to 1 m2)",
    "1e-15 m2 to 1e-4 m2 are usual; is the unit right (1 mm2 = 1e-6 m2, 1 darcy = 1e-12 m2)?"};
constexpr Limits viscosity_limits{1e-7,
                                  1e7,
                                  1e-4,
                                  1e3,
                                  "a viscosity above 0 (from 1e-7 Pa.s to 1e7 Pa.s)",
                                  "0.1 mPa.s to 1000 Pa.s are usual; is the unit right (mPa.s is a "
                                  "thousandth, MPa.s a million)?"};
constexpr Limits density_limits{
    1,
    1e5,
    500,
    3000,
    "a density above 0 (from 1 kg/m3 to 1e5 kg/m3)",
    "500 kg/m3 to 3000 kg/m3 are usual; is the unit right (1 g/cm3 = 1000 kg/m3)?"};
constexpr Limits gel_time_limits{1e-3,
                                 1e9,
                                 10,
                                 7 * 86400.0,
                                 "a time above 0 (from 1e-3 s to 1e9 s)",
                                 "10 s to 7 days are usual; is the unit right (s, min, h)?"};
constexpr Limits flow_rate_limits{
    1e-15,
    100,
    1e-8,
    5e-3,
    "a flow rate above 0 (from 1e-15 m3/s to 100 m3/s)",
    "0.6 mL/min to 300 L/min are usual; is the unit right (L/min, cm3/s)?"};
constexpr Limits pressure_limits{
    -1e9,
    1e9,
    -1e9,
    1e7,
    "a gauge pressure of at most 1e4 bar",
    "up to 100 bar are usual; is the unit right (1 MPa = 10 bar, 100 kPa = 1 bar)?"};
constexpr Limits ambient_limits{
    1,
    1e7,
    5e4,
    1.1e5,
    "an absolute pressure above 0 (from 1 Pa to 100 bar)",
    "500 hPa to 1100 hPa are usual; ambient is the absolute pressure of the air around the mould"};
constexpr Limits temperature_limits{
    1e-3,
    1000,
    273.14,
    473.16,
    "a temperature above absolute zero (up to 1000 K)",
    "0 degC to 200 degC are usual; is the unit right (degC, K, degF)?"};
constexpr double turn = 2 * std::numbers::pi;
constexpr Limits angle_limits{-1e4,
                              1e4,
                              -turn * 1.001,
                              turn * 1.001,
                              "an angle of at most 1e4 rad",
                              "up to 360 deg are usual; is the unit right (deg, rad)?"};
constexpr Limits porosity_limits{
    1e-6,
    1,
    0.1,
    1,
    "a number above 0 and at most 1 (from 1e-6)",
    "0.1 to 1 are usual; porosity is the part of the cavity that fibres do not take"};
constexpr Limits radius_limits{1e-7, 100, 1e-7, 100, "a radius above 0 (from 1e-7 m to 100 m)", ""};
constexpr Limits time_limit_limits{1e-6, 1e9, 1e-6, 1e9, "a time above 0 (from 1e-6 s to 1e9 s)",
                                   ""};
constexpr Limits mesh_unit_limits{1e-9,
                                  1e3,
                                  1e-6,
                                  1,
                                  "the unit of a length from 1e-9 m to 1000 m such as \"mm\"",
                                  "mm, cm, m, inch or foot are usual"};

void check_number(double value, int line, const std::string& key, const std::string& found,
                  const Limits& limits, Findings& findings) {
  if (!(value >= limits.low && value <= limits.high)) {
    const bool may_be_a_slip = value > limits.high && limits.advice[0] != '\0';
    add_error(findings, line, key,
              "found " + found + ", expected " + limits.expected +
                  (may_be_a_slip ? std::string("; ") + limits.advice : ""));
  } else if (value < limits.usual_low || value > limits.usual_high) {
    add_warning(findings, line, key, "found " + found + ", which is unusual: " + limits.advice);
  }
}

void check(const Maybe<double>& given, const std::string& key, const Limits& limits,
           Findings& findings) {
  if (given) {
    check_number(given->value, given->line, key, quoted_text(given->text), limits, findings);
  }
}

/// The default if it is not given, or so wrong that nothing should be compared with it.
double ambient_of(const RawCase& raw) {
  return raw.ambient && raw.ambient->value > 0 ? raw.ambient->value : 101325;
}

void check_pressure(const RawCase& raw, const Maybe<double>& given, const std::string& key,
                    Findings& findings) {
  const double vacuum = -ambient_of(raw);
  const bool below_vacuum = given && given->value < vacuum * (1 + 1e-9);
  if (below_vacuum) {
    add_error(findings, given->line, key,
              "found " + quoted_text(given->text) +
                  ", expected a gauge pressure not below vacuum (" + shortest(vacuum / 1e5) +
                  " bar gauge at this ambient)");
  } else {
    check(given, key, pressure_limits, findings);
  }
}

void check_directions(const RawRegion& region, const std::vector<double>& permeability,
                      Findings& findings) {
  const bool is_anisotropic = permeability.size() == 2 && permeability[0] != permeability[1];
  if (region.direction && region.direction->value.isZero(0)) {
    add_error(findings, region.direction->line, region.key + ".direction",
              "found " + region.direction->text + ", expected a direction that is not zero");
  }
  if (is_anisotropic && !region.has_direction) {
    add_error(findings, region.line, region.key + ".direction",
              "found no such key, expected where K1 points such as [1, 0, 0], since K1 and K2 "
              "differ");
  }
}

void check_permeability(const RawRegion& region, const Given<std::vector<double>>& given,
                        Findings& findings) {
  const std::string key = region.key + ".permeability";
  const bool is_list = given.text.starts_with('[');
  const std::string found = is_list ? given.text : quoted_text(given.text);
  for (const double value : given.value) {
    check_number(value, given.line, key, found, permeability_limits, findings);
  }
  if (given.value.size() < 2 || !(given.value[0] > 0) || !(given.value[1] > 0)) {
    return;
  }
  if (given.value[1] > given.value[0]) {
    add_warning(findings, given.line, key,
                "found " + found +
                    " with K2 above K1: by convention K1 is the larger; the values "
                    "are used as given");
  }
  const auto [small, large] = std::minmax(given.value[0], given.value[1]);
  if (large > 1e4 * small) {
    add_warning(findings, given.line, key,
                "found " + found +
                    " with a ratio above 1e4, which is unusual: are both units right?");
  }
}

void check_reinforcement(const RawRegion& region, const DirectPermeability& direct,
                         Findings& findings) {
  if (direct.permeability) {
    check_permeability(region, *direct.permeability, findings);
    check_directions(region, direct.permeability->value, findings);
  }
  if (direct.porosity) {
    check_number(direct.porosity->value, direct.porosity->line, region.key + ".porosity",
                 direct.porosity->text, porosity_limits, findings);
  }
}

void check_region(const RawRegion& region, Findings& findings) {
  check(region.thickness, region.key + ".thickness", thickness_limits, findings);
  check(region.angle, region.key + ".angle", angle_limits, findings);
  if (const auto* direct = std::get_if<DirectPermeability>(&region.reinforcement)) {
    check_reinforcement(region, *direct, findings);
  }
}

void check_gate(const RawPort& gate, Findings& findings) {
  check(gate.radius, gate.key + ".radius", radius_limits, findings);
  if (gate.at && !gate.radius) {
    add_warning(findings, gate.line, gate.key,
                "found a gate at one node: its pressure and time depend on the mesh; give the "
                "radius of the port");
  }
}

/// One dry cavity has one pressure in this version.
void check_vents_agree(const RawCase& raw, Findings& findings) {
  const auto first = std::ranges::find_if(
      raw.vents, [](const RawPort& vent) { return vent.pressure.has_value(); });
  for (const RawPort& vent : raw.vents) {
    if (vent.pressure &&
        std::abs(vent.pressure->value - first->pressure->value) > 1e-9 * ambient_of(raw)) {
      add_error(findings, vent.pressure->line, vent.key + ".pressure",
                "found " + quoted_text(vent.pressure->text) + ", expected " +
                    quoted_text(first->pressure->text) + " as for " + first->key +
                    ": in this version all vents have one pressure");
    }
  }
}

void compare_with_cavity(const RawCase& raw, const Given<double>& vent_pressure,
                         Findings& findings) {
  if (raw.cavity_pressure &&
      std::abs(raw.cavity_pressure->value - vent_pressure.value) > 1e-9 * ambient_of(raw)) {
    add_warning(findings, raw.cavity_pressure->line, "cavity.pressure",
                "found " + quoted_text(raw.cavity_pressure->text) +
                    ", which is not used: the vents "
                    "hold the dry cavity at " +
                    quoted_text(vent_pressure.text));
  }
}

void check_cap(const RawCase& raw, Findings& findings) {
  const Maybe<double> front = raw.vents.empty() ? raw.cavity_pressure : raw.vents.front().pressure;
  if (raw.pressure_cap && front && raw.pressure_cap->value <= front->value) {
    add_warning(findings, raw.pressure_cap->line, "injector.pressure_cap",
                "found " + quoted_text(raw.pressure_cap->text) +
                    ", which is not above the pressure of "
                    "the dry cavity (" +
                    quoted_text(front->text) + "): no resin will flow");
  }
}

void check_air(const RawCase& raw, Findings& findings) {
  check_vents_agree(raw, findings);
  check_cap(raw, findings);
  if (!raw.vents.empty() && raw.vents.front().pressure) {
    compare_with_cavity(raw, *raw.vents.front().pressure, findings);
  }
  if (raw.sealed_air && raw.sealed_air->value) {
    add_warning(findings, raw.sealed_air->line, "cavity.sealed_air",
                "found true, which this version cannot follow: it keeps every dry place vented, so "
                "air that is shut in neither resists nor leaves a dry spot");
  }
}

} // namespace

void check_values(const RawCase& raw, Findings& findings) {
  check(raw.ambient, "ambient", ambient_limits, findings);
  check(raw.temperature, "temperature", temperature_limits, findings);
  check(raw.mesh_unit, "part.mesh_unit", mesh_unit_limits, findings);
  for (const RawRegion& region : raw.regions) {
    check_region(region, findings);
  }
  check(raw.viscosity, "resin.viscosity", viscosity_limits, findings);
  check(raw.density, "resin.density", density_limits, findings);
  check(raw.gel_time, "resin.gel_time", gel_time_limits, findings);
  check(raw.flow_rate, "injector.flow_rate", flow_rate_limits, findings);
  check_pressure(raw, raw.pressure_cap, "injector.pressure_cap", findings);
  for (const RawPort& gate : raw.gates) {
    check_gate(gate, findings);
  }
  for (const RawPort& vent : raw.vents) {
    check(vent.radius, vent.key + ".radius", radius_limits, findings);
    check_pressure(raw, vent.pressure, vent.key + ".pressure", findings);
  }
  check_pressure(raw, raw.cavity_pressure, "cavity.pressure", findings);
  check(raw.time_limit, "run.time_limit", time_limit_limits, findings);
  check_air(raw, findings);
}

} // namespace tidemark
