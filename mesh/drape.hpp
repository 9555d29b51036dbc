// How a woven fabric shears when it is laid over a part: the yarns neither stretch nor slip, they
// turn at their crossings.
#pragma once

#include "mesh/triangulation.hpp"

#include <functional>
#include <optional>
#include <vector>

namespace tidemark {

struct DrapeStart {
  Vector3 point; // where the fabric first touches; the nearest place of the surface is taken [m]
  Vector3 warp_direction; // of any length; projected on the triangle there
};

struct DrapeOptions {
  /// Distance of yarns in the computed net [m]; 0: half the side of a mean square, that is half the
  /// root of twice the mean area of a triangle. A finer one gains
  /// little but near narrow places: the error of the mesh is left.
  double step = 0;
  /// Shear beyond which the fabric wrinkles [rad], above 0 up to pi / 2.
  std::optional<double> locking_angle = {};
};

/// The yarns on one triangle.
struct Yarns {
  bool is_covered = false;        // false: all else is 0
  Vector3 warp = Vector3::Zero(); // unit vector in the plane of the triangle
  Vector3 weft = Vector3::Zero(); // unit vector in the plane of the triangle
  double shear = 0; // pi / 2 less the angle from warp to weft [rad], -pi / 2 to pi / 2
};

struct Drape {
  PerTriangle<Yarns> yarns;
  double largest_shear = 0;       // largest |shear| [rad]
  TriangleId largest_shear_at;    // invalid if nothing is covered
  std::vector<TriangleId> locked; // beyond the locking angle, ascending
  double locked_area = 0;         // [m2]
  double covered_area = 0;        // [m2]
  double uncovered_area = 0;      // of the part to be covered [m2]
  /// Places where the fabric ends though the surface goes on: there it meets itself, or has more to
  /// take up than shear can; it must be cut, lapped or darted [m].
  std::vector<Vector3> seams;
  double start_distance = 0; // from the point given to the start on the surface [m]
  double step = 0;           // used [m]
  std::size_t crossings = 0; // of the net
};

/// Drapes a woven fabric over the part of a mesh for which the predicate is true: the kinematic
/// (fishnet, pin-jointed) model of Mack & Taylor 1956 (from memory), with the two yarns through the
/// start laid straight, that is, as geodesics. The yarns form a net of rhombs whose sides are
/// straight ways over the triangles, not chords through space: so on a part that can be unrolled
/// along mesh edges, folded ever so sharply, the shear is zero to rounding. On curved parts the
/// error falls about with the square of the size of triangles and step, on meshes whose bend at the
/// nodes is random with its power 1.5 to 1.8.
///
/// The weft leaves the start at a right angle to the left of the warp, as seen from the side that
/// the normal of the triangle there shows (corners counter-clockwise); a fabric seen from the other
/// side has the weft reversed, and the opposite sign of the shear. The shear is positive where the
/// angle between the directions warp and weft has become less than a right angle.
///
/// The net ends at rims, where the yarns of a cell would come within 10 degrees of each other, and
/// where it would come to lie on itself (a pipe is covered once round). Behind holes and round
/// corners it goes on from where it comes past (see lay_net); on curved parts sheets that meet
/// there need not match, and that is not among the seams told. Where more than two triangles meet
/// at an edge (T-joints), the fabric follows the two that continue each other best; give each leaf
/// a fabric of its own by the predicate. A triangle is covered if its centre lies in the net or
/// within one step of its last crossings; so the fabric reaches the rim, but a strip narrower than
/// a step that no yarn enters stays bare.
///
/// Not modelled: friction, forming forces, slip, stretch, the wrinkles themselves, and darts or
/// cuts.
///
/// Throws InputError where there is nothing to cover, start, direction or an option is not a finite
/// number in its range, the direction is within 1 degree of the normal at the start, or the step is
/// so small that the net would have more than 20 million crossings. O(n log n) in triangles and
/// crossings; same input, same result.
Drape drape(const ShellMesh& mesh, const Triangulation& triangulation,
            const std::function<bool(TriangleId)>& is_to_be_covered, const DrapeStart& start,
            const DrapeOptions& options = {});

/// The yarns of each element: of a triangle its own, of a quadrilateral those of the half with the
/// larger area that is covered, laid in the plane of the element; the shear is that between them.
PerElement<Yarns> yarns_of_elements(const ShellMesh& mesh, const Triangulation& triangulation,
                                    const PerTriangle<Yarns>& yarns);

} // namespace tidemark
