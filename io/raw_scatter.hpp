// What scatters from part to part, as written in a case file.
#pragma once

#include "io/toml_table.hpp"

#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// A quantity that scatters about its mean.
struct RawVariation {
  std::string key; // "scatter.permeability"
  int line = 1;
  Maybe<std::string> law;           // only one that is known
  Maybe<double> variation;          // standard deviation over mean [-]
  Maybe<double> correlation_length; // of a permeability that differs from place to place [m]
};

/// A temperature that scatters about that of the case.
struct RawDeviation {
  std::string key;
  int line = 1;
  Maybe<double> deviation; // standard deviation [K]
};

/// What is different in one region.
struct RawRegionScatter {
  std::string name; // of the region
  std::string key;  // "scatter.region[skin]"
  int line = 1;
  std::optional<RawVariation> permeability;
  std::optional<RawVariation> fibre_volume_fraction;
};

struct RawScatter {
  int line = 1;
  Maybe<int> samples;
  Maybe<int> seed;
  std::optional<RawVariation> permeability;
  std::optional<RawVariation> fibre_volume_fraction;
  std::optional<RawVariation> viscosity;
  std::optional<RawVariation> race_track_gap;
  std::optional<RawDeviation> temperature;
  std::optional<RawDeviation> mould_temperature;
  std::vector<RawRegionScatter> regions;
};

inline constexpr int most_samples = 100000;
inline constexpr int largest_seed = 2147483647;

/// The table [scatter]; none if there is none.
std::optional<RawScatter> read_scatter(const TomlTable& document);

} // namespace tidemark
