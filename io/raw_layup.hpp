// Layups as they are written in a region of a case file.
#pragma once

#include "io/price.hpp"
#include "io/toml_table.hpp"

#include <optional>
#include <string>
#include <vector>

namespace tidemark {

struct RawGrooves {
  std::string key; // "region[roof].layup[2].grooves"
  int line = 1;
  Maybe<double> width;   // [m]
  Maybe<double> depth;   // [m]
  Maybe<double> spacing; // [m]
  Maybe<bool> crossed;
};

/// Plies of a fabric, a gap or a core: one of the three is given.
struct RawPly {
  std::string key; // "region[skin].layup[1]"
  int line = 1;
  bool is_readable = false; // nothing was wrong with how it is written
  Maybe<std::string> fabric;
  Maybe<int> count;
  Maybe<double> gap;                       // [m]
  Maybe<double> core;                      // [m]
  Maybe<double> angle;                     // [rad]
  Maybe<std::vector<double>> permeability; // of a core [m2]
  Maybe<double> porosity;                  // of a core
  std::optional<RawGrooves> grooves;       // of a core
  Maybe<double> density;                   // of a core [kg/m3]
  Maybe<Price> price;                      // of a core, per area or volume
};

struct RawLayup {
  int line = 1;
  std::vector<RawPly> plies;
  Maybe<double> fibre_volume_fraction; // wanted of the fabrics, instead of a thickness
};

/// The layup of a region.
RawLayup read_layup(const TomlTable& region);

} // namespace tidemark
