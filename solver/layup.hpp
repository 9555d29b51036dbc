// Plies of fabric, gaps and cores one upon the other: what they make of a cavity.
#pragma once

#include "solver/compaction.hpp"
#include "solver/permeability.hpp"

#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace tidemark {

/// A reinforcement as it is bought.
struct Fabric {
  std::string name;
  double areal_weight;    // m [kg/m2], > 0
  double fibre_density;   // rho [kg/m3], > 0
  PermeabilityLaw along;  // K1
  PermeabilityLaw across; // K2
  FractionRange valid;    // of both laws
  double warp_to_k1 = 0;  // angle from the warp to K1 [rad]
  std::optional<CompactionLaw> compaction = {};
};

/// Plies of one fabric that lie alike.
struct FabricPlies {
  std::size_t fabric; // in Layup::fabrics
  int count;          // > 0
  double angle;       // from the region's angle 0 to the warp [rad]
  /// By which warp and weft have closed up [rad], below a right angle: the same fibres then cover
  /// cos(shear) of their area, so that m becomes m / cos(shear); K follows sheared_permeability.
  double shear = 0;
};

/// What keeps its thickness whatever closes the mould: an open gap or a core.
struct FixedLayer {
  double thickness;      // [m], > 0
  double porosity;       // share that resin fills, 0 to 1
  double permeability_1; // of the whole layer [m2], 0 for a closed core
  double permeability_2; // [m2]
  double angle;          // from the region's angle 0 to K1 [rad]
};

/// Grooves in a core, all alike, filled with resin.
struct Grooves {
  double width;    // w [m]
  double depth;    // d [m]
  double spacing;  // s from groove to groove [m], > w
  bool is_crossed; // a second set at right angles
};

/// Open from face to face: K = gap^2 / 12, porosity 1.
FixedLayer open_gap(double thickness);

/// A core of thickness H with grooves along `angle`: K1 = w d / (s H) times the permeability of a
/// rectangular channel, K2 = 0, or K1 if crossed; the crossings count once in the porosity.
FixedLayer grooved_core(double thickness, const Grooves& grooves, double angle);

using LayupEntry = std::variant<FabricPlies, FixedLayer>;

/// From one face of the mould to the other.
struct Layup {
  std::vector<Fabric> fabrics; // that the entries name
  std::vector<LayupEntry> entries;
};

/// One entry as it lies in the closed cavity.
struct Layer {
  double thickness;             // of all its plies together [m]
  double fibre_volume_fraction; // Vf; 0 for gaps and cores
  double porosity;              // 1 - Vf for fabrics
  double permeability_1;        // [m2]
  double permeability_2;        // [m2]
  double angle;                 // from the region's angle 0 to K1 [rad]
  double areal_weight;          // of the fibres [kg/m2]
};

/// The whole stack, averaged over its thickness.
struct ClosedStack {
  std::vector<Layer> layers;
  double thickness = 0;             // [m]
  double fibre_volume_fraction = 0; // share of the whole thickness that is fibre
  double ply_volume_fraction = 0;   // Vf of the fabrics alone, without gaps and cores; 0 for none
  double porosity = 0;
  double permeability_1 = 0; // [m2]
  double permeability_2 = 0; // [m2], <= permeability_1
  double angle = 0;          // from the region's angle 0 to K1, above -pi/2 up to pi/2 [rad]
  double areal_weight = 0;   // of the fibres [kg/m2]
  /// On the fibres, where it is known: all fabrics have a compaction law [Pa].
  std::optional<double> closing_pressure = {};
};

/// Thickness the fibres of all plies would have without pores [m]: sum of n m / rho.
double solid_thickness(const Layup& layup);

/// Thickness of gaps and cores [m].
double fixed_thickness(const Layup& layup);

/// Cavity thickness at which the fabrics together have this fibre volume fraction [m]: gaps and
/// cores come on top.
double thickness_for(const Layup& layup, double ply_volume_fraction);

/// Lays the stack into a cavity of given thickness h. Gaps and cores keep theirs; fabrics share the
/// rest, h_f:
///  - if all have a compaction law, they bear on each other with one pressure p, which solves
///    sum of n m / (rho Vf(p)) = h_f;
///  - otherwise all have the same Vf, that is, sum of n m / rho over h_f.
/// For a single fabric both are the same. Then, with resin free to pass from ply to ply,
///     K = sum of h_i K_i / h,   porosity = sum of h_i phi_i / h
/// with each K_i turned by its angle; K1, K2 and their angle are those of the sum. A K1 and K2
/// that differ by rounding alone are made equal, at angle 0. Nothing if no pressure a number can
/// hold closes the stack. Preconditions: solid_thickness < h_f, or no fabric and h_f = 0 to
/// rounding.
std::optional<ClosedStack> close_stack(const Layup& layup, double thickness);

} // namespace tidemark
