// What is to be filled, in SI units and checked: the input of the filling algorithm.
#pragma once

#include "mesh/shell_mesh.hpp"
#include "solver/resin.hpp"

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// Reinforcement in one part of the cavity. Where it varies from element to element
/// (FillProblem::reinforcement), thickness, permeabilities and fibre volume fraction are means over
/// the area, the porosity that over the volume, and direction and angle mean nothing.
struct Region {
  std::string name;
  double thickness;      // cavity thickness h [m], > 0
  double porosity;       // phi [-], 0 < phi <= 1
  double permeability_1; // K1 [m2], > 0, along direction turned by angle
  double permeability_2; // K2 [m2], > 0, in the surface, at right angles to K1
  Vector3
      direction; // where angle 0 points; projected on each element; not needed (zero) if K1 = K2
  double angle;  // [rad], from the projected direction, right-handed about the element normal
  /// Share of the cavity that is fibre; none: all but the pores. A core is neither.
  std::optional<double> fibre_volume_fraction = {};
  std::optional<double> fibre_density = {}; // mean of the fibres [kg/m3]; needed with heat
  double fibre_pressure = 0;                // that closes the dry stack, where it is known [Pa]
};

/// Share of the cavity that is fibre.
double fibre_volume_fraction(const Region& region);

/// What lies in the cavity at one element, as for a Region.
struct Reinforcement {
  double thickness;             // h [m], > 0
  double porosity;              // phi [-], 0 < phi <= 1
  double permeability_1;        // K1 [m2], > 0
  double permeability_2;        // K2 [m2], > 0
  Vector3 direction;            // where angle 0 points; not needed (zero) if K1 = K2
  double angle;                 // [rad]
  double fibre_volume_fraction; // share of the cavity that is fibre
  double shear = 0;             // of the fabric; of several the largest, with its sign [rad]
  double fibre_pressure = 0;    // that closes the dry stack, where it is known [Pa]
};

/// A length of hose or pipe of round bore, full of resin from the start.
struct Hose {
  double length; // l [m], > 0
  double bore;   // d [m], > 0
};

/// What the pump is set to from a moment on. Exactly one of the two moments is given.
struct InjectorStage {
  std::optional<double> from_time;    // [s], > 0
  std::optional<double> from_volume;  // injected by this injector [m3], > 0
  std::optional<double> flow_rate;    // [m3/s], > 0; none: as before
  std::optional<double> pressure_cap; // gauge [Pa]; none: as before
};

/// A pump or a pressure pot. At least one of flow rate and cap is given. Pressures are gauge.
struct Injector {
  std::optional<double> flow_rate;    // set point [m3/s], > 0
  std::optional<double> pressure_cap; // upper limit at the mixing head, upstream of the hose [Pa]
  std::vector<Hose> line = {};        // from the head to the gates, one length after the other
  std::vector<InjectorStage> stages = {}; // each takes over when its moment has come, in this order
};

/// A gate or a vent of the problem.
struct PortRef {
  enum class Kind : std::uint8_t { gate, vent } kind;
  std::size_t index; // in FillProblem::gates or vents
  bool operator==(const PortRef&) const = default;
};

/// When a gate opens or closes: at a time, or when the front has reached a port (all its nodes are
/// full). At most one is given; neither: from the start, or never.
struct Moment {
  std::optional<double> time = {};     // [s], >= 0
  std::optional<PortRef> reached = {}; // a gate that opens on arrival of the front names itself
};

/// A closed gate lets nothing through and joins nothing but the mouth of a round port. A gate with
/// a pump of its own lets resin in only; open gates on one pump share its pressure, so that under
/// gravity resin may pass from one to the other.
struct Gate {
  std::string name;
  std::vector<NodeId> nodes;    // not empty, ascending
  Vector3 centre;               // [m]; for a gate by group: not used
  std::optional<double> radius; // radius of a round port [m]; none for a gate by group or node
  std::optional<Injector> own_injector = {}; // none: hangs on FillProblem::injector with the others
  Moment opens = {};
  Moment closes = {};
};

/// Whether a gate is open from the start to the end.
inline bool is_always_open(const Gate& gate) {
  const auto never = [](const Moment& moment) { return !moment.time && !moment.reached; };
  return never(gate.opens) && never(gate.closes);
}

/// Air leaves through a vent until the front has reached all its nodes; then it closes, or lets
/// resin out for a while.
struct Vent {
  std::string name;
  std::vector<NodeId> nodes; // not empty, ascending
  double pressure;           // gauge [Pa], behind the vent line
  /// Resin let out before it closes [m3]: 0 closes on arrival, infinity never.
  double bleed = 0;
  std::vector<Hose> line = {}; // from the part to the catch pot; slows resin, not air
};

/// A way for resin without fibres along mesh edges: a runner channel or a gap beside the
/// reinforcement. Its nodes are those of the part, so resin leaves it along its whole length.
struct Channel {
  std::string name;
  std::vector<std::array<NodeId, 2>> segments; // mesh edges, each once
  std::vector<double> area;                    // cross-section of each segment [m2], > 0
  std::vector<double> permeability;            // K_c of each segment [m2], > 0
};

/// The counter half of the mould and what holds it shut.
struct Mould {
  Vector3 closing_direction; // unit vector along which the halves part
  /// Clamp force and the force of the evacuated flange, (ambient - p_flange) A_flange [N].
  double hold_down_force = 0;
};

/// Mould and resin of different temperatures. The resin's density is needed with it, and the
/// density of the fibres in each region; fibres ahead of the front have the mould's temperature.
struct Heat {
  double inlet_temperature;   // of the resin at the gates [K]
  double mould_temperature;   // [K]
  double wall_coefficient;    // heat flow per area of the part and K, both faces [W/(m2 K)]
  double resin_specific_heat; // [J/(kg K)]
  double fibre_specific_heat; // [J/(kg K)]
  double heat_of_cure = 0;    // per mass of resin that cures through [J/kg]
};

struct FillProblem {
  ShellMesh mesh;
  PerElement<RegionId> element_region;
  std::vector<Region> regions;
  /// Of every element, where it varies within a region; empty: all is as the regions say.
  PerElement<Reinforcement> reinforcement = {};
  Resin resin;
  Injector injector;       // of all gates without one of their own
  std::vector<Gate> gates; // at least one; no node in two gates
  std::vector<Vent> vents;
  double cavity_pressure; // gauge [Pa], air in the dry cavity at the start where no vent is open
  double ambient;         // absolute pressure of the atmosphere [Pa]
  /// Air without an open vent keeps its amount; false: every dry place stays at its pressure.
  bool sealed_air = false;
  std::vector<Channel> channels = {};  // runners and race tracks
  std::optional<Vector3> gravity = {}; // acceleration [m/s2]
  std::optional<Mould> mould = {};
  std::optional<Heat> heat = {}; // none: everything has one temperature
};

/// What lies in the cavity at an element.
Reinforcement reinforcement_at(const FillProblem& problem, ElementId element);
/// Whether temperatures differ or will: else a problem with heat is one without.
bool has_unequal_temperatures(const FillProblem& problem);

/// Pressure of the dry cavity at the start: the lowest of the vents', or the cavity's without a
/// vent [Pa].
double front_pressure(const FillProblem& problem);

} // namespace tidemark
