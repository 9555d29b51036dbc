// Mould and resin of different temperatures, as written in a case file.
#pragma once

#include "io/toml_table.hpp"

#include <optional>

namespace tidemark {

struct RawHeat {
  int line = 1;
  Maybe<double> mould_temperature;   // [K]
  Maybe<double> wall_coefficient;    // both faces [W/(m2 K)]
  Maybe<double> resin_specific_heat; // [J/(kg K)]
  Maybe<double> fibre_specific_heat; // [J/(kg K)]
  Maybe<double> fibre_density;       // [kg/m3]
  bool has_fibre_density = false;    // even if it could not be read
  Maybe<double> heat_of_cure;        // [J/kg]
  bool has_heat_of_cure = false;     // as above
  Maybe<double> highest_temperature; // [K]
};

/// The table [heat]; none if there is none.
std::optional<RawHeat> read_heat(const TomlTable& document);

} // namespace tidemark
