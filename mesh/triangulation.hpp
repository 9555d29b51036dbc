// The triangles the flow is computed on: the user's triangles, and quadrilaterals split in two.
#pragma once

#include "mesh/index.hpp"
#include "mesh/shell_mesh.hpp"

#include <array>
#include <vector>

namespace tidemark {

struct Triangulation {
  PerTriangle<std::array<NodeId, 3>> corners;
  PerTriangle<ElementId> element; // the user's element each triangle is (part of)
};

/// Splits each quadrilateral along its shorter diagonal (the first, corners 0-2, wins a tie).
Triangulation triangulate(const ShellMesh& mesh);

/// The edges of its triangles, each once, lower node first, ascending.
std::vector<std::array<NodeId, 2>> edges_of(const Triangulation& triangulation);

/// Area vector: half the cross product of two sides [m2]; its length is the area, its direction
/// the normal by the right-hand rule.
Vector3 area_vector(const Vector3& a, const Vector3& b, const Vector3& c);

/// Area of an element (both halves of a quadrilateral) [m2].
double element_area(const ShellMesh& mesh, ElementId element);

/// Unit normal of an element; for a warped quadrilateral the direction of the summed areas.
Vector3 element_normal(const ShellMesh& mesh, ElementId element);

/// Area of all elements [m2].
double surface_area(const ShellMesh& mesh);

/// Sum of |A . d| over the elements, A the area vector of each [m2]: the surface as it is seen
/// along a direction d of length 1, parts behind each other counted each.
double area_seen_along(const ShellMesh& mesh, const Vector3& direction);

} // namespace tidemark
