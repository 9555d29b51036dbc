// Quadrilaterals in two, areas and normals.
#include "mesh/triangulation.hpp"

#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace tidemark;
using tidemark::test::mesh_of;

namespace {

ShellMesh quad(const Vector3& a, const Vector3& b, const Vector3& c, const Vector3& d) {
  return mesh_of({a, b, c, d}, {{{NodeId(0), NodeId(1), NodeId(2), NodeId(3)}}});
}

bool has_diagonal(const Triangulation& triangulation, int from, int to) {
  return std::ranges::all_of(triangulation.corners, [&](const auto& corners) {
    return std::ranges::count(corners, NodeId(from)) == 1 &&
           std::ranges::count(corners, NodeId(to)) == 1;
  });
}

} // namespace

TEST_CASE("triangulation: the shorter diagonal splits a quadrilateral, the first wins a tie") {
  const ShellMesh square = quad({0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0});
  const ShellMesh leaning = quad({0, 0, 0}, {1, 0, 0}, {2, 1, 0}, {1, 1, 0});
  CHECK(triangulate(square).corners.size() == 2);
  CHECK(has_diagonal(triangulate(square), 0, 2));
  CHECK(has_diagonal(triangulate(leaning), 1, 3));
  ShellMesh turned = square; // by 0.3 about z: a tie but for rounding
  test::move_rigidly(turned, Vector3::UnitZ(), 0.3, {0.1, 0.2, 0.3});
  CHECK(has_diagonal(triangulate(turned), 0, 2));
}

TEST_CASE("triangulation: triangles stay, and each knows its element") {
  const ShellMesh mesh = mesh_of({{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}, {2, 0, 0}},
                                 {{{NodeId(1), NodeId(4), NodeId(2), NodeId()}},
                                  {{NodeId(0), NodeId(1), NodeId(2), NodeId(3)}}});
  const Triangulation triangulation = triangulate(mesh);
  REQUIRE(triangulation.corners.size() == 3);
  CHECK(triangulation.corners[TriangleId(0)] == std::array{NodeId(1), NodeId(4), NodeId(2)});
  CHECK(triangulation.element.values() == std::vector{ElementId(0), ElementId(1), ElementId(1)});
}

TEST_CASE("triangulation: areas and normals") {
  CHECK(area_vector({0, 0, 0}, {2, 0, 0}, {0, 3, 0}) == Vector3(0, 0, 3));
  CHECK(area_vector({0, 0, 0}, {0, 3, 0}, {2, 0, 0}) == Vector3(0, 0, -3));
  const ShellMesh leaning = quad({0, 0, 0}, {1, 0, 0}, {2, 1, 0}, {1, 1, 0});
  CHECK(element_area(leaning, ElementId(0)) == doctest::Approx(1));
  CHECK(element_normal(leaning, ElementId(0)) == Vector3(0, 0, 1));
  // Bent along its shorter diagonal 0-2: two equilateral triangles of side 1.
  const double half = std::sqrt(0.5);
  const ShellMesh bent = quad({0, 0, half}, {half, 0, 0}, {0, half, 0}, {-half, 0, 0});
  CHECK(element_area(bent, ElementId(0)) == doctest::Approx(std::sqrt(0.75)));
  CHECK(surface_area(bent) == doctest::Approx(std::sqrt(0.75)));
  CHECK(area_seen_along(bent, {0, 1, 0}) == doctest::Approx(0.5)); // (0, 1/2, 1/2) as area vector
  CHECK(area_seen_along(bent, {1, 0, 0}) == doctest::Approx(0));
  CHECK(area_seen_along(leaning, {0, 0, -1}) == doctest::Approx(1));
  const Vector3 normal = element_normal(bent, ElementId(0));
  CHECK((normal - Vector3(0, half, half)).norm() < 1e-12);
}
