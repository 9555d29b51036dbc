#include "mesh/surface_distance.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

using namespace tidemark;
using namespace tidemark::test;

TEST_CASE("surface distance: never too short, and at most 8.3 % too long on regular meshes") {
  // With ways along x, y and both diagonals the worst direction is 22.5 degrees off: a way there is
  // cos 22.5 + (sqrt 2 - 1) sin 22.5 = 1.0824 times as long.
  for (const bool quads : {false, true}) {
    const ShellMesh mesh = plate({1, 1, 20, 20, 0, 0, quads});
    const NodeId from = nearest_node(mesh, Vector3::Zero());
    const PerNode<double> distances = distances_from(surface_graph(mesh), {&from, 1});
    for (const NodeId node : mesh.positions.ids()) {
      const double straight = mesh.positions[node].norm();
      CHECK(distances[node] >= straight - 1e-12);
      CHECK(distances[node] <= 1.0825 * straight);
    }
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
