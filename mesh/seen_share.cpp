#include "mesh/seen_share.hpp"

#include <Eigen/Geometry>
#include <unsupported/Eigen/BVH>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <numeric>
#include <optional>
#include <vector>

namespace tidemark {

namespace {

constexpr int cuts = 4; // of each side

/// Corners with the direction as third axis.
struct SeenTriangle {
  TriangleId id;
  std::array<Vector3, 3> corners;
};

/// Axes across the direction, and the direction.
Eigen::Matrix3d axes_across(const Vector3& direction) {
  Eigen::Index flattest = 0;
  direction.cwiseAbs().minCoeff(&flattest);
  Eigen::Matrix3d axes;
  axes.row(0) = direction.cross(Vector3(Vector3::Unit(flattest))).normalized();
  axes.row(1) = direction.cross(Vector3(axes.row(0)));
  axes.row(2) = direction;
  return axes;
}

std::vector<SeenTriangle> seen_triangles(const ShellMesh& mesh, const Triangulation& triangulation,
                                         const Vector3& direction) {
  constexpr double edge_on = 1e-6;
  const Eigen::Matrix3d axes = axes_across(direction);
  std::vector<SeenTriangle> seen;
  for (const TriangleId id : triangulation.corners.ids()) {
    const auto& [a, b, c] = triangulation.corners[id];
    const Vector3 area = area_vector(mesh.positions[a], mesh.positions[b], mesh.positions[c]);
    if (std::abs(area.dot(direction)) > edge_on * area.norm()) {
      seen.push_back(
          {id, {axes * mesh.positions[a], axes * mesh.positions[b], axes * mesh.positions[c]}});
    }
  }
  return seen;
}

/// Third coordinate of a triangle above a point of the plane; none beside it.
std::optional<double> height_at(const SeenTriangle& triangle, const Vector3& point) {
  const auto& [a, b, c] = triangle.corners;
  const auto cross = [](const Vector3& p, const Vector3& q, const Vector3& r) {
    return (q.x() - p.x()) * (r.y() - p.y()) - (q.y() - p.y()) * (r.x() - p.x());
  };
  const double whole = cross(a, b, c);
  const double at_a = cross(point, b, c) / whole;
  const double at_b = cross(a, point, c) / whole;
  const double at_c = 1 - at_a - at_b;
  constexpr double beside = -1e-12; // on a side it is in both triangles, not in none
  if (!(at_a >= beside && at_b >= beside && at_c >= beside)) {
    return std::nullopt;
  }
  return at_a * a.z() + at_b * b.z() + at_c * c.z();
}

using Box = Eigen::AlignedBox3d;

Box box_of(const SeenTriangle& triangle) {
  Box box;
  for (const Vector3& corner : triangle.corners) {
    box.extend(corner);
  }
  return box;
}

/// Asks a tree of boxes for one of the triangles that stands over a point, or under it, by more
/// than touching; ends with the first.
struct OverQuery {
  const std::vector<SeenTriangle>& triangles;
  const Vector3& point;
  double touching;
  bool is_above; // what stands over it, not under it
  bool is_found = false;

  [[nodiscard]] bool intersectVolume(const Box& box) const {
    const bool is_beside = point.x() < box.min().x() || point.x() > box.max().x() ||
                           point.y() < box.min().y() || point.y() > box.max().y();
    return !is_beside &&
           (is_above ? box.max().z() > point.z() + touching : box.min().z() < point.z() - touching);
  }
  bool intersectObject(std::size_t index) {
    const auto height = height_at(triangles[index], point);
    is_found =
        height && (is_above ? *height > point.z() + touching : *height < point.z() - touching);
    return is_found;
  }
};

/// Middles of the triangles that the sides cut in parts make.
std::vector<Vector3> samples_of(const SeenTriangle& triangle) {
  const auto& [a, b, c] = triangle.corners;
  std::vector<Vector3> samples;
  for (int i = 0; i < cuts; ++i) {
    for (int j = 0; i + j < cuts; ++j) {
      for (int turned = 0; turned < (i + j + 1 < cuts ? 2 : 1); ++turned) {
        const double at_b = (i + (turned + 1) / 3.0) / cuts;
        const double at_c = (j + (turned + 1) / 3.0) / cuts;
        samples.emplace_back(a + at_b * (b - a) + at_c * (c - a));
      }
    }
  }
  return samples;
}

} // namespace

SeenShares seen_shares(const ShellMesh& mesh, const Triangulation& triangulation,
                       const Vector3& direction) {
  const std::size_t count = triangulation.corners.size();
  SeenShares shares{PerTriangle<double>(count, 1), PerTriangle<double>(count, 1), true};
  const std::vector<SeenTriangle> triangles = seen_triangles(mesh, triangulation, direction);
  if (triangles.empty()) {
    return shares;
  }
  std::vector<std::size_t> indices(triangles.size());
  std::iota(indices.begin(), indices.end(), std::size_t{0});
  std::vector<Box> boxes;
  std::ranges::transform(triangles, std::back_inserter(boxes), box_of);
  const Eigen::KdBVH<double, 3, std::size_t> tree(indices.begin(), indices.end(), boxes.begin(),
                                                  boxes.end());
  const double touching = 1e-6 * mesh_extent(mesh);
  const auto is_hidden = [&](const Vector3& point, bool above) {
    OverQuery query{triangles, point, touching, above};
    Eigen::BVIntersect(tree, query);
    return query.is_found;
  };
  for (const SeenTriangle& triangle : triangles) {
    for (const Vector3& sample : samples_of(triangle)) {
      const bool is_hidden_above = is_hidden(sample, true);
      const bool is_hidden_below = is_hidden(sample, false);
      shares.against[triangle.id] -= is_hidden_above ? 1.0 / (cuts * cuts) : 0.0;
      shares.along[triangle.id] -= is_hidden_below ? 1.0 / (cuts * cuts) : 0.0;
      shares.hides_nothing = shares.hides_nothing && !is_hidden_above && !is_hidden_below;
    }
  }
  return shares;
}

} // namespace tidemark
