// Fabric data as they are written in a case file or in a file of fabrics.
#pragma once

#include "io/price.hpp"
#include "io/toml_table.hpp"

#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// Each law has some of these; a list of one or two is for K1 and K2.
struct RawPermeabilityLaw {
  std::string key; // "fabric[mat].permeability"
  int line = 1;
  Maybe<std::string> law;                           // only one that is known
  Maybe<std::vector<double>> value;                 // [m2]
  Maybe<std::vector<double>> factor;                // [m2]
  Maybe<std::vector<double>> exponent;              // [-]
  Maybe<std::vector<double>> constant;              // [m2]
  Maybe<double> fibre_radius;                       // [m]
  Maybe<std::vector<double>> kozeny_constant;       // [-]
  Maybe<std::string> packing;                       // only one that is known
  Maybe<std::vector<double>> fibre_volume_fraction; // of a table
  Maybe<std::vector<double>> k1;                    // of a table [m2]
  Maybe<std::vector<double>> k2;                    // of a table [m2]
  Maybe<std::vector<double>> valid;                 // lowest and highest fibre volume fraction
};

struct RawCompactionLaw {
  std::string key;
  int line = 1;
  Maybe<std::string> law;                           // only one that is known
  Maybe<std::vector<double>> pressure;              // on the fibres [Pa]
  Maybe<std::vector<double>> fibre_volume_fraction; // at those pressures
  Maybe<std::vector<double>> exponent;              // one [-]
  Maybe<std::vector<double>> valid;                 // lowest and highest fibre volume fraction
};

struct RawFabric {
  std::string key; // "fabric[mat]"
  int line = 1;
  std::string name;
  bool is_shared = false;      // stands in the file of fabrics, not in the case
  bool is_sound = false;       // nothing was wrong with it
  Maybe<double> areal_weight;  // [kg/m2]
  Maybe<double> fibre_density; // [kg/m3]
  Maybe<double> warp_to_k1;    // [rad]
  Maybe<Price> price;          // per area or mass
  Maybe<double> locking_angle; // shear beyond which it wrinkles [rad]
  Maybe<bool> woven;           // whether it shears like a net of yarns
  RawPermeabilityLaw permeability;
  std::optional<RawCompactionLaw> compaction;
};

/// The table [fabric.NAME].
RawFabric read_fabric(const std::string& name, const TomlTable& table);

} // namespace tidemark
