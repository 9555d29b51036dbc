// The resin as it is written in a case file.
#pragma once

#include "io/price.hpp"
#include "io/toml_table.hpp"

#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// A law for the viscosity; each has some of these.
struct RawViscosityLaw {
  std::string key; // "resin.viscosity"
  int line = 1;
  Maybe<std::string> law;                   // only one that is known
  Maybe<std::vector<double>> temperature;   // of a table [K]
  Maybe<std::vector<double>> age;           // of a table [s]
  Maybe<std::vector<double>> viscosity;     // of a table, or one [Pa s]
  Maybe<double> at;                         // temperature of that one [K]
  Maybe<double> activation_energy;          // [J/mol]
  Maybe<std::vector<double>> valid;         // lowest and highest temperature [K]
  Maybe<double> initial;                    // [Pa s]; or a law over the temperature
  std::vector<RawViscosityLaw> initial_law; // none or one
  Maybe<double> time_constant;              // [s]
  Maybe<std::vector<double>> exponent;      // one, or the two of a cure law [-]
  /// Whether it is a table over the age, or over the temperature.
  [[nodiscard]] bool is_over_age() const { return age.has_value(); }
};

/// A rate constant as one value, or factor and activation energy.
struct RawRate {
  std::string key;
  Maybe<double> value;             // [1/s]
  Maybe<double> factor;            // [1/s]
  Maybe<double> activation_energy; // [J/mol]
};

struct RawCure {
  std::string key;
  int line = 1;
  Maybe<std::string> law; // only one that is known
  std::vector<RawRate> rates;
  Maybe<std::vector<double>> exponents; // m and n of the autocatalytic law [-]
  Maybe<double> gel_conversion;         // [-]
};

struct RawGelTable {
  std::string key;
  int line = 1;
  Maybe<std::vector<double>> temperature;       // [K]
  Maybe<std::vector<double>> catalyst;          // mass share
  Maybe<std::vector<std::vector<double>>> time; // rows, one for each temperature [s]
};

struct RawResin {
  int line = 1;
  Maybe<double> viscosity; // constant [Pa s]; none with a law
  std::optional<RawViscosityLaw> law;
  Maybe<double> density;    // [kg/m3]
  bool has_density = false; // even if it could not be read
  Maybe<double> gel_time;   // [s]; none with a table
  std::optional<RawGelTable> gel_table;
  std::optional<RawCure> cure;
  Maybe<double> catalyst;                    // mass share
  bool has_catalyst = false;                 // even if it could not be read
  Maybe<std::vector<double>> catalyst_range; // lowest and highest
  Maybe<double> catalyst_density;            // [kg/m3]
  Maybe<double> gel_safety;                  // [-]
  Maybe<double> waste;                       // [-]
  Maybe<Price> price;                        // per mass or volume
};

/// The table [resin].
RawResin read_resin(const TomlTable& table);

/// Whether the viscosity of a law rises with age.
bool thickens(const RawResin& resin);

/// The value that needs the temperature, as a key; empty if none does.
std::string what_needs_temperature(const RawResin& resin);

} // namespace tidemark
