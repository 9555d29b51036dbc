#include "mesh/triangle_tree.hpp"

#include <algorithm>
#include <array>
#include <limits>

namespace tidemark {

namespace {

struct BoxQuery {
  const Eigen::AlignedBox3d& box;
  std::vector<TriangleId>& found;

  [[nodiscard]] bool intersectVolume(const Eigen::AlignedBox3d& volume) const {
    return box.intersects(volume);
  }
  bool intersectObject(TriangleId triangle) {
    found.push_back(triangle);
    return false; // go on
  }
};

} // namespace

TriangleTree::TriangleTree(const ShellMesh& mesh, const Triangulation& triangles,
                           const PerElement<bool>& left_out) {
  std::vector<TriangleId> ids;
  std::vector<Eigen::AlignedBox3d> boxes;
  for (const TriangleId triangle : triangles.corners.ids()) {
    if (!left_out[triangles.element[triangle]]) {
      Eigen::AlignedBox3d box;
      for (const NodeId node : triangles.corners[triangle]) {
        box.extend(mesh.positions[node]);
      }
      ids.push_back(triangle);
      boxes.push_back(box);
    }
  }
  tree_.init(ids.begin(), ids.end(), boxes.begin(), boxes.end());
}

std::vector<TriangleId> TriangleTree::meeting(const Eigen::AlignedBox3d& box) const {
  std::vector<TriangleId> found;
  BoxQuery query{box, found};
  Eigen::BVIntersect(tree_, query);
  std::ranges::sort(found);
  return found;
}

double least_height(const Vector3& a, const Vector3& b, const Vector3& c) {
  const double longest = std::max({(b - a).norm(), (c - b).norm(), (a - c).norm()});
  return longest > 0 ? 2 * area_vector(a, b, c).norm() / longest : 0;
}

double distance_to_segment(const Vector3& point, const Vector3& a, const Vector3& b) {
  const Vector3 side = b - a;
  const double share = std::clamp((point - a).dot(side) / side.squaredNorm(), 0.0, 1.0);
  return (a + share * side - point).norm();
}

double distance_to_triangle(const Vector3& point, const Vector3& a, const Vector3& b,
                            const Vector3& c) {
  const Vector3 normal = area_vector(a, b, c).normalized();
  const std::array<Vector3, 3> corners{a, b, c};
  bool is_over = true;
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < 3; ++i) {
    const Vector3& from = corners[i];
    const Vector3& to = corners[(i + 1) % 3];
    is_over = is_over && normal.cross(to - from).dot(point - from) >= 0;
    least = std::min(least, distance_to_segment(point, from, to));
  }
  return is_over ? std::abs(normal.dot(point - a)) : least;
}

} // namespace tidemark
