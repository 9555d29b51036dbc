#include "mesh/triangulation.hpp"

#include <algorithm>

#include <Eigen/Geometry>

#include <cmath>

namespace tidemark {

Triangulation triangulate(const ShellMesh& mesh) {
  Triangulation result;
  result.corners.reserve(mesh.elements.size());
  result.element.reserve(mesh.elements.size());
  const auto add = [&](NodeId a, NodeId b, NodeId c, ElementId element) {
    result.corners.push_back({a, b, c});
    result.element.push_back(element);
  };
  for (const ElementId id : mesh.elements.ids()) {
    const auto& [a, b, c, d] = mesh.elements[id].nodes;
    if (!mesh.elements[id].is_quad()) {
      add(a, b, c, id);
      continue;
    }
    const double first = (mesh.positions[a] - mesh.positions[c]).norm();
    const double second = (mesh.positions[b] - mesh.positions[d]).norm();
    // Rounding must not decide between equal diagonals: a rotated mesh is split the same way.
    if (first <= second * (1 + 1e-9)) {
      add(a, b, c, id);
      add(a, c, d, id);
    } else {
      add(a, b, d, id);
      add(b, c, d, id);
    }
  }
  return result;
}

std::vector<std::array<NodeId, 2>> edges_of(const Triangulation& triangulation) {
  std::vector<std::array<NodeId, 2>> edges;
  for (const auto& corners : triangulation.corners) {
    for (std::size_t i = 0; i < 3; ++i) {
      const auto [low, high] = std::minmax(corners[i], corners[(i + 1) % 3]);
      edges.push_back({low, high});
    }
  }
  std::ranges::sort(edges);
  edges.erase(std::unique(edges.begin(), edges.end()), edges.end());
  return edges;
}

Vector3 area_vector(const Vector3& a, const Vector3& b, const Vector3& c) {
  return 0.5 * (b - a).cross(c - a);
}

namespace {

Vector3 summed_area(const ShellMesh& mesh, ElementId id) {
  const auto corners = mesh.elements[id].corners();
  Vector3 sum = Vector3::Zero();
  for (std::size_t i = 2; i < corners.size(); ++i) {
    sum += area_vector(mesh.positions[corners[0]], mesh.positions[corners[i - 1]],
                       mesh.positions[corners[i]]);
  }
  return sum;
}

} // namespace

double element_area(const ShellMesh& mesh, ElementId id) {
  const auto& [a, b, c, d] = mesh.elements[id].nodes;
  const auto area = [&](NodeId i, NodeId j, NodeId k) {
    return area_vector(mesh.positions[i], mesh.positions[j], mesh.positions[k]).norm();
  };
  if (!mesh.elements[id].is_quad()) {
    return area(a, b, c);
  }
  const double first = (mesh.positions[a] - mesh.positions[c]).norm();
  const double second = (mesh.positions[b] - mesh.positions[d]).norm();
  return first <= second * (1 + 1e-9) ? area(a, b, c) + area(a, c, d)
                                      : area(a, b, d) + area(b, c, d);
}

Vector3 element_normal(const ShellMesh& mesh, ElementId id) {
  return summed_area(mesh, id).normalized();
}

double surface_area(const ShellMesh& mesh) {
  double area = 0;
  for (const ElementId id : mesh.elements.ids()) {
    area += element_area(mesh, id);
  }
  return area;
}

double area_seen_along(const ShellMesh& mesh, const Vector3& direction) {
  double area = 0;
  for (const ElementId id : mesh.elements.ids()) {
    area += std::abs(summed_area(mesh, id).dot(direction));
  }
  return area;
}

} // namespace tidemark
