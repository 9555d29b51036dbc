// Straight ways over a surface of triangles: what stays straight when the triangles passed are laid
// flat one after the other. On a surface that can be unrolled along mesh edges they are exact.
#pragma once

#include "mesh/triangulation.hpp"

#include <array>
#include <cstdint>
#include <functional>
#include <vector>

namespace tidemark {

/// A triangle prepared for walking. Edge i lies opposite corner i.
struct WalkTriangle {
  std::array<Vector3, 3> corners;
  std::array<Vector3, 3> along;   // unit vector of edge i, from corner i + 1 to corner i + 2
  std::array<Vector3, 3> outward; // unit vector in the plane, out of the triangle across edge i
  std::array<TriangleId, 3> neighbours;          // invalid where the surface ends
  std::array<std::uint8_t, 3> neighbour_edges{}; // the number of the same edge there
  Vector3 normal = Vector3::Zero();              // by the right-hand rule
  double area = 0; // [m2]; 0 if the triangle is not part of the surface
};

/// One sheet of triangles: at most two meet at each edge.
struct WalkSurface {
  PerTriangle<WalkTriangle> triangles;
};

/// The part of a mesh for which the predicate is true, as one sheet. Where more than two of its
/// triangles meet at an edge, those that continue each other with the smallest turn are joined,
/// pair by pair (of turns equal to 1e-6 rad those of the lower indices); one left over ends there.
/// Triangles without area (below 1e-12 of their longest side squared) are no part of it.
WalkSurface walk_surface(const ShellMesh& mesh, const Triangulation& triangulation,
                         const std::function<bool(TriangleId)>& is_part);

/// A place on the surface with a direction in the plane of its triangle, and the side seen.
struct Heading {
  TriangleId triangle;
  Vector3 position;  // [m]
  Vector3 direction; // unit vector
  Vector3 normal;    // of the triangle or its opposite: the side from which angles are counted
};

struct Walk {
  Heading end;           // where the way leaves the surface if it is not complete
  bool complete = false; // walked to its full length
};

/// Goes straight on for a length [m]. A way that would leave the surface by less than 1e-6 of its
/// length runs along the rim from there on; its direction at the end is as if it had not been bent.
Walk walk_straight(const WalkSurface& surface, const Heading& start, double length);

/// The vector in the plane of a heading's triangle at an angle [rad] from its direction, counted
/// counter-clockwise as seen from the side of its normal.
Vector3 turned(const Heading& heading, double angle);

/// A vector in a plane turned by an angle [rad] about the plane's unit normal.
Vector3 turned(const Vector3& vector, const Vector3& normal, double angle);

/// Angle [rad] from one vector to another in a plane, counter-clockwise about its normal, in
/// (-pi, pi].
double angle_between(const Vector3& from, const Vector3& to, const Vector3& normal);

/// The nearest place of the surface to a point [m]; the triangle is invalid if the surface is
/// empty. O(n).
struct NearestPlace {
  TriangleId triangle;
  Vector3 position; // [m]
  double distance;  // [m]
};
NearestPlace nearest_place(const WalkSurface& surface, const Vector3& point);

/// A triangle laid flat in the plane of another place: the plane's axes carried into the triangle's
/// own plane, and the planar coordinates of one of its points.
struct LaidTriangle {
  TriangleId triangle;
  Vector3 axis_1;
  Vector3 axis_2;
  Vector3 anchor;                // a point of the triangle [m]
  Eigen::Vector2d anchor_planar; // its planar coordinates [m]

  [[nodiscard]] Eigen::Vector2d planar(const Vector3& point) const {
    const Vector3 offset = point - anchor;
    return anchor_planar + Eigen::Vector2d(offset.dot(axis_1), offset.dot(axis_2));
  }
  /// The place that was laid round, as it lies to this triangle: in its plane.
  [[nodiscard]] Vector3 origin() const {
    return anchor - anchor_planar.x() * axis_1 - anchor_planar.y() * axis_2;
  }
};

/// Lays flat the triangles round a place, edge by edge, breadth first.
class Surroundings {
public:
  explicit Surroundings(const WalkSurface& surface);
  /// The triangles that can be reached across edges nearer than a radius [m], the first being that
  /// of the heading; the heading is the origin, its direction the first axis. Valid until the next
  /// call. Near a tip that is not flat a triangle is laid the way it was reached first.
  const std::vector<LaidTriangle>& within(const Heading& centre, double radius);

private:
  const WalkSurface& surface_;
  PerTriangle<std::uint32_t> seen_; // the call in which a triangle was last laid
  std::uint32_t call_ = 0;
  std::vector<LaidTriangle> laid_;
};

} // namespace tidemark
