#include "io/raw_fabric.hpp"

#include "io/raw_name.hpp"
#include "io/wording.hpp"

#include <algorithm>

namespace tidemark {

namespace {

constexpr std::size_t most_points = 1000; // of a table

const char* const fractions_example =
    "fibre volume fractions from the lowest to the highest such as [0.3, 0.4, 0.5]";
const char* const permeabilities_example =
    "permeabilities such as [\"4e-10 m2\", \"1e-10 m2\"], one for each fibre volume fraction";
const char* const valid_example =
    "the lowest and highest fibre volume fraction the law holds for such as [0.3, 0.6]";

/// Two fibre volume fractions, lowest first.
Maybe<std::vector<double>> read_valid(const TomlTable& table) {
  require(table, "valid", valid_example);
  auto valid = read_fractions(table, "valid", 2, valid_example);
  if (valid && (valid->value.size() != 2 || !(valid->value[0] < valid->value[1]))) {
    add_error(*table.findings, valid->line, key_of(table, "valid"),
              "found " + valid->text + ", expected " + valid_example);
    valid.reset();
  }
  return valid;
}

Maybe<std::vector<double>> read_needed_permeabilities(const TomlTable& table, const char* name) {
  require(table, name,
          "a permeability such as \"1e-10 m2\", or one for K1 and one for K2 in a list");
  return read_quantities(table, name, Dimension::permeability, 2);
}

Maybe<std::vector<double>> read_needed_numbers(const TomlTable& table, const char* name,
                                               const char* expected) {
  require(table, name, expected);
  return read_numbers(table, name, 2, expected);
}

void read_constant(const TomlTable& table, RawPermeabilityLaw& law) {
  refuse_unknown_keys(table, {"law", "value", "valid"});
  law.value = read_needed_permeabilities(table, "value");
  law.valid = read_valid(table);
}

void read_power(const TomlTable& table, RawPermeabilityLaw& law) {
  refuse_unknown_keys(table, {"law", "factor", "exponent", "valid"});
  law.factor = read_needed_permeabilities(table, "factor");
  law.exponent = read_needed_numbers(
      table, "exponent", "a number below 0 such as -4, or one for K1 and one for K2 in a list");
  law.valid = read_valid(table);
}

void read_kozeny_carman(const TomlTable& table, RawPermeabilityLaw& law) {
  refuse_unknown_keys(table, {"law", "constant", "fibre_radius", "kozeny_constant", "valid"});
  const bool has_fibres = has(table, "fibre_radius") || has(table, "kozeny_constant");
  if (has(table, "constant") == has_fibres) {
    add_error(*table.findings, table.line, table.key,
              std::string("found ") +
                  (has_fibres ? "both a constant and data of the fibres" : "no constant") +
                  ", expected either constant, or fibre_radius and kozeny_constant");
  } else if (has_fibres) {
    require(table, "fibre_radius", "half the diameter of a fibre such as \"7 um\"");
    require(table, "kozeny_constant", "a number such as 1");
  }
  law.constant = read_quantities(table, "constant", Dimension::permeability, 2);
  law.fibre_radius = read_quantity(table, "fibre_radius", Dimension::length);
  law.kozeny_constant =
      read_numbers(table, "kozeny_constant", 2, "a number, or one for K1 and one for K2 in a list");
  law.valid = read_valid(table);
}

void read_table(const TomlTable& table, RawPermeabilityLaw& law) {
  refuse_unknown_keys(table, {"law", "fibre_volume_fraction", "k1", "k2"});
  require(table, "fibre_volume_fraction", fractions_example);
  require(table, "k1", permeabilities_example);
  law.fibre_volume_fraction =
      read_fractions(table, "fibre_volume_fraction", most_points, fractions_example);
  law.k1 = read_quantities(table, "k1", Dimension::permeability, most_points);
  law.k2 = read_quantities(table, "k2", Dimension::permeability, most_points);
}

void read_aligned_fibres(const TomlTable& table, RawPermeabilityLaw& law) {
  refuse_unknown_keys(table, {"law", "fibre_radius", "packing", "valid"});
  require(table, "fibre_radius", "half the diameter of a fibre such as \"8.5 um\"");
  law.fibre_radius = read_quantity(table, "fibre_radius", Dimension::length);
  law.packing = read_word(table, {"square", "hexagonal"}, "packing");
  law.valid = read_valid(table);
}

struct LawReader {
  const char* law;
  void (*read)(const TomlTable&, RawPermeabilityLaw&);
};

RawPermeabilityLaw read_permeability_law(const TomlTable& fabric) {
  static const std::vector<LawReader> readers{{"constant", read_constant},
                                              {"power", read_power},
                                              {"kozeny-carman", read_kozeny_carman},
                                              {"table", read_table},
                                              {"aligned-fibres", read_aligned_fibres}};
  const char* const example =
      "a law such as { law = \"constant\", value = \"3e-9 m2\", valid = [0.15, 0.25] }";
  require(fabric, "permeability", example);
  const TomlTable table = subtable(fabric, "permeability", example);
  RawPermeabilityLaw law;
  law.key = table.key;
  law.line = table.line;
  if (table.toml == nullptr) {
    return law;
  }
  std::vector<std::string> names;
  for (const LawReader& reader : readers) {
    names.emplace_back(reader.law);
  }
  law.law = read_word(table, names, "law");
  for (const LawReader& reader : readers) {
    if (law.law && law.law->value == reader.law) {
      reader.read(table, law);
    }
  }
  return law;
}

std::optional<RawCompactionLaw> read_compaction(const TomlTable& fabric) {
  const TomlTable table = subtable(
      fabric, "compaction",
      "a law such as { law = \"power\", pressure = \"1 bar\", fibre_volume_fraction = 0.5, "
      "exponent = 0.1, valid = [0.3, 0.6] }");
  if (table.toml == nullptr) {
    return std::nullopt;
  }
  RawCompactionLaw law;
  law.key = table.key;
  law.line = table.line;
  law.law = read_word(table, {"power", "table"}, "law");
  if (!law.law) {
    return law;
  }
  const bool is_table = law.law->value == "table";
  const std::size_t most = is_table ? most_points : 1;
  const char* const pressure_example =
      is_table ? "pressures on the fibres from the lowest to the highest such as [\"0.1 bar\", \"1 "
                 "bar\"]"
               : "the pressure on the fibres at which they reach it such as \"1 bar\"";
  const char* const fraction_example =
      is_table ? "a fibre volume fraction for each pressure such as [0.35, 0.5]"
               : "a fibre volume fraction such as 0.5";
  require(table, "pressure", pressure_example);
  require(table, "fibre_volume_fraction", fraction_example);
  law.pressure = read_quantities(table, "pressure", Dimension::pressure, most);
  law.fibre_volume_fraction =
      read_fractions(table, "fibre_volume_fraction", most, fraction_example);
  if (is_table) {
    refuse_unknown_keys(table, {"law", "pressure", "fibre_volume_fraction"});
    return law;
  }
  refuse_unknown_keys(table, {"law", "pressure", "fibre_volume_fraction", "exponent", "valid"});
  require(table, "exponent", "a number above 0 such as 0.1");
  law.exponent = read_numbers(table, "exponent", 1, "a number above 0 such as 0.1");
  law.valid = read_valid(table);
  return law;
}

} // namespace

RawFabric read_fabric(const std::string& name, const TomlTable& table) {
  refuse_unknown_keys(table, {"areal_weight", "fibre_density", "permeability", "warp_to_k1",
                              "compaction", "price", "locking_angle", "woven"});
  if (name.empty() || has_control_characters(name)) {
    add_error(*table.findings, table.line, table.key,
              "found the name " + quoted_text(name) +
                  ", expected one that is not empty, without control characters");
  }
  require(table, "areal_weight", example_of(Dimension::areal_weight));
  require(table, "fibre_density", "the density of the fibres themselves such as \"2550 kg/m3\"");
  RawFabric fabric;
  fabric.key = table.key;
  fabric.line = table.line;
  fabric.name = name;
  fabric.areal_weight = read_quantity(table, "areal_weight", Dimension::areal_weight);
  fabric.fibre_density = read_quantity(table, "fibre_density", Dimension::density);
  fabric.warp_to_k1 = read_quantity(table, "warp_to_k1", Dimension::angle);
  fabric.locking_angle = read_quantity(table, "locking_angle", Dimension::angle);
  fabric.woven = read_boolean(table, "woven");
  fabric.permeability = read_permeability_law(table);
  fabric.compaction = read_compaction(table);
  fabric.price = read_price(table, "price", {Dimension::area, Dimension::mass});
  return fabric;
}

} // namespace tidemark
