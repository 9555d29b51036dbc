// A case file as it was written: values in SI with their lines, before anything is compared with
// anything else. What is missing here and needed has already been reported.
#pragma once

#include "io/findings.hpp"
#include "io/price.hpp"
#include "io/raw_channels.hpp"
#include "io/raw_fabric.hpp"
#include "io/raw_fields.hpp"
#include "io/raw_heat.hpp"
#include "io/raw_layup.hpp"
#include "io/raw_ports.hpp"
#include "io/raw_resin.hpp"
#include "io/raw_scatter.hpp"
#include "io/toml_table.hpp"
#include "mesh/shell_mesh.hpp"

#include <optional>
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

struct RawSphere {
  std::string key; // "region[skin].sphere"
  int line = 1;
  Maybe<Vector3> centre; // in mesh units
  Maybe<double> radius;  // [m]
};

struct RawRegion {
  std::string key; // "region[skin]"
  int line = 1;
  Maybe<std::string> name;
  bool takes_rest = false;   // neither groups nor box nor sphere given
  bool is_place_read = true; // nothing was wrong with how these three are written
  Maybe<std::vector<std::string>> groups;
  Maybe<std::vector<Vector3>> box; // two opposite corners in mesh units
  std::optional<RawSphere> sphere;
  Maybe<double> thickness; // [m]; none for a layup with a fibre volume fraction
  std::variant<DirectPermeability, RawLayup> reinforcement;
  bool has_direction = false; // even if it is not three numbers
  Maybe<Vector3> direction;
  Maybe<double> angle; // [rad]
  RawFields fields;    // what is given by arrays of the mesh instead
  std::optional<RawDrape> drape;
};

struct RawGravity {
  int line = 1;
  Maybe<Vector3> direction;
  Maybe<double> acceleration; // [m/s2]
};

struct RawMould {
  int line = 1;
  Maybe<Vector3> closing_direction;
  Maybe<double> flange_pressure; // gauge [Pa]
  Maybe<double> flange_area;     // [m2]
  Maybe<double> clamp_force;     // [N]
};

struct RawCase {
  Maybe<std::string> title;
  Maybe<std::string> currency;  // of all prices
  Maybe<double> ambient;        // absolute [Pa]
  Maybe<double> temperature;    // [K]
  bool has_temperature = false; // even if it could not be read
  Maybe<std::string> mesh;
  Maybe<double> mesh_unit;         // [m]
  Maybe<std::string> fabrics_file; // relative to the case
  std::vector<RawFabric> fabrics;  // of the case, then of the file
  bool has_all_fabrics = true;     // false if the file of fabrics could not be read
  std::vector<RawRegion> regions;
  RawResin resin;
  std::optional<RawInjector> injector; // none if every gate has a drive of its own
  std::vector<RawGate> gates;
  std::vector<RawVent> vents;
  std::vector<RawRunner> runners;
  std::vector<RawRaceTrack> race_tracks;
  Maybe<double> cavity_pressure; // gauge [Pa]
  Maybe<bool> sealed_air;
  std::optional<RawGravity> gravity;
  std::optional<RawMould> mould;
  std::optional<RawHeat> heat;
  std::optional<RawScatter> scatter;
  Maybe<double> time_limit; // [s]
};

/// Reads the text of a case file. Syntax errors are thrown as InputError (nothing else can be said
/// then); everything else that is wrong goes to the findings.
RawCase parse_case(std::string_view text, Findings& findings);

/// The same for a document that has been parsed, and perhaps changed.
RawCase read_document(const toml::table& toml, Findings& findings);

} // namespace tidemark
