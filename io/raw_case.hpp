// A case file as it was written: values in SI with their lines, before anything is compared with
// anything else. What is missing here and needed has already been reported.
#pragma once

#include "io/findings.hpp"
#include "io/toml_table.hpp"
#include "mesh/shell_mesh.hpp"

#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace tidemark {

/// Permeability and porosity measured on the reinforcement as it lies in the cavity.
struct DirectPermeability {
  Maybe<std::vector<double>> permeability; // K1 and K2, or one value for both [m2]
  Maybe<double> porosity;                  // [-]
};

/// Plies of fabrics: read as far as to say where it stands; a later version computes with it.
struct Layup {
  int line = 1;
};

struct RawRegion {
  std::string key; // "region[skin]"
  int line = 1;
  Maybe<std::string> name;
  bool takes_rest = false; // no groups given
  Maybe<std::vector<std::string>> groups;
  Maybe<double> thickness; // [m]
  std::variant<DirectPermeability, Layup> reinforcement;
  bool has_direction = false; // even if it is not three numbers
  Maybe<Vector3> direction;
  Maybe<double> angle; // [rad]
};

/// A gate or a vent: either at a point, with or without a radius, or a group of the mesh.
struct RawPort {
  std::string key; // "gate[G1]"
  int line = 1;
  Maybe<std::string> name;
  Maybe<Vector3> at; // in mesh units
  Maybe<std::string> group;
  Maybe<double> radius;   // [m]
  Maybe<double> pressure; // gauge [Pa]; vents only
};

struct RawCase {
  Maybe<std::string> title;
  Maybe<double> ambient;     // absolute [Pa]
  Maybe<double> temperature; // [K]
  Maybe<std::string> mesh;
  Maybe<double> mesh_unit; // [m]
  std::vector<RawRegion> regions;
  Maybe<double> viscosity;    // [Pa s]
  Maybe<double> density;      // [kg/m3]
  Maybe<double> gel_time;     // [s]
  Maybe<double> flow_rate;    // [m3/s]
  Maybe<double> pressure_cap; // gauge [Pa]
  std::vector<RawPort> gates;
  std::vector<RawPort> vents;
  Maybe<double> cavity_pressure; // gauge [Pa]
  Maybe<bool> sealed_air;
  Maybe<double> time_limit; // [s]
};

/// Reads the text of a case file. Syntax errors are thrown as InputError (nothing else can be said
/// then); everything else that is wrong goes to the findings.
RawCase parse_case(std::string_view text, Findings& findings);

} // namespace tidemark
