// What is to be filled, in SI units and checked: the input of the filling algorithm.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// Reinforcement in one part of the cavity.
struct Region {
  std::string name;
  double thickness;      // cavity thickness h [m], > 0
  double porosity;       // phi [-], 0 < phi <= 1
  double permeability_1; // K1 [m2], > 0, along direction turned by angle
  double permeability_2; // K2 [m2], > 0, in the surface, at right angles to K1
  Vector3
      direction; // where angle 0 points; projected on each element; not needed (zero) if K1 = K2
  double angle;  // [rad], from the projected direction, right-handed about the element normal
};

struct Resin {
  double viscosity;               // mu [Pa s], > 0, constant
  std::optional<double> density;  // [kg/m3]
  std::optional<double> gel_time; // [s] after the start of injection; flow stops there
};

/// The pump. At least one is given. Pressures are gauge.
struct Injector {
  std::optional<double> flow_rate;    // set point [m3/s], > 0
  std::optional<double> pressure_cap; // upper limit at the mixing head [Pa]
};

/// All gates hang on the one mixing head.
struct Gate {
  std::string name;
  std::vector<NodeId> nodes;    // not empty, ascending
  Vector3 centre;               // [m]; for a gate by group: not used
  std::optional<double> radius; // radius of a round port [m]; none for a gate by group or node
};

struct Vent {
  std::string name;
  std::vector<NodeId> nodes; // not empty, ascending
  double pressure;           // gauge [Pa]; the same for all vents
};

struct FillProblem {
  ShellMesh mesh;
  PerElement<RegionId> element_region;
  std::vector<Region> regions;
  Resin resin;
  Injector injector;
  std::vector<Gate> gates; // at least one; no node in two gates
  std::vector<Vent> vents;
  double cavity_pressure; // gauge [Pa], in the dry cavity when there is no vent
  double ambient;         // absolute pressure of the atmosphere [Pa]
};

/// Pressure of the dry cavity, hence on the front: the vents', or the cavity's without a vent [Pa].
double front_pressure(const FillProblem& problem);

} // namespace tidemark
