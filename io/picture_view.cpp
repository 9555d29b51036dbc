#include "io/picture_view.hpp"

#include "io/number_text.hpp"
#include "mesh/triangulation.hpp"

#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

namespace tidemark {

namespace {

constexpr double tilt = 30 * std::numbers::pi / 180;
constexpr int raster_cells = 128; // along each side of the raster that silhouettes are counted on

struct Extent {
  double low = std::numeric_limits<double>::infinity();
  double high = -std::numeric_limits<double>::infinity();
  void take(double value) {
    low = std::min(low, value);
    high = std::max(high, value);
  }
  [[nodiscard]] double size() const { return high - low; }
  [[nodiscard]] double middle() const { return low + size() / 2; }
};

Extent extent_along(const ShellMesh& mesh, const Vector3& direction) {
  Extent extent;
  for (const Vector3& position : mesh.positions) {
    extent.take(position.dot(direction));
  }
  return extent;
}

/// Any two directions that make a view with the third.
PictureView some_view(const Vector3& toward) {
  const Vector3 up =
      std::abs(toward.z()) < 1 - 1e-9 ? Vector3(Vector3::UnitZ()) : Vector3(Vector3::UnitY());
  const Vector3 right = up.cross(toward).normalized();
  return {right, toward.cross(right), toward};
}

/// Marks the cells whose middle lies in a triangle; the triangle in units of cells.
void mark_triangle(std::vector<bool>& cells, const std::array<Eigen::Vector2d, 3>& corners) {
  const auto cross = [](const Eigen::Vector2d& a, const Eigen::Vector2d& b) {
    return a.x() * b.y() - a.y() * b.x();
  };
  const auto [left, right] = std::minmax({corners[0].x(), corners[1].x(), corners[2].x()});
  const auto [bottom, top] = std::minmax({corners[0].y(), corners[1].y(), corners[2].y()});
  const double turn = cross(corners[1] - corners[0], corners[2] - corners[0]) < 0 ? -1 : 1;
  const auto cell = [](double place) {
    return std::clamp(static_cast<int>(std::floor(place)), 0, raster_cells - 1);
  };
  for (int y = cell(bottom); y <= cell(top); ++y) {
    for (int x = cell(left); x <= cell(right); ++x) {
      const Eigen::Vector2d middle(x + 0.5, y + 0.5);
      bool is_inside = true;
      for (std::size_t k = 0; k < 3; ++k) {
        const Eigen::Vector2d side = corners[(k + 1) % 3] - corners[k];
        is_inside = is_inside && turn * cross(side, middle - corners[k]) >= 0;
      }
      if (is_inside) {
        cells[static_cast<std::size_t>(y * raster_cells + x)] = true;
      }
    }
  }
}

/// What the part covers, seen along a direction [m2], to a few per cent.
double silhouette_area(const ShellMesh& mesh, const Triangulation& triangulation,
                       const Vector3& toward) {
  const PictureView view = some_view(toward);
  const Extent across = extent_along(mesh, view.right);
  const Extent upward = extent_along(mesh, view.up);
  const double size = std::max(across.size(), upward.size()) / raster_cells;
  if (size <= 0) {
    return 0;
  }
  std::vector<bool> cells(static_cast<std::size_t>(raster_cells) * raster_cells, false);
  for (const std::array<NodeId, 3>& corners : triangulation.corners) {
    std::array<Eigen::Vector2d, 3> places;
    std::ranges::transform(corners, places.begin(), [&](NodeId node) {
      const Vector3& position = mesh.positions[node];
      return Eigen::Vector2d((position.dot(view.right) - across.low) / size,
                             (position.dot(view.up) - upward.low) / size);
    });
    mark_triangle(cells, places);
  }
  return size * size * static_cast<double>(std::ranges::count(cells, true));
}

/// The direction and its opposite look the same: one of them, the same on any machine.
Vector3 towards_the_eye(const Vector3& direction) {
  for (const Eigen::Index axis : {2, 1, 0}) {
    if (std::abs(direction[axis]) > 0.3 * direction.cwiseAbs().maxCoeff()) {
      return direction[axis] > 0 ? direction : Vector3(-direction);
    }
  }
  return direction;
}

/// Of the axes and the principal directions of the surface's normals, the one from which most is
/// seen; an axis unless another shows clearly more.
Vector3 widest_side(const ShellMesh& mesh) {
  const Triangulation triangulation = triangulate(mesh);
  Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
  for (const std::array<NodeId, 3>& corners : triangulation.corners) {
    const Vector3 area = area_vector(mesh.positions[corners[0]], mesh.positions[corners[1]],
                                     mesh.positions[corners[2]]);
    const double size = area.norm();
    spread += size > 0 ? Eigen::Matrix3d(area * area.transpose() / size) : Eigen::Matrix3d::Zero();
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> principal(spread);
  std::array<Vector3, 6> directions = {Vector3::UnitZ(), Vector3::UnitY(), Vector3::UnitX()};
  for (int k = 0; k < 3; ++k) {
    directions[static_cast<std::size_t>(3 + k)] = principal.eigenvectors().col(2 - k);
  }
  Vector3 best = directions.front();
  double most = 0;
  for (const Vector3& direction : directions) {
    const double area = silhouette_area(mesh, triangulation, direction);
    if (area > 1.05 * most) {
      best = direction;
      most = area;
    }
  }
  return towards_the_eye(best);
}

/// Which way round: x to the right (or y, seen from x), unless the part is longer the other way.
PictureView long_side_across(const ShellMesh& mesh, const Vector3& toward) {
  Vector3 along =
      std::abs(toward.x()) < 0.9 ? Vector3(Vector3::UnitX()) : Vector3(Vector3::UnitY());
  along = (along - along.dot(toward) * toward).normalized();
  PictureView view{along, toward.cross(along), toward};
  if (extent_along(mesh, view.up).size() > 1.1 * extent_along(mesh, view.right).size()) {
    view = {view.up, -view.right, toward};
  }
  return view;
}

} // namespace

PictureView default_view(const ShellMesh& mesh) {
  PictureView view = long_side_across(mesh, widest_side(mesh));
  const bool is_flat =
      extent_along(mesh, view.toward).size() < 0.01 * extent_along(mesh, view.right).size();
  if (!is_flat) {
    // The eye goes down, so that one looks at the part's near side as well.
    const Vector3 toward = std::cos(tilt) * view.toward - std::sin(tilt) * view.up;
    view = {view.right, toward.cross(view.right), toward};
  }
  return view;
}

PictureView view_from(const Vector3& direction) {
  return some_view(direction.normalized());
}

Pixel Projection::operator()(const Vector3& point) const {
  const Vector3 from_centre = point - centre;
  return {centre_pixel.x + scale * from_centre.dot(view.right),
          centre_pixel.y + scale * from_centre.dot(view.up)};
}

Projection projection_into(const PixelBox& box, const ShellMesh& mesh, const PictureView& view) {
  const Extent across = extent_along(mesh, view.right);
  const Extent upward = extent_along(mesh, view.up);
  const Extent deep = extent_along(mesh, view.toward);
  const double scale = std::min((box.right - box.left) / std::max(across.size(), 1e-300),
                                (box.top - box.bottom) / std::max(upward.size(), 1e-300));
  return {view,
          across.middle() * view.right + upward.middle() * view.up + deep.middle() * view.toward,
          {(box.left + box.right) / 2, (box.bottom + box.top) / 2},
          scale};
}

ScaleBar scale_bar(double pixels_per_metre, double most_pixels) {
  const double most = most_pixels / pixels_per_metre;
  const double power = std::pow(10, std::floor(std::log10(most)));
  double length = power;
  for (const double times : {2.0, 5.0}) {
    length = times * power <= most ? times * power : length;
  }
  const bool in_metres = length >= 0.999;
  const double shown = in_metres ? length : 1000 * length;
  return {length, plain_number(shown) + (in_metres ? " m" : " mm")};
}

} // namespace tidemark
