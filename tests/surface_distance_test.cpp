#include "mesh/surface_distance.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

using namespace tidemark;
using namespace tidemark::test;

namespace {

PerNode<double> distances_on(const ShellMesh& mesh, NodeId from) {
  return distances_from(surface_graph(mesh), {&from, 1});
}

/// Distance in the plane round an inner corner that is in the way.
double round_corner(const Vector3& from, const Vector3& to, const Vector3& corner) {
  return (corner - from).norm() + (to - corner).norm();
}

} // namespace

TEST_CASE("surface distance: that of a straight line on a plane, whatever the mesh") {
  for (const PlateShape& shape :
       {PlateShape{1, 1, 20, 20}, PlateShape{1, 1, 20, 20, 0, 0, true},
        PlateShape{1, 0.6, 25, 12, 0.3, 7}, PlateShape{2, 0.3, 12, 20, 0.25, 3},
        PlateShape{1, 1, 20, 20, 0.35, 11, true}}) {
    const ShellMesh mesh = plate(shape);
    for (const Vector3& start : {Vector3(0, 0, 0), Vector3(0.42, 0.21, 0)}) {
      const NodeId from = nearest_node(mesh, start);
      const PerNode<double> distances = distances_on(mesh, from);
      for (const NodeId node : mesh.positions.ids()) {
        const double straight = (mesh.positions[node] - mesh.positions[from]).norm();
        CHECK(std::abs(distances[node] - straight) <= 1e-9);
      }
    }
  }
}

TEST_CASE("surface distance: that of a straight line on a cylinder that is unrolled") {
  // Sixty flat strips along the axis: unrolled a strip of paper 60 chords wide, so that the
  // distance of two points is known whatever the radius. Three quarters of a turn, so that all
  // straight ways stay on the paper.
  const double radius = 0.2;
  const double arc = 1.5 * std::numbers::pi * radius;
  ShellMesh mesh = plate({arc, 0.5, 60, 30});
  const PerNode<Vector3> flat = mesh.positions;
  roll_on_cylinder(mesh, radius);
  const double chord_to_arc = 2 * radius * std::sin(arc / 60 / radius / 2) / (arc / 60);
  const NodeId from = nearest_node(mesh, mesh.positions[NodeId(0)]);
  const PerNode<double> distances = distances_on(mesh, from);
  for (const NodeId node : mesh.positions.ids()) {
    const Vector3 way = flat[node] - flat[from];
    CHECK(std::abs(distances[node] - std::hypot(chord_to_arc * way.x(), way.y())) <= 1e-9);
  }
}

TEST_CASE("elements on the longest way: counted over elements, from the nearest node given") {
  const ShellMesh quads = plate({.length = 8, .width = 4, .columns = 8, .rows = 4, .quads = true});
  const NodeId corner = nearest_node(quads, {0, 0, 0});
  const NodeId opposite = nearest_node(quads, {8, 4, 0});
  const NodeId middle = nearest_node(quads, {4, 2, 0});
  const auto way = [](const ShellMesh& mesh, std::vector<NodeId> from) {
    return elements_on_longest_way(mesh, from);
  };
  CHECK(way(quads, {corner}) == 8);
  CHECK(way(quads, {middle}) == 4);
  CHECK(way(quads, {corner, opposite}) == 4); // half way along a long side
  CHECK(way(quads, {}) == 0);
  // All diagonals rise to the right: none helps on the way from upper left to lower right.
  const ShellMesh triangles = plate({.length = 8, .width = 4, .columns = 8, .rows = 4});
  CHECK(way(triangles, {nearest_node(triangles, {0, 0, 0})}) == 8);
  CHECK(way(triangles, {nearest_node(triangles, {0, 4, 0})}) == 12);
  // Another piece is not on any way.
  ShellMesh far = quads;
  for (const NodeId node : far.positions.ids()) {
    far.positions[node].z() = 5;
  }
  CHECK(way(welded({quads, far}), {corner}) == 8);
}

