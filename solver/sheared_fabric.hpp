// What shear does to a woven fabric: warp and weft turn towards each other at their crossings.
#pragma once

#include "mesh/shell_mesh.hpp"

namespace tidemark {

/// Shear of a fabric [rad]: a right angle less the angle from warp to weft; positive where that has
/// become less than a right angle, in (-pi/2, pi/2). Vectors of any length; of two that lie on one
/// line pi/2 or -pi/2.
double shear_angle(const Vector3& warp, const Vector3& weft);

/// Fibre volume fraction at an unchanged cavity thickness, Vf = Vf0 / cos(shear): yarns keep their
/// length, so the same fibres cover an area smaller by cos(shear). Common practice, no source.
/// shear [rad], |shear| < pi/2; the result may pass what fibres can be packed to, and even 1: check
/// it.
double sheared_volume_fraction(double volume_fraction, double shear);

/// Principal permeabilities in the plane of a sheared fabric.
struct ShearedPermeability {
  double permeability_1; // K1 [m2]
  double permeability_2; // K2 [m2], <= K1
  /// From the warp to K1, counted the way that leads from the warp to the weft, above -pi/2 up to
  /// pi/2 [rad].
  double angle;
};

/// Turns and stretches the permeability of a fabric with its pores. In axes along the warp and at a
/// right angle to it (towards the weft), with F = [1 sin(g); 0 cos(g)] what shear by g does to the
/// fabric and K0 the permeability of the unsheared fabric *at the fibre volume fraction of the
/// sheared one*,
///     K = F K0 F^T / det F.
/// The geometric mean sqrt(K1 K2) stays that of K0: how much the resin is held up in all is the
/// business of the law in Vf. For a balanced fabric (K1 = K2) K1 comes to lie on the bisector of
/// the acute angle of the yarns and K1 / K2 = (1 + sin|g|) / (1 - sin|g|), 3 at 30 degrees. That K1
/// follows the bisector in balanced weaves is common observation (from memory); the transformation
/// as such is an assumption of this program, exact for a network of ducts along the fibre
/// directions and no more than plausible for a given weave: where a sheared sample has been
/// measured, its values are better. permeability_1, permeability_2 > 0 [m2] with any of them the
/// larger; warp_to_k1 [rad] from the warp towards the unsheared weft; |shear| < pi/2 [rad].
ShearedPermeability sheared_permeability(double permeability_1, double permeability_2,
                                         double warp_to_k1, double shear);

/// Unit vector of K1 in the plane of warp and weft (unit vectors, not on one line).
Vector3 sheared_direction_1(const ShearedPermeability& permeability, const Vector3& warp,
                            const Vector3& weft);

} // namespace tidemark
