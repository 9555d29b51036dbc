#include "io/raw_heat.hpp"

#include <string>

namespace tidemark {

std::optional<RawHeat> read_heat(const TomlTable& document) {
  const TomlTable table = subtable(document, "heat");
  if (table.toml == nullptr) {
    return std::nullopt;
  }
  refuse_unknown_keys(table, {"mould_temperature", "wall_coefficient", "resin_specific_heat",
                              "fibre_specific_heat", "fibre_density", "heat_of_cure",
                              "highest_temperature"});
  const auto needed = [&](const char* name, Dimension dimension, const std::string& expected) {
    require(table, name, expected);
    return read_quantity(table, name, dimension);
  };
  RawHeat heat;
  heat.line = table.line;
  heat.mould_temperature = needed("mould_temperature", Dimension::temperature,
                                  "the temperature of the mould such as \"40 degC\"");
  heat.wall_coefficient =
      needed("wall_coefficient", Dimension::heat_transfer,
             "the heat that both faces together pass per area of the part such as \"200 W/m2/K\"");
  heat.resin_specific_heat =
      needed("resin_specific_heat", Dimension::specific_heat, example_of(Dimension::specific_heat));
  heat.fibre_specific_heat =
      needed("fibre_specific_heat", Dimension::specific_heat, example_of(Dimension::specific_heat));
  heat.fibre_density = read_quantity(table, "fibre_density", Dimension::density);
  heat.has_fibre_density = has(table, "fibre_density");
  heat.heat_of_cure = read_quantity(table, "heat_of_cure", Dimension::specific_energy);
  heat.has_heat_of_cure = has(table, "heat_of_cure");
  heat.highest_temperature = read_quantity(table, "highest_temperature", Dimension::temperature);
  return heat;
}

} // namespace tidemark
