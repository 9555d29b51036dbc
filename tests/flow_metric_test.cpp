// Terms of a triangle by hand, and the flips that make a triangulation Delaunay in the flow metric.
#include "solver/flow_metric.hpp"

#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

/// Two triangles 0 1 2 and 0 2 3 of a rhombus: the diagonal 0-2 is the long one.
ShellMesh rhombus() {
  return mesh_of({{-1, 0, 0}, {0, -0.5, 0}, {1, 0, 0}, {0, 0.5, 0}},
                 {{{NodeId(0), NodeId(1), NodeId(2), NodeId()}},
                  {{NodeId(0), NodeId(2), NodeId(3), NodeId()}}});
}

FillProblem problem_of(ShellMesh mesh) {
  return with_pressure(problem_on(std::move(mesh), {NodeId(0)}));
}

FlowTriangles triangles_of(const FillProblem& problem) {
  return flow_triangles(problem, triangulate(problem.mesh));
}

bool joins(const FlowTriangles& triangles, int a, int b) {
  return std::ranges::any_of(triangles.triangles, [&](const FlowTriangle& triangle) {
    return std::ranges::count(triangle.corners, NodeId(a)) == 1 &&
           std::ranges::count(triangle.corners, NodeId(b)) == 1;
  });
}

/// Sums of the terms at each edge, with the number of triangles there.
std::map<std::pair<NodeId, NodeId>, std::pair<double, int>> edge_sums(const FillProblem& problem,
                                                                      const FlowTriangles& flow) {
  std::map<std::pair<NodeId, NodeId>, std::pair<double, int>> sums;
  for (const FlowTriangle& triangle : flow.triangles) {
    const auto terms = edge_terms(triangle, problem.mesh.positions);
    for (std::size_t i = 0; i < 3; ++i) {
      const auto edge = std::minmax(triangle.corners[(i + 1) % 3], triangle.corners[(i + 2) % 3]);
      auto& [sum, count] = sums[{edge.first, edge.second}];
      sum += terms[i];
      ++count;
    }
  }
  return sums;
}

} // namespace

TEST_CASE("edge terms: half cotangents times h K, by hand") {
  // A right triangle with legs 2 and 1: the angle at 0 is 90 degrees, cotangents 2 and 1/2.
  const PerNode<Vector3> positions{{0, 0, 0}, {2, 0, 0}, {0, 1, 0}};
  FlowTriangle triangle{{NodeId(0), NodeId(1), NodeId(2)}, RegionId(0), 3, 3, Vector3(1, 0, 0)};
  auto terms = edge_terms(triangle, positions);
  CHECK(std::abs(terms[0]) < 1e-15);
  CHECK(terms[1] == doctest::Approx(0.5 * 3 * 2));
  CHECK(terms[2] == doctest::Approx(0.5 * 3 * 0.5));
  // K1 along x four times K2: x shrinks by half in the metric, the triangle is isosceles, and
  // h sqrt(K1 K2) = 6.
  triangle.transmissivity_1 = 12;
  terms = edge_terms(triangle, positions);
  CHECK(std::abs(terms[0]) < 1e-15);
  CHECK(terms[1] == doctest::Approx(0.5 * 6 * 1));
  CHECK(terms[2] == doctest::Approx(0.5 * 6 * 1));
  // K1 along the hypotenuse: u . K^-1 v det K / (2 |u x v|) at the right angle by hand. With
  // e = (-2, 1) / sqrt 5, u = (2, 0), v = (0, 1): along e u = -4, v = 1 and across u = 2, v = 2,
  // each / sqrt 5, so (3 * (-4) + 12 * 4) / 5 / (2 * 2) = 1.8.
  triangle.direction_1 = Vector3(-2, 1, 0) / std::sqrt(5.0);
  CHECK(edge_terms(triangle, positions)[0] == doctest::Approx(1.8));
}

TEST_CASE("flips: the long diagonal of a rhombus, unless the permeability makes it the short one") {
  FillProblem problem = problem_of(rhombus());
  FlowTriangles flow = triangles_of(problem);
  CHECK(flow.edges == 5);
  CHECK(flow.flipped == 1);
  CHECK(joins(flow, 1, 3));
  CHECK_FALSE(joins(flow, 0, 2));
  problem.regions[0].permeability_1 = 20e-9; // x shrinks by sqrt 10: the diagonal 0-2 is short
  flow = triangles_of(problem);
  CHECK(flow.flipped == 0);
  CHECK(joins(flow, 0, 2));
}

TEST_CASE("flips: not on a region border, at a crease, or where three triangles meet") {
  SUBCASE("region border") {
    FillProblem problem = problem_of(rhombus());
    problem.regions.push_back(problem.regions[0]);
    problem.element_region[ElementId(1)] = RegionId(1);
    CHECK(triangles_of(problem).flipped == 0);
  }
  SUBCASE("crease") {
    for (const double degrees : {15.0, 25.0, 90.0}) {
      CAPTURE(degrees);
      ShellMesh mesh = rhombus();
      const double angle = degrees * pi / 180;
      mesh.positions[NodeId(3)] = Vector3(0, 0.5 * std::cos(angle), 0.5 * std::sin(angle));
      CHECK(triangles_of(problem_of(std::move(mesh))).flipped == (degrees < 20 ? 1 : 0));
    }
  }
  SUBCASE("three triangles at the edge") {
    ShellMesh mesh = rhombus();
    std::vector<Vector3> positions = mesh.positions.values();
    std::vector<Element> elements = mesh.elements.values();
    positions.emplace_back(0, 0, 0.5);
    elements.push_back({{NodeId(0), NodeId(2), NodeId(4), NodeId()}});
    CHECK(triangles_of(problem_of(mesh_of(positions, elements))).flipped == 0);
  }
  SUBCASE("not convex") {
    ShellMesh mesh = rhombus();
    mesh.positions[NodeId(1)] = Vector3(0.95, -0.5, 0);
    mesh.positions[NodeId(3)] = Vector3(1.5, 0.2, 0);
    CHECK(triangles_of(problem_of(std::move(mesh))).flipped == 0);
  }
}

TEST_CASE("flips: no negative sum is left inside a region, and the area stays") {
  for (const double degrees : {0.0, 17.0, 30.0, 45.0}) {
    CAPTURE(degrees);
    FillProblem problem = problem_of(
        plate({.length = 1, .width = 1, .columns = 30, .rows = 30, .jitter = 0.25, .seed = 81}));
    problem.regions[0].permeability_2 = 2e-10;
    problem.regions[0].angle = degrees * pi / 180;
    const FlowTriangles flow = triangles_of(problem);
    CHECK(flow.flipped > 100);
    CHECK(flow.triangles.size() == 1800);
    CHECK(flow.edges == 3 * 31 * 31 - 3 - 120);
    double worst = 0;
    double area = 0;
    for (const auto& [edge, sum_and_count] : edge_sums(problem, flow)) {
      CHECK(sum_and_count.second <= 2);
      worst = sum_and_count.second == 2 ? std::min(worst, sum_and_count.first) : worst;
    }
    for (const FlowTriangle& triangle : flow.triangles) {
      const auto& [a, b, c] = triangle.corners;
      const auto& at = problem.mesh.positions;
      const Vector3 own = area_vector(at[a], at[b], at[c]);
      CHECK(own.z() > 0);
      area += own.z();
    }
    CHECK(worst >= -1e-9 * 4e-3 * 2e-9);
    CHECK(area == doctest::Approx(1).epsilon(1e-12));
  }
}