TEST_CASE("surface distance: arcs from the pole of a sphere, to half a per cent") {
  ShellMesh mesh = disc(0.5, 25, 0.2, 5); // the distance from its middle becomes the arc
  const PerNode<Vector3> flat = mesh.positions;
  wrap_on_sphere(mesh, 0.4);
  const NodeId from = nearest_node(mesh, Vector3(0, 0, 0.4));
  const PerNode<double> distances = distances_on(mesh, from);
  for (const NodeId node : mesh.positions.ids()) {
    CHECK(std::abs(distances[node] - flat[node].norm()) <= 0.005 * flat[node].norm());
  }
}

TEST_CASE("surface distance: round an inner corner, to a fifth of a cell") {
  // Two plates that make an L: from the end of one arm to the end of the other.
  ShellMesh first = plate({1, 0.4, 25, 10});
  ShellMesh second = plate({0.4, 0.6, 10, 15});
  for (Vector3& position : second.positions) {
    position += Vector3(0.6, 0.4, 0);
  }
  const ShellMesh mesh = welded({first, second});
  const Vector3 corner(0.6, 0.4, 0);
  const NodeId from = nearest_node(mesh, Vector3(0, 0.2, 0));
  const PerNode<double> distances = distances_on(mesh, from);
  int round_it = 0;
  for (const NodeId node : mesh.positions.ids()) {
    const Vector3& to = mesh.positions[node];
    const Vector3 straight = to - mesh.positions[from];
    const double height = straight.x() > 0 ? 0.2 + straight.y() * 0.6 / straight.x() : 0;
    const bool is_hidden = to.y() > 0.4 + 1e-9 && height > 0.4 + 1e-9;
    round_it += is_hidden ? 1 : 0;
    const double expected =
        is_hidden ? round_corner(mesh.positions[from], to, corner) : straight.norm();
    CHECK(std::abs(distances[node] - expected) <= 0.2 * 0.04);
  }
  CHECK(round_it > 20);
}

TEST_CASE("surface distance: from the nearest of a row of nodes") {
  const ShellMesh mesh = plate({1, 0.5, 40, 20, 0, 0, true});
  const std::vector<NodeId> row = nodes_where(mesh, [](const Vector3& x) { return x.y() == 0; });
  const PerNode<double> distances = distances_from(surface_graph(mesh), row);
  for (const NodeId node : mesh.positions.ids()) {
    CHECK(std::abs(distances[node] - mesh.positions[node].y()) <= 1e-9);
  }
}

TEST_CASE("surface distance: round a fold, not through space; infinite beyond the limit") {
  ShellMesh mesh = plate({1, 0.1, 20, 2});
  fold_at(mesh, 0.5, std::numbers::pi / 2);
  const NodeId from = nearest_node(mesh, Vector3(0, 0, 0));
  const NodeId to = nearest_node(mesh, Vector3(0.5, 0, 0.5));
  const SurfaceGraph graph = surface_graph(mesh);
  CHECK(distances_from(graph, {&from, 1})[to] == doctest::Approx(1));
  CHECK(std::isinf(distances_from(graph, {&from, 1}, 0.9)[to]));
}

TEST_CASE("surface distance: points are spread from the first to the farthest, apart") {
  const ShellMesh mesh = plate({1, 1, 10, 10});
  const std::vector<NodeId> nodes =
      nodes_where(mesh, [](const Vector3& x) { return x.y() == 0; }); // eleven, 0.1 m apart
  const auto x_of = [&](const std::vector<NodeId>& list) {
    std::vector<double> result;
    for (const NodeId node : list) {
      result.push_back(std::round(10 * mesh.positions[node].x()));
    }
    return result;
  };
  CHECK(x_of(spread_out(mesh, nodes, 0, 3)) == std::vector<double>{0, 10, 5});
  CHECK(spread_out(mesh, nodes, 0, 100).size() == 11);
  CHECK(x_of(spread_out(mesh, nodes, 0.45, 100)) == std::vector<double>{0, 10, 5});
  CHECK(spread_out(mesh, {}, 0, 100).empty());
}
