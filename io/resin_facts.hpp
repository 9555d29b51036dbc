// What is known of the resin besides what the filling needs.
#pragma once

#include "solver/resin.hpp"

#include <functional>
#include <optional>

namespace tidemark {

struct ResinFacts {
  std::optional<double> temperature;      // that laws are taken at [K]; none if no value needs it
  std::optional<double> catalyst;         // mass of catalyst over mass of resin [-]
  std::optional<double> catalyst_density; // [kg/m3]
  std::optional<double> gel_safety;       // least gel time over age of the oldest resin wanted [-]
  double waste = 0;                       // of the resin mixed, over what is used [-]
  std::optional<double> oldest_of_table;  // last age of a viscosity table [s]
  /// Levels that may be tried, if the gel time depends on the catalyst.
  struct CatalystChoice {
    double lowest, highest;
    std::function<Resin(double catalyst)> resin_at;
  };
  std::optional<CatalystChoice> catalyst_choice;
};

/// The machine that mixes and pumps, as far as it is given.
struct MachineFacts {
  std::optional<double> stroke_volume;  // [m3]
  std::optional<double> max_flow_rate;  // [m3/s]
  std::optional<double> max_pressure;   // gauge [Pa]
  std::optional<double> pressure_ratio; // resin pressure over air pressure of an air motor [-]
  std::optional<double> air_pressure;   // of its supply, gauge [Pa]
};

} // namespace tidemark
