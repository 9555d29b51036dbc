// What scatters from part to part, ready to be drawn.
#pragma once

#include "io/random_laws.hpp"
#include "solver/fill_problem.hpp"
#include "solver/layup.hpp"

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// A quantity that differs from sample to sample.
struct ScatteredInput {
  enum class Kind : std::uint8_t {
    permeability,
    fibre_volume_fraction,
    viscosity,
    race_track_gap,
    temperature,
    mould_temperature
  } kind;
  std::size_t part = 0; // the region, or the race track in ScatterFacts::tracks
  std::string name;     // "permeability of skin"
  std::string column;   // "permeability_factor[skin]", "temperature_k"
  RandomLaw law = RandomLaw::normal;
  double spread = 0;                             // coefficient of variation [-]; standard deviation
                                                 // of a temperature [K]
  std::optional<double> correlation_length = {}; // over which it differs within the region [m]
  double mean = 1;                               // of a temperature [K]
  std::string source = {};                       // of what is not given; empty if all is
};

/// Whether its value is a temperature; else it is a factor about 1.
bool is_temperature(const ScatteredInput& input);

struct TrackFacts {
  std::size_t channel;                // in FillProblem::channels
  double gap;                         // [m]
  std::optional<double> permeability; // as given [m2]; none: that of a slot
};

/// How much the fibres of a region weigh, if it has a layup.
struct RegionLayup {
  Layup layup;
  double thickness; // of the cavity, the mean of a region that varies [m]
};

struct ScatterFacts {
  std::vector<ScatteredInput> inputs; // that vary at all
  int samples = 200;
  int seed = 1;
  std::vector<TrackFacts> tracks;
  std::vector<std::optional<RegionLayup>> layups; // by region
  /// The resin at a temperature [K]; empty if none of its data depends on it.
  std::function<Resin(double temperature)> resin_at;
};

// What stands for the permeability where the case says nothing.
inline constexpr RandomLaw default_permeability_law = RandomLaw::gamma;
inline constexpr double default_permeability_variation = 0.44;
inline constexpr const char* permeability_law_source = "Bodaghi, Yasaei & Correia 2016";
inline constexpr const char* permeability_variation_source =
    "woven fabric, from laboratory to laboratory: May et al. 2019";

} // namespace tidemark
