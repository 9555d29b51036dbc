#include "mesh/solid_skin.hpp"

#include "mesh/edge_lines.hpp"
#include "mesh/triangle_tree.hpp"
#include "mesh/triangulation.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

namespace tidemark {

namespace {

constexpr std::size_t places = 400;
constexpr double least_share = 0.75;         // of the places
constexpr double farthest = 0.1;             // of the extent
const double least_cosine = std::sqrt(0.75); // of 30 degrees

struct Corners {
  Vector3 a, b, c;
};

Corners corners_of(const ShellMesh& mesh, const Triangulation& triangles, TriangleId triangle) {
  const auto& [a, b, c] = triangles.corners[triangle];
  return {mesh.positions[a], mesh.positions[b], mesh.positions[c]};
}

/// Triangles that follow each other by equal steps of area.
std::vector<TriangleId> spread_by_area(const ShellMesh& mesh, const Triangulation& triangles,
                                       const PerElement<bool>& left_out) {
  PerTriangle<double> area(triangles.corners.size(), 0);
  double total = 0;
  for (const TriangleId triangle : area.ids()) {
    if (!left_out[triangles.element[triangle]]) {
      const auto& [a, b, c] = corners_of(mesh, triangles, triangle);
      area[triangle] = area_vector(a, b, c).norm();
      total += area[triangle];
    }
  }
  std::vector<TriangleId> chosen;
  double passed = 0;
  for (const TriangleId triangle : area.ids()) {
    passed += area[triangle];
    while (passed > total * (static_cast<double>(chosen.size()) + 0.5) / places) {
      chosen.push_back(triangle);
    }
  }
  return chosen;
}

/// Where a straight line through a point meets a triangle nearly at right angles, how far from the
/// point [m]; otherwise infinite.
double distance_along(const Vector3& point, const Vector3& line, const Corners& corners) {
  const auto& [a, b, c] = corners;
  const Vector3 normal = area_vector(a, b, c).normalized();
  const double cosine = normal.dot(line);
  if (!(std::abs(cosine) > least_cosine)) {
    return std::numeric_limits<double>::infinity();
  }
  const double along = normal.dot(a - point) / cosine;
  const Vector3 met = point + along * line;
  const bool is_inside = normal.dot((b - a).cross(met - a)) >= 0 &&
                         normal.dot((c - b).cross(met - b)) >= 0 &&
                         normal.dot((a - c).cross(met - c)) >= 0;
  return is_inside ? std::abs(along) : std::numeric_limits<double>::infinity();
}

/// Distance of the middle of a triangle from the layer that faces it, on either side [m]; infinite
/// if there is none within `most`.
double distance_of_layer(const ShellMesh& mesh, const Triangulation& triangles,
                         const TriangleTree& tree, TriangleId from, double most) {
  const auto& [a, b, c] = corners_of(mesh, triangles, from);
  const Vector3 middle = (a + b + c) / 3;
  const Vector3 normal = area_vector(a, b, c).normalized();
  Eigen::AlignedBox3d box(Vector3(middle - most * normal));
  box.extend(Vector3(middle + most * normal));
  double nearest = std::numeric_limits<double>::infinity();
  for (const TriangleId triangle : tree.meeting(box)) {
    if (triangles.element[triangle] != triangles.element[from]) {
      const double distance = distance_along(middle, normal, corners_of(mesh, triangles, triangle));
      nearest = distance <= most ? std::min(nearest, distance) : nearest;
    }
  }
  return nearest;
}

} // namespace

std::optional<double> solid_skin(const ShellMesh& mesh, const PerElement<bool>& left_out) {
  if (!free_edges(mesh).empty()) {
    return std::nullopt;
  }
  const Triangulation triangles = triangulate(mesh);
  const TriangleTree tree(mesh, triangles, left_out);
  const double most = farthest * mesh_extent(mesh);
  std::vector<double> distances;
  for (const TriangleId triangle : spread_by_area(mesh, triangles, left_out)) {
    const double distance = distance_of_layer(mesh, triangles, tree, triangle, most);
    if (std::isfinite(distance)) {
      distances.push_back(distance);
    }
  }
  if (static_cast<double>(distances.size()) < least_share * places) {
    return std::nullopt;
  }
  std::ranges::sort(distances);
  return distances[distances.size() / 2];
}

} // namespace tidemark
