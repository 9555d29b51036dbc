// Numbers with units: "1.2 bar" becomes 120000 Pa. Units are parsed here and nowhere else.
#pragma once

#include <string>
#include <string_view>

namespace tidemark {

enum class Dimension {
  length,          // [m]
  permeability,    // [m2]
  pressure,        // [Pa]
  viscosity,       // dynamic [Pa s]
  flow_rate,       // by volume [m3/s]
  temperature,     // [K]
  time,            // [s]
  angle,           // [rad]
  density,         // [kg/m3]
  areal_weight,    // [kg/m2]
  fraction,        // [-], "35 %"
  volume,          // [m3]
  area,            // [m2]
  force,           // [N]
  acceleration,    // [m/s2]
  mass,            // [kg]
  mass_share,      // of a catalyst, by mass of the resin [-], "1.5 %" or "1.5 phr"
  molar_energy,    // [J/mol]
  rate,            // [1/s]
  heat_transfer,   // coefficient [W/(m2 K)]
  specific_heat,   // [J/(kg K)]
  specific_energy, // [J/kg]
};

/// A number and its unit in SI. Throws InputError ("found ..., expected ...") if the number or the
/// unit is missing, unknown or of another dimension, or if the value is not finite. Units are
/// those of UDUNITS-2, with deg, P, cP and phr besides; a unit may be a product of powers with at
/// most two signs of division ("kg/m3", "J/kg/K", "L min-1") and no number in it but the exponents.
double parse_quantity(std::string_view text, Dimension dimension);

/// The size of a unit that stands alone in SI: "mm" is 0.001 m. Throws InputError.
double parse_unit(std::string_view unit, Dimension dimension);

/// What a value of this dimension looks like: a pressure such as "1.2 bar".
std::string example_of(Dimension dimension);

} // namespace tidemark
