// What varies over the elements of a region, as it is written: arrays of the mesh, and a drape.
#pragma once

#include "io/toml_table.hpp"

#include <Eigen/Core>

#include <optional>
#include <string>

namespace tidemark {

/// { array = "t", unit = "mm" } in place of a value.
struct RawArray {
  std::string key; // "region[skin].thickness"
  int line = 1;
  Maybe<std::string> array;
  double unit = 1;         // of the numbers in the array, in SI
  std::string unit_name;   // empty if none is given
  bool is_readable = true; // nothing was wrong with how it is written
  std::string text;        // for the list of values
};

struct RawFields {
  std::optional<RawArray> thickness;             // [m]
  std::optional<RawArray> fibre_volume_fraction; // [-]
  std::optional<RawArray> direction;             // three numbers each
  std::optional<RawArray> angle;                 // [rad]
  std::optional<RawArray> shear;                 // [rad]
};

struct RawDrape {
  std::string key; // "region[skin].drape"
  int line = 1;
  Maybe<Eigen::Vector3d> start;     // in mesh units
  Maybe<Eigen::Vector3d> direction; // of the warp there
  Maybe<double> step;               // [m]
};

/// Whether a table stands where a value might.
bool is_array_given(const TomlTable& table, std::string_view name);

/// The array that stands in place of a value; none if there is no table. A unit is needed for
/// lengths and angles, may be given for fractions and is refused without a dimension.
std::optional<RawArray> read_array(const TomlTable& table, const std::string& name,
                                   std::optional<Dimension> dimension);

/// The table `drape` of a region.
std::optional<RawDrape> read_drape(const TomlTable& region);

} // namespace tidemark
