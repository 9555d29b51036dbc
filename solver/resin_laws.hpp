// What a resin's data say at a temperature and a catalyst level.
#pragma once

#include <variant>
#include <vector>

namespace tidemark {

/// mu = viscosity exp(E/R (1/T - 1/T0)): the viscosity [Pa s] at T0 = temperature [K], E activation
/// energy [J/mol].
struct ArrheniusViscosity {
  double viscosity;
  double temperature;
  double activation_energy;
};

/// Straight lines in ln mu over the temperature; beyond the ends the first and the last go on.
struct TabulatedViscosity {
  std::vector<double> temperature;   // [K], ascending, two or more
  std::vector<double> log_viscosity; // of the viscosity in Pa s
};

/// A viscosity [Pa s] that is the same at any temperature, or a law.
using FreshViscosity = std::variant<double, ArrheniusViscosity, TabulatedViscosity>;

/// Viscosity of the fresh resin at a temperature [K] [Pa s].
double fresh_viscosity(const FreshViscosity& law, double temperature);

/// Gel times over temperature and catalyst level. Either may have a single value.
struct GelTable {
  std::vector<double> temperature; // [K], ascending
  std::vector<double> catalyst;    // mass of catalyst over mass of resin, ascending
  /// ln of the gel time in s: one row after the other, a row for each temperature.
  std::vector<double> log_time;
};

/// Gel time [s]: bilinear in temperature [K], catalyst level and the logarithm of time. Beyond the
/// ends the outermost lines go on; the caller warns.
double gel_time(const GelTable& table, double temperature, double catalyst);

} // namespace tidemark
