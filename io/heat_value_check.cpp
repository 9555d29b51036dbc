#include "io/heat_value_check.hpp"

#include "io/raw_lookup.hpp"
#include "io/resin_value_check.hpp"
#include "io/value_range.hpp"
#include "io/wording.hpp"

#include <algorithm>

namespace tidemark {

namespace {

constexpr Limits wall_limits{
    0,
    1e7,
    1,
    1e4,
    "a heat transfer coefficient of 0 or more (up to 1e7 W/m2/K)",
    "1 W/m2/K to 10000 W/m2/K are usual; it is for both faces together, per area of the part"};
constexpr Limits specific_heat_limits{
    1,
    1e5,
    300,
    5000,
    "a specific heat above 0 (from 1 J/kg/K to 1e5 J/kg/K)",
    "300 J/kg/K to 5000 J/kg/K are usual; is the unit right (J/kg/K, kJ/kg/K)?"};
constexpr Limits fibre_density_limits{
    1,
    1e5,
    500,
    10000,
    "a density above 0 (from 1 kg/m3 to 1e5 kg/m3)",
    "500 kg/m3 to 10000 kg/m3 are usual; it is that of the fibres themselves, not of the fabric"};
constexpr Limits heat_of_cure_limits{0,
                                     1e7,
                                     1e4,
                                     1e6,
                                     "a heat of 0 or more (up to 1e7 J/kg)",
                                     "10 kJ/kg to 1000 kJ/kg are usual; it is per mass of resin"};

void check_fibre_density(const RawCase& raw, Findings& findings) {
  const RawHeat& heat = *raw.heat;
  const auto bare = std::ranges::find_if(raw.regions, [](const RawRegion& region) {
    return std::holds_alternative<DirectPermeability>(region.reinforcement);
  });
  if (bare != raw.regions.end() && !heat.has_fibre_density) {
    add_error(findings, heat.line, "heat.fibre_density",
              "found no such key, expected the density of the fibres themselves such as \"2550 "
              "kg/m3\", since " +
                  bare->key + " has no layup that tells it");
  } else if (bare == raw.regions.end() && heat.fibre_density) {
    add_warning(findings, heat.fibre_density->line, "heat.fibre_density",
                "found " + quoted_text(heat.fibre_density->text) +
                    ", which changes nothing: every region has a layup of fabrics with their own");
  }
}

void check_heat_of_cure(const RawCase& raw, Findings& findings) {
  const RawHeat& heat = *raw.heat;
  if (raw.resin.cure && !heat.has_heat_of_cure) {
    add_error(findings, heat.line, "heat.heat_of_cure",
              "found no such key, expected the heat that the resin gives off as it cures through "
              "such as \"300 kJ/kg\", since resin.cure is given");
  } else if (!raw.resin.cure && heat.heat_of_cure) {
    add_error(findings, heat.heat_of_cure->line, "heat.heat_of_cure",
              "found it without resin.cure, expected the kinetics that tell when that heat is "
              "given off, such as { law = \"first-order\", rate = \"0.001 s-1\", gel_conversion = "
              "0.6 }");
  }
}

void check_highest_temperature(const RawCase& raw, Findings& findings) {
  const RawHeat& heat = *raw.heat;
  check_range(heat.highest_temperature, "heat.highest_temperature", temperature_limits, findings);
  if (!heat.highest_temperature || !heat.mould_temperature || !raw.temperature) {
    return;
  }
  const double highest = std::max(heat.mould_temperature->value, raw.temperature->value);
  if (!(heat.highest_temperature->value > highest)) {
    add_error(findings, heat.highest_temperature->line, "heat.highest_temperature",
              "found " + quoted_text(heat.highest_temperature->text) +
                  ", expected a temperature above those of mould and resin");
  }
}

/// Data that are the same at any temperature.
void warn_of_constant_data(const RawCase& raw, Findings& findings) {
  const RawResin& resin = raw.resin;
  const int line = raw.heat->line;
  if (what_needs_temperature(resin).empty()) {
    add_warning(findings, line, "heat",
                "found no value of [resin] that depends on the temperature: it then changes "
                "neither viscosity nor gel");
    return;
  }
  if (resin.gel_time) {
    add_warning(findings, resin.gel_time->line, "resin.gel_time",
                "found " + quoted_text(resin.gel_time->text) +
                    ", which is the same at any temperature: with [heat] a table or resin.cure "
                    "tells more");
  }
  const std::string law = resin.law && resin.law->law ? resin.law->law->value : "";
  if (law == "exponential" || (law == "table" && resin.law->is_over_age())) {
    add_warning(findings, resin.law->line, resin.law->key,
                "found the law " + quoted_text(law) +
                    ", in which the resin thickens as fast at any temperature: with [heat] "
                    "\"power-to-gel\" or \"cure\" tells more");
  }
}

} // namespace

void check_heat(const RawCase& raw, Findings& findings) {
  if (!raw.heat) {
    return;
  }
  const RawHeat& heat = *raw.heat;
  check_range(heat.mould_temperature, "heat.mould_temperature", temperature_limits, findings);
  check_range(heat.wall_coefficient, "heat.wall_coefficient", wall_limits, findings);
  check_range(heat.resin_specific_heat, "heat.resin_specific_heat", specific_heat_limits, findings);
  check_range(heat.fibre_specific_heat, "heat.fibre_specific_heat", specific_heat_limits, findings);
  check_range(heat.fibre_density, "heat.fibre_density", fibre_density_limits, findings);
  check_range(heat.heat_of_cure, "heat.heat_of_cure", heat_of_cure_limits, findings);
  check_fibre_density(raw, findings);
  check_heat_of_cure(raw, findings);
  check_highest_temperature(raw, findings);
  if (heat.mould_temperature && heat.mould_temperature->value >= temperature_limits.low) {
    check_laws_within(raw, heat.mould_temperature, "heat.mould_temperature", findings);
  }
  if (!raw.resin.has_density) {
    add_error(findings, heat.line, "resin.density",
              "found no such key, expected a density such as \"1100 kg/m3\", since [heat] needs "
              "what heat the resin holds");
  }
  if (!raw.has_temperature && what_needs_temperature(raw.resin).empty()) { // else missed already
    add_error(findings, heat.line, "temperature",
              "found no such key, expected the temperature of the resin at the gates such as \"21 "
              "degC\", since [heat] is given");
  }
  warn_of_constant_data(raw, findings);
}

std::optional<Heat> make_heat(const RawCase& raw) {
  if (!raw.heat) {
    return std::nullopt;
  }
  const RawHeat& heat = *raw.heat;
  return Heat{value_or_zero(raw.temperature),          value_or_zero(heat.mould_temperature),
              value_or_zero(heat.wall_coefficient),    value_or_zero(heat.resin_specific_heat),
              value_or_zero(heat.fibre_specific_heat), value_or_zero(heat.heat_of_cure)};
}

} // namespace tidemark
