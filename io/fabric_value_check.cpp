#include "io/fabric_value_check.hpp"

#include "io/number_text.hpp"
#include "io/raw_lookup.hpp"
#include "io/shop_units.hpp"
#include "io/value_range.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <array>
#include <functional>

namespace tidemark {

namespace {

constexpr Limits areal_weight_limits{1e-4,
                                     1e3,
                                     0.01,
                                     5,
                                     "an areal weight above 0 (from 1e-4 kg/m2 to 1000 kg/m2)",
                                     "10 g/m2 to 5000 g/m2 are usual; is the unit right (g/m2)?"};
constexpr Limits fibre_density_limits{
    10,
    1e5,
    800,
    4000,
    "a density above 0 (from 10 kg/m3 to 1e5 kg/m3)",
    "800 kg/m3 to 4000 kg/m3 are usual; it is that of the fibres themselves, without air"};
constexpr Limits locking_limits{1e-3,
                                std::numbers::pi / 2 * (1 + 1e-12),
                                10 * std::numbers::pi / 180,
                                80 * std::numbers::pi / 180,
                                "an angle above 0 (from 0.001 rad to 90 deg)",
                                "10 deg to 80 deg are usual; is the unit right (deg, rad)?"};
constexpr Limits fibre_radius_limits{
    1e-8,
    1e-2,
    1e-6,
    1e-4,
    "a fibre radius above 0 (from 1e-8 m to 10 mm)",
    "1 um to 100 um are usual; it is half the diameter of a fibre"};
constexpr Limits kozeny_limits{
    1e-4, 1e6, 0.05, 50, "a number above 0 (from 1e-4 to 1e6)", "0.05 to 50 are usual"};
constexpr Limits exponent_limits{
    -50,
    -1e-3,
    -12,
    -1,
    "a number below 0 (from -50 to -0.001): K falls as the fibres close up",
    "-1 to -12 are usual"};
constexpr Limits compaction_exponent_limits{
    1e-3,
    2,
    0.01,
    0.6,
    "a number above 0 (from 0.001 to 2): the fibres close up as the pressure rises",
    "0.01 to 0.6 are usual"};
constexpr Limits fraction_limits{1e-3,
                                 0.99,
                                 0.02,
                                 0.85,
                                 "a fibre volume fraction above 0 and below 1 (from 0.001 to 0.99)",
                                 "0.02 to 0.85 are usual"};
constexpr Limits fibre_pressure_limits{
    1e-3,
    1e9,
    1,
    2e7,
    "a pressure above 0 (from 1e-3 Pa to 1e4 bar) on the fibres",
    "1 Pa to 200 bar are usual; is the unit right (1 MPa = 10 bar, 100 kPa = 1 bar)?"};

bool is_ascending(const std::vector<double>& values) {
  return std::ranges::adjacent_find(values, std::greater_equal<>()) == values.end();
}

/// A column of a table that must rise from each line to the next; as_text says one of its values.
void check_ascending(const Maybe<std::vector<double>>& given, const std::string& key,
                     const char* what, std::string (*as_text)(double), Findings& findings) {
  if (given && given->value.size() < 2) {
    add_error(findings, given->line, key, "found a single value, expected a list of two or more");
  } else if (given && !is_ascending(given->value)) {
    const auto at = std::ranges::adjacent_find(given->value, std::greater_equal<>());
    add_error(findings, given->line, key,
              "found " + as_text(*(at + 1)) + " after " + as_text(*at) + ", expected " + what +
                  " that rise from each to the next");
  }
}

void check_length(const Maybe<std::vector<double>>& given, const std::string& key,
                  std::size_t expected, const char* column, Findings& findings) {
  if (given && expected > 1 && given->value.size() != expected) {
    add_error(findings, given->line, key,
              "found " + std::to_string(given->value.size()) + " values, expected " +
                  std::to_string(expected) + ", one for each " + column);
  }
}

void warn_of_rise(const Maybe<std::vector<double>>& given, const std::string& key,
                  Findings& findings) {
  if (given &&
      std::ranges::adjacent_find(given->value, std::less_equal<>()) != given->value.end()) {
    add_warning(findings, given->line, key,
                "found " + found_list(given->text) +
                    ", which does not fall from each to the next, which is unusual: K falls as the "
                    "fibres close up");
  }
}

void check_table(const RawPermeabilityLaw& law, Findings& findings) {
  const std::string fractions_key = law.key + ".fibre_volume_fraction";
  check_ascending(law.fibre_volume_fraction, fractions_key, "fibre volume fractions", plain_number,
                  findings);
  if (!law.fibre_volume_fraction) {
    return;
  }
  const std::size_t count = law.fibre_volume_fraction->value.size();
  check_length(law.k1, law.key + ".k1", count, "fibre volume fraction", findings);
  check_length(law.k2, law.key + ".k2", count, "fibre volume fraction", findings);
  warn_of_rise(law.k1, law.key + ".k1", findings);
  warn_of_rise(law.k2, law.key + ".k2", findings);
}

Packing packing_of(const RawPermeabilityLaw& law) {
  return law.packing->value == "square" ? Packing::square : Packing::hexagonal;
}

/// Fibres of the array touch before the end of the range.
void check_packing(const RawPermeabilityLaw& law, Findings& findings) {
  if (!law.packing || !law.valid) {
    return;
  }
  const double closest = closest_packing(packing_of(law));
  if (law.valid->value[1] >= closest) {
    add_error(findings, law.valid->line, law.key + ".valid",
              "found " + law.valid->text + ", expected an end below " + plain_number(closest) +
                  ", where " + law.packing->value + " fibres touch");
  }
}

void check_law_ranges(const RawPermeabilityLaw& law, Findings& findings) {
  check_ranges(law.value, law.key + ".value", permeability_limits, findings);
  check_ranges(law.factor, law.key + ".factor", permeability_limits, findings);
  check_ranges(law.constant, law.key + ".constant", permeability_limits, findings);
  check_ranges(law.k1, law.key + ".k1", permeability_limits, findings);
  check_ranges(law.k2, law.key + ".k2", permeability_limits, findings);
  check_numbers(law.exponent, law.key + ".exponent", exponent_limits, findings);
  check_numbers(law.kozeny_constant, law.key + ".kozeny_constant", kozeny_limits, findings);
  check_range(law.fibre_radius, law.key + ".fibre_radius", fibre_radius_limits, findings);
  check_numbers(law.fibre_volume_fraction, law.key + ".fibre_volume_fraction", fraction_limits,
                findings);
  check_numbers(law.valid, law.key + ".valid", fraction_limits, findings);
}

FractionRange permeability_range(const RawPermeabilityLaw& law) {
  const std::vector<double>& range =
      law.valid ? law.valid->value : law.fibre_volume_fraction->value;
  return {range.front(), range.back()};
}

/// The laws of K1 and K2. Precondition: all that belongs to the law is there.
std::array<PermeabilityLaw, 2> make_laws(const RawPermeabilityLaw& raw) {
  const std::string& law = raw.law->value;
  if (law == "constant") {
    return {ConstantLaw{raw.value->value.front()}, ConstantLaw{raw.value->value.back()}};
  }
  if (law == "power") {
    return {PowerLaw{raw.factor->value.front(), raw.exponent->value.front()},
            PowerLaw{raw.factor->value.back(), raw.exponent->value.back()}};
  }
  if (law == "kozeny-carman" && raw.constant) {
    return {KozenyCarmanLaw{raw.constant->value.front()},
            KozenyCarmanLaw{raw.constant->value.back()}};
  }
  if (law == "kozeny-carman") {
    const double radius = raw.fibre_radius->value;
    return {kozeny_carman_of_fibres(radius, raw.kozeny_constant->value.front()),
            kozeny_carman_of_fibres(radius, raw.kozeny_constant->value.back())};
  }
  if (law == "table") {
    const std::vector<double>& fractions = raw.fibre_volume_fraction->value;
    return {table_law(fractions, raw.k1->value),
            table_law(fractions, raw.k2 ? raw.k2->value : raw.k1->value)};
  }
  const double radius = raw.fibre_radius->value;
  return {AlignedFibresLaw{radius, packing_of(raw), false},
          AlignedFibresLaw{radius, packing_of(raw), true}};
}

CompactionLaw make_compaction(const RawCompactionLaw& raw) {
  const std::vector<double>& pressure = raw.pressure->value;
  const std::vector<double>& fraction = raw.fibre_volume_fraction->value;
  if (raw.law->value == "table") {
    return table_compaction(pressure, fraction);
  }
  return PowerCompaction{fraction.front(), pressure.front(), raw.exponent->value.front()};
}

/// Where K2 lies above K1: swapped if everywhere, odd if in a part of the range.
void check_order(const RawPermeabilityLaw& raw, Findings& findings) {
  const std::array<PermeabilityLaw, 2> laws = make_laws(raw);
  const FractionRange range = permeability_range(raw);
  int above = 0;
  double where = range.lowest;
  constexpr int points = 21;
  for (int i = 0; i < points; ++i) {
    const double vf = range.lowest + i * (range.highest - range.lowest) / (points - 1);
    if (permeability(laws[1], vf) > permeability(laws[0], vf) * (1 + 1e-9)) {
      where = above++ == 0 ? vf : where;
    }
  }
  if (above == 0) {
    return;
  }
  const std::string found = "found K2 (" + plain_number(permeability(laws[1], where)) +
                            " m2) above K1 (" + plain_number(permeability(laws[0], where)) +
                            " m2) at a fibre volume fraction of " + plain_number(where);
  if (above == points) {
    add_error(findings, raw.line, raw.key,
              found + ", expected K1 as the larger: were the two swapped? If the fabric conducts "
                      "better across the warp, exchange them and give warp_to_k1 = \"90 deg\"");
  } else {
    add_warning(findings, raw.line, raw.key,
                found + ", while elsewhere in the valid range K1 is the larger, which is unusual");
  }
}

void check_compaction(const RawCompactionLaw& law, Findings& findings) {
  check_ranges(law.pressure, law.key + ".pressure", fibre_pressure_limits, findings);
  check_numbers(law.fibre_volume_fraction, law.key + ".fibre_volume_fraction", fraction_limits,
                findings);
  check_numbers(law.exponent, law.key + ".exponent", compaction_exponent_limits, findings);
  check_numbers(law.valid, law.key + ".valid", fraction_limits, findings);
  if (!law.law || law.law->value != "table") {
    return;
  }
  check_ascending(law.pressure, law.key + ".pressure", "pressures", as_bar, findings);
  check_ascending(law.fibre_volume_fraction, law.key + ".fibre_volume_fraction",
                  "fibre volume fractions", plain_number, findings);
  if (law.pressure) {
    check_length(law.fibre_volume_fraction, law.key + ".fibre_volume_fraction",
                 law.pressure->value.size(), "pressure", findings);
  }
}

void check_fabric(const RawFabric& fabric, Findings& findings) {
  check_range(fabric.areal_weight, fabric.key + ".areal_weight", areal_weight_limits, findings);
  check_range(fabric.fibre_density, fabric.key + ".fibre_density", fibre_density_limits, findings);
  check_range(fabric.warp_to_k1, fabric.key + ".warp_to_k1", angle_limits, findings);
  check_range(fabric.locking_angle, fabric.key + ".locking_angle", locking_limits, findings);
  check_law_ranges(fabric.permeability, findings);
  check_table(fabric.permeability, findings);
  check_packing(fabric.permeability, findings);
  if (fabric.compaction) {
    check_compaction(*fabric.compaction, findings);
  }
}

} // namespace

std::vector<RawFabric> checked_fabrics(const TomlTable& document) {
  Findings& findings = *document.findings;
  std::vector<RawFabric> fabrics;
  for (const auto& [name, table] : named_tables(document, "fabric")) {
    const std::size_t errors_before = findings.errors.size();
    fabrics.push_back(read_fabric(name, table));
    check_fabric(fabrics.back(), findings);
    if (findings.errors.size() == errors_before) {
      check_order(fabrics.back().permeability, findings);
    }
    fabrics.back().is_sound = findings.errors.size() == errors_before;
  }
  return fabrics;
}

Fabric make_fabric(const RawFabric& raw) {
  auto [along, across] = make_laws(raw.permeability);
  Fabric fabric{.name = raw.name,
                .areal_weight = raw.areal_weight->value,
                .fibre_density = raw.fibre_density->value,
                .along = std::move(along),
                .across = std::move(across),
                .valid = permeability_range(raw.permeability),
                .warp_to_k1 = value_or_zero(raw.warp_to_k1)};
  if (raw.compaction) {
    fabric.compaction = make_compaction(*raw.compaction);
  }
  return fabric;
}

FractionRange compaction_range(const RawCompactionLaw& law) {
  const std::vector<double>& range =
      law.valid ? law.valid->value : law.fibre_volume_fraction->value;
  return {range.front(), range.back()};
}

} // namespace tidemark
