// Triangles found by place.
#pragma once

#include "mesh/triangulation.hpp"

#include <Eigen/Geometry>
#include <unsupported/Eigen/BVH>

#include <vector>

namespace tidemark {

/// A tree of boxes round the triangles of a mesh, those of elements left out aside.
class TriangleTree {
public:
  /// O(n log n). Precondition: finite positions.
  TriangleTree(const ShellMesh& mesh, const Triangulation& triangles,
               const PerElement<bool>& left_out);
  /// The triangles whose boxes meet a box [m], and a few beside them, ascending. O(log n) and what
  /// is found.
  [[nodiscard]] std::vector<TriangleId> meeting(const Eigen::AlignedBox3d& box) const;

private:
  Eigen::KdBVH<double, 3, TriangleId> tree_;
};

/// Height over the longest side [m], the least of the three; 0 if the corners are one point.
double least_height(const Vector3& a, const Vector3& b, const Vector3& c);

/// Distance of a point from a line between two different points [m].
double distance_to_segment(const Vector3& point, const Vector3& a, const Vector3& b);

/// Distance of a point from a triangle that has an area [m].
double distance_to_triangle(const Vector3& point, const Vector3& a, const Vector3& b,
                            const Vector3& c);

} // namespace tidemark
