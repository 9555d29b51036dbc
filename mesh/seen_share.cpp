#include "mesh/seen_share.hpp"

#include <Eigen/Geometry>

#include <algorithm>
#include <array>
#include <cmath>
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

/// Square boxes across the direction with the triangles that reach into them.
class Boxes {
public:
  explicit Boxes(const std::vector<SeenTriangle>& triangles) {
    Eigen::AlignedBox3d extent;
    for (const SeenTriangle& triangle : triangles) {
      for (const Vector3& corner : triangle.corners) {
        extent.extend(corner);
      }
    }
    low_ = extent.min();
    const Vector3 sides = extent.sizes();
    const double side = std::max(sides.x(), sides.y());
    const auto most = static_cast<double>(std::min<std::size_t>(triangles.size(), 1000000));
    width_ = side / std::ceil(std::sqrt(most));
    columns_ = column(sides.x()) + 1;
    boxes_.resize(columns_ * (column(sides.y()) + 1));
    for (std::size_t i = 0; i < triangles.size(); ++i) {
      add(triangles[i], i);
    }
  }

  [[nodiscard]] const std::vector<std::size_t>& at(const Vector3& point) const {
    return boxes_[column(point.x() - low_.x()) + columns_ * column(point.y() - low_.y())];
  }

private:
  [[nodiscard]] std::size_t column(double length) const {
    return static_cast<std::size_t>(std::max(0.0, length / width_));
  }
  void add(const SeenTriangle& triangle, std::size_t index) {
    Eigen::AlignedBox3d around;
    for (const Vector3& corner : triangle.corners) {
      around.extend(Vector3(corner - low_));
    }
    for (std::size_t j = column(around.min().y()); j <= column(around.max().y()); ++j) {
      for (std::size_t i = column(around.min().x()); i <= column(around.max().x()); ++i) {
        boxes_[i + columns_ * j].push_back(index);
      }
    }
  }

  Vector3 low_;
  double width_ = 1;
  std::size_t columns_ = 1;
  std::vector<std::vector<std::size_t>> boxes_;
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
  const Boxes boxes(triangles);
  const double touching = 1e-6 * mesh_extent(mesh);
  for (std::size_t own = 0; own < triangles.size(); ++own) {
    for (const Vector3& sample : samples_of(triangles[own])) {
      bool is_hidden_above = false;
      bool is_hidden_below = false;
      for (const std::size_t other : boxes.at(sample)) {
        const auto height = other == own ? std::nullopt : height_at(triangles[other], sample);
        is_hidden_above = is_hidden_above || (height && *height > sample.z() + touching);
        is_hidden_below = is_hidden_below || (height && *height < sample.z() - touching);
      }
      shares.against[triangles[own].id] -= is_hidden_above ? 1.0 / (cuts * cuts) : 0.0;
      shares.along[triangles[own].id] -= is_hidden_below ? 1.0 / (cuts * cuts) : 0.0;
      shares.hides_nothing = shares.hides_nothing && !is_hidden_above && !is_hidden_below;
    }
  }
  return shares;
}

} // namespace tidemark
