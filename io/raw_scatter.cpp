#include "io/raw_scatter.hpp"

#include "io/random_laws.hpp"
#include "io/wording.hpp"

namespace tidemark {

namespace {

const char* const variation_example = "standard deviation over mean such as 0.2 or \"20 %\"";

/// A law of that name, or an error.
Maybe<std::string> read_law(const TomlTable& table) {
  const std::string expected = "a law: lognormal, gamma, normal";
  auto law = read_text(table, "law", expected);
  if (law && !law_named(law->value)) {
    add_error(*table.findings, law->line, key_of(table, "law"),
              "found " + quoted_text(law->value) + ", expected " + expected);
    law.reset();
  }
  return law;
}

/// What a table of a quantity may hold besides its variation.
struct VariationKeys {
  bool has_law = true;
  bool has_length = false;
  bool needs_variation = true;
};

std::optional<RawVariation> read_variation(const TomlTable& parent, const char* name,
                                           const VariationKeys& keys) {
  const TomlTable table = subtable(
      parent, name, std::string("a table such as { variation = 0.2 }: ") + variation_example);
  if (table.toml == nullptr) {
    return std::nullopt;
  }
  std::vector<std::string> known{"variation"};
  if (keys.has_law) {
    known.insert(known.begin(), "law");
  }
  if (keys.has_length) {
    known.emplace_back("correlation_length");
  }
  refuse_unknown_keys(table, known);
  if (keys.needs_variation) {
    require(table, "variation", variation_example);
  }
  RawVariation variation;
  variation.key = table.key;
  variation.line = table.line;
  variation.variation = read_fraction(table, "variation");
  if (keys.has_law) {
    variation.law = read_law(table);
  }
  if (keys.has_length) {
    variation.correlation_length = read_quantity(table, "correlation_length", Dimension::length);
  }
  return variation;
}

std::optional<RawDeviation> read_deviation(const TomlTable& parent, const char* name) {
  const char* const expected = "a standard deviation in kelvin such as \"2 K\"";
  const TomlTable table =
      subtable(parent, name, "a table such as { deviation = \"2 K\" }: a standard deviation");
  if (table.toml == nullptr) {
    return std::nullopt;
  }
  refuse_unknown_keys(table, {"deviation"});
  require(table, "deviation", expected);
  return RawDeviation{table.key, table.line,
                      read_quantity(table, "deviation", Dimension::temperature, expected)};
}

std::optional<RawVariation> read_permeability(const TomlTable& table) {
  return read_variation(table, "permeability", {true, true, false});
}

/// Its law is the normal one.
std::optional<RawVariation> read_fibre_fraction(const TomlTable& table) {
  return read_variation(table, "fibre_volume_fraction", {false, false, true});
}

std::vector<RawRegionScatter> read_region_scatter(const TomlTable& scatter) {
  std::vector<RawRegionScatter> regions;
  for (const auto& [name, table] : named_tables(scatter, "region")) {
    refuse_unknown_keys(table, {"permeability", "fibre_volume_fraction"});
    regions.push_back(
        {name, table.key, table.line, read_permeability(table), read_fibre_fraction(table)});
  }
  return regions;
}

} // namespace

std::optional<RawScatter> read_scatter(const TomlTable& document) {
  const TomlTable table = subtable(document, "scatter");
  if (table.toml == nullptr) {
    return std::nullopt;
  }
  refuse_unknown_keys(table,
                      {"samples", "seed", "permeability", "fibre_volume_fraction", "viscosity",
                       "race_track_gap", "temperature", "mould_temperature", "region"});
  RawScatter scatter;
  scatter.line = table.line;
  scatter.samples = read_count(table, "samples", most_samples);
  scatter.seed = read_count(table, "seed", largest_seed);
  scatter.permeability = read_permeability(table);
  scatter.fibre_volume_fraction = read_fibre_fraction(table);
  scatter.viscosity = read_variation(table, "viscosity", {});
  scatter.race_track_gap = read_variation(table, "race_track_gap", {});
  scatter.temperature = read_deviation(table, "temperature");
  scatter.mould_temperature = read_deviation(table, "mould_temperature");
  scatter.regions = read_region_scatter(table);
  return scatter;
}

} // namespace tidemark
