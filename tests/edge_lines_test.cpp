// Lines along edges of small meshes, by hand.
#include "mesh/edge_lines.hpp"

#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

using Edges = std::vector<std::array<NodeId, 2>>;

/// A plate of columns x rows cells with sides of 1 m; node (i, j) is j (columns + 1) + i.
ShellMesh cells(int columns, int rows, bool quads = false) {
  return plate({.length = static_cast<double>(columns),
                .width = static_cast<double>(rows),
                .columns = columns,
                .rows = rows,
                .quads = quads});
}

Edges path(const ShellMesh& mesh, const std::vector<int>& points) {
  std::vector<NodeId> nodes;
  for (const int point : points) {
    nodes.emplace_back(point);
  }
  return edge_path(mesh, nodes);
}

std::vector<int> nodes_along(const Edges& edges) {
  std::vector<int> nodes;
  for (const auto& edge : edges) {
    if (nodes.empty()) {
      nodes.push_back(edge[0].value());
    }
    CHECK(nodes.back() == edge[0].value());
    nodes.push_back(edge[1].value());
  }
  return nodes;
}

Edges edges_of(std::vector<std::pair<int, int>> pairs) {
  Edges edges;
  for (const auto& [a, b] : pairs) {
    edges.push_back({NodeId(a), NodeId(b)});
  }
  return edges;
}

double length_of(const ShellMesh& mesh, const Edges& edges) {
  double length = 0;
  for (const auto& [a, b] : edges) {
    length += (mesh.positions[a] - mesh.positions[b]).norm();
  }
  return length;
}

} // namespace

TEST_CASE("edge lines: the rim of a plate") {
  // 0 1 2 below, 3 4 5 above.
  CHECK(free_edges(cells(2, 1)) == edges_of({{0, 1}, {0, 3}, {1, 2}, {2, 5}, {3, 4}, {4, 5}}));
  CHECK(free_edges(cells(2, 1, true)) == free_edges(cells(2, 1)));
  CHECK(free_edges(cells(7, 5)).size() == 24);
}

TEST_CASE("edge lines: an edge where three plates meet is not free") {
  const ShellMesh mesh = t_joint(1, 1, 4, 4);
  const Edges edges = free_edges(mesh);
  CHECK(edges.size() == 3 * 12);
  CHECK(std::ranges::none_of(edges, [&](const auto& edge) {
    return mesh.positions[edge[0]].x() == 0 && mesh.positions[edge[1]].x() == 0;
  }));
}

TEST_CASE("edge lines: borders between regions") {
  const ShellMesh mesh = cells(3, 2, true); // regions 0, 1, 2 side by side
  const PerElement<RegionId> regions = {RegionId(0), RegionId(1), RegionId(2),
                                        RegionId(0), RegionId(1), RegionId(2)};
  CHECK(edges_between(mesh, regions, RegionId(0), RegionId(1)) == edges_of({{1, 5}, {5, 9}}));
  CHECK(edges_between(mesh, regions, RegionId(2), RegionId(1)) == edges_of({{2, 6}, {6, 10}}));
  CHECK(edges_between(mesh, regions, RegionId(0), RegionId(2)).empty());
  CHECK(edges_between(mesh, regions, RegionId(1), RegionId(1)).empty());
}

TEST_CASE("edge lines: the border at a T-joint, whichever leg is the other region") {
  const ShellMesh mesh = t_joint(1, 1, 4, 4);
  PerElement<RegionId> regions(mesh.elements.size(), RegionId(0));
  for (const ElementId element : mesh.elements.ids()) {
    const Vector3 centre = element_centre(mesh, element);
    regions[element] = RegionId(centre.x() < 0 ? 0 : centre.z() > 0 ? 1 : 2);
  }
  for (const auto& [one, other] : {std::pair(0, 1), std::pair(1, 2), std::pair(2, 0)}) {
    const Edges edges = edges_between(mesh, regions, RegionId(one), RegionId(other));
    CHECK(edges.size() == 4);
    CHECK(std::ranges::all_of(edges, [&](const auto& edge) {
      return mesh.positions[edge[0]].x() == 0 && mesh.positions[edge[1]].x() == 0;
    }));
  }
}

TEST_CASE("edge path: straight on, and across by the diagonals there are") {
  // Diagonals run from lower left to upper right.
  const ShellMesh mesh = cells(3, 3);
  CHECK(nodes_along(path(mesh, {0, 3})) == std::vector<int>{0, 1, 2, 3});
  CHECK(nodes_along(path(mesh, {3, 0})) == std::vector<int>{3, 2, 1, 0});
  CHECK(nodes_along(path(mesh, {0, 15})) == std::vector<int>{0, 5, 10, 15});
  // The other diagonal takes six sides.
  CHECK(path(mesh, {3, 12}).size() == 6);
}

