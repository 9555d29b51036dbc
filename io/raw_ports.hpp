// Injectors, gates and vents as the case file writes them.
#pragma once

#include "io/toml_table.hpp"

#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// A length of hose: { length = "2 m", bore = "8 mm" }.
struct RawHose {
  std::string key;      // "injector.line", "injector.line[2]"
  Maybe<double> length; // [m]
  Maybe<double> bore;   // [m]
};

/// An entry of a schedule: { from_time = "60 s", flow_rate = "2 L/min" }.
struct RawStage {
  std::string key;            // "injector.schedule[1]"
  Maybe<double> from_time;    // [s]
  Maybe<double> from_volume;  // [m3]
  Maybe<double> flow_rate;    // [m3/s]
  Maybe<double> pressure_cap; // gauge [Pa]
};

/// The common injector, or the drive of a gate of its own.
struct RawInjector {
  std::string key; // "injector", "gate[G1]"
  int line = 1;
  Maybe<double> flow_rate;    // [m3/s]
  Maybe<double> pressure;     // held, gauge [Pa]; gates only, instead of the other two
  Maybe<double> pressure_cap; // gauge [Pa]
  std::vector<RawHose> hoses;
  std::vector<RawStage> stages;
  // The machine, of the common injector only.
  bool has_mixing = false;      // even if it could not be read
  Maybe<std::string> mixing;    // "inline" or "batch"
  Maybe<double> mixed_before;   // [s]
  Maybe<double> stroke_volume;  // [m3]
  Maybe<double> max_flow_rate;  // [m3/s]
  Maybe<double> max_pressure;   // gauge [Pa]
  Maybe<double> pressure_ratio; // [-]
  Maybe<double> air_pressure;   // gauge [Pa]
};

/// Where a gate or a vent is: at a point, with or without a radius, or a group of the mesh.
struct RawPort {
  std::string key; // "gate[G1]"
  int line = 1;
  Maybe<std::string> name;
  Maybe<Eigen::Vector3d> at; // in mesh units
  Maybe<std::string> group;
  Maybe<double> radius; // [m]
};

/// When a gate opens or closes. Nothing: from the start, or never.
struct RawMoment {
  bool is_given = false; // even if it could not be read
  Maybe<double> time;    // [s]
  /// The name of the gate or vent that is reached; empty for "on arrival".
  Maybe<std::string> reached;
};

struct RawGate {
  RawPort port;
  std::optional<RawInjector> own_injector;
  RawMoment opens;
  RawMoment closes;
};

struct RawVent {
  RawPort port;
  Maybe<double> pressure; // gauge [Pa]
  Maybe<bool> closes;     // on arrival, or false: never
  Maybe<double> bleed;    // [m3]
  std::vector<RawHose> hoses;
};

/// The table [injector]. may_be_idle: every gate has a drive of its own, and it may tell of the
/// machine only.
RawInjector read_injector(const TomlTable& table, bool may_be_idle);

/// The tables [[gate]] and [[vent]] of the document.
std::vector<RawGate> read_gates(const TomlTable& document);
std::vector<RawVent> read_vents(const TomlTable& document);

} // namespace tidemark