TEST_CASE("edge path: a quadrilateral is not crossed") {
  const ShellMesh mesh = cells(3, 3, true);
  const Edges edges = path(mesh, {0, 15});
  CHECK(edges.size() == 6);
  CHECK(length_of(mesh, edges) == doctest::Approx(6));
}

TEST_CASE("edge path: of ways equally long the one nearest to the straight line") {
  const ShellMesh mesh = cells(10, 10, true); // sides of 1 m, all shortest ways are 20 m
  const Edges edges = path(mesh, {0, 120});
  CHECK(edges.size() == 20);
  for (const auto& [a, b] : edges) {
    CHECK(std::abs(mesh.positions[b].x() - mesh.positions[b].y()) <= 1);
  }
  CHECK(path(mesh, {0, 120}) == edges);
}

TEST_CASE("edge path: through several points, each edge once") {
  const ShellMesh mesh = cells(4, 4);
  CHECK(nodes_along(path(mesh, {0, 4, 24})) == std::vector<int>{0, 1, 2, 3, 4, 9, 14, 19, 24});
  // There and back again.
  CHECK(nodes_along(path(mesh, {0, 2, 0})) == std::vector<int>{0, 1, 2});
  // Out to 2, back to 1 and up: a branch.
  CHECK(path(mesh, {0, 2, 1, 11}) == edges_of({{0, 1}, {1, 2}, {1, 6}, {6, 11}}));
  // The same point twice adds nothing.
  CHECK(path(mesh, {0, 0, 1, 1}) == edges_of({{0, 1}}));
}

TEST_CASE("edge path: none where there is no way or nothing to go") {
  ShellMesh other = cells(2, 2);
  deform(other, [](const Vector3& x) { return Vector3(x + Vector3(0, 10, 0)); });
  const ShellMesh mesh = welded({cells(2, 2), other});
  CHECK(path(mesh, {0, 8}).size() == 2);
  CHECK(path(mesh, {0, 9}).empty());
  CHECK(path(mesh, {0, 8, 9}).empty());
  CHECK(path(mesh, {}).empty());
  CHECK(path(mesh, {4}).empty());
  CHECK(path(mesh, {4, 4}).empty());
}

TEST_CASE("edge path: along a line of the mesh on a crooked one") {
  const ShellMesh mesh =
      plate({.length = 1, .width = 1, .columns = 20, .rows = 20, .jitter = 0.25, .seed = 3});
  const NodeId from = nearest_node(mesh, {0, 0, 0});
  const NodeId to = nearest_node(mesh, {0, 1, 0});
  const Edges edges = edge_path(mesh, std::vector{from, to});
  CHECK(edges.size() == 20);
  CHECK(length_of(mesh, edges) == doctest::Approx(1).epsilon(1e-12));
}

TEST_CASE("edge lines: a plate with a hole has two closed rims") {
  ShellMesh mesh = cells(3, 3, true); // 16 nodes, 9 quadrilaterals; the middle one goes
  PerElement<Element> rest;
  for (const ElementId element : mesh.elements.ids()) {
    if (element != ElementId(4)) {
      rest.push_back(mesh.elements[element]);
    }
  }
  mesh.elements = rest;
  const std::vector<JoinedEdges> rims = joined_edges(free_edges(mesh));
  REQUIRE(rims.size() == 2);
  CHECK(rims[0].edges.size() == 12);
  CHECK(rims[1].edges == Edges{{NodeId(5), NodeId(6)},
                               {NodeId(5), NodeId(9)},
                               {NodeId(6), NodeId(10)},
                               {NodeId(9), NodeId(10)}});
  CHECK(rims[0].is_closed);
  CHECK(rims[1].is_closed);
}

TEST_CASE("edge lines: lines that end or branch are not closed") {
  const NodeId a(0);
  const NodeId b(1);
  const NodeId c(2);
  const NodeId d(7);
  CHECK(joined_edges(Edges{}).empty());
  const std::vector<JoinedEdges> two = joined_edges(Edges{{a, b}, {c, d}});
  REQUIRE(two.size() == 2);
  CHECK(!two[0].is_closed);
  const std::vector<JoinedEdges> branched = joined_edges(Edges{{a, b}, {b, c}, {a, c}, {c, d}});
  REQUIRE(branched.size() == 1);
  CHECK(!branched[0].is_closed);
  CHECK(branched[0].edges.size() == 4);
  CHECK(joined_edges(Edges{{a, b}, {b, c}, {a, c}})[0].is_closed);
}
