// Elements divided at points on their edges, by hand and on whole meshes.
#include "mesh/edge_split.hpp"

#include "mesh/adjacency.hpp"
#include "mesh/triangulation.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <algorithm>

using namespace tidemark;
using namespace tidemark::test;

namespace {

NodeId at_node(int i) {
  return NodeId(i);
}

ShellMesh triangle() {
  return mesh_of({{0, 0, 0}, {4, 0, 0}, {0, 4, 0}},
                 {{{at_node(0), at_node(1), at_node(2), NodeId()}}});
}

/// As much area as before, each element turned as its parent, all edges joined as before.
void check_split(const ShellMesh& before, const SplitMesh& after) {
  CHECK(relative_error(surface_area(after.mesh), surface_area(before)) <= 1e-12);
  REQUIRE(after.parent.size() == after.mesh.elements.size());
  REQUIRE(after.mesh.element_labels.size() == after.mesh.elements.size());
  REQUIRE(after.mesh.node_labels.size() == after.mesh.positions.size());
  CHECK(std::ranges::is_sorted(after.parent));
  for (const ElementId id : after.mesh.elements.ids()) {
    const ElementId parent = after.parent[id];
    CHECK(element_area(after.mesh, id) > 0);
    CHECK(element_normal(after.mesh, id).dot(element_normal(before, parent)) > 0.999);
    CHECK(after.mesh.element_labels[id] == before.element_labels[parent]);
  }
}

} // namespace

TEST_CASE("edge split: one edge makes two triangles") {
  const ShellMesh mesh = triangle();
  const SplitMesh split = split_edges(mesh, {{{at_node(2), at_node(1)}, 0.25}});
  check_split(mesh, split);
  REQUIRE(split.mesh.elements.size() == 2);
  REQUIRE(split.mesh.positions.size() == 4);
  CHECK((split.mesh.positions[at_node(3)] - Vector3(1, 3, 0)).norm() <= 1e-15);
  CHECK(split.mesh.node_labels[at_node(3)] == mesh.node_labels[at_node(2)]);
}

TEST_CASE("edge split: two edges cut a corner off, the rest is divided by the shorter diagonal") {
  const ShellMesh mesh = triangle();
  const SplitMesh split =
      split_edges(mesh, {{{at_node(0), at_node(1)}, 0.5}, {{at_node(0), at_node(2)}, 0.25}});
  check_split(mesh, split);
  REQUIRE(split.mesh.elements.size() == 3);
  CHECK(element_area(split.mesh, ElementId(0)) == doctest::Approx(0.5 * 2 * 1));
  // From (2, 0) to (0, 4) it is longer than from (4, 0) to (0, 1).
  const EdgeList edges = element_edges(split.mesh);
  CHECK(edges.contains(at_node(1), at_node(4)));
  CHECK_FALSE(edges.contains(at_node(2), at_node(3)));
}

TEST_CASE("edge split: three edges make four triangles") {
  const ShellMesh mesh = triangle();
  const SplitMesh split = split_edges(mesh, {{{at_node(0), at_node(1)}, 0.5},
                                             {{at_node(1), at_node(2)}, 0.5},
                                             {{at_node(2), at_node(0)}, 0.5}});
  check_split(mesh, split);
  REQUIRE(split.mesh.elements.size() == 4);
  for (const ElementId id : split.mesh.elements.ids()) {
    CHECK(element_area(split.mesh, id) == doctest::Approx(2));
  }
}

TEST_CASE("edge split: a quadrilateral's diagonal; what is not touched stays as it is") {
  const ShellMesh mesh = plate({.length = 2, .width = 1, .columns = 2, .rows = 1, .quads = true});
  REQUIRE(mesh.elements.size() == 2);
  const Triangulation triangles = triangulate(mesh);
  const auto& [a, b, c] = triangles.corners[TriangleId(0)];
  const auto& [d, e, f] = triangles.corners[TriangleId(1)];
  std::vector<NodeId> diagonal;
  for (const NodeId node : {a, b, c}) {
    if (node == d || node == e || node == f) {
      diagonal.push_back(node);
    }
  }
  REQUIRE(diagonal.size() == 2);
  const SplitMesh split = split_edges(mesh, {{{diagonal[0], diagonal[1]}, 0.5}});
  check_split(mesh, split);
  CHECK(split.mesh.elements.size() == 5);
  CHECK(split.mesh.elements[ElementId(4)] == mesh.elements[ElementId(1)]);
}

TEST_CASE("edge split: where three plates meet all are divided alike") {
  const ShellMesh mesh = t_joint(1, 1, 3, 3);
  std::vector<EdgeSplit> splits;
  const EdgeList edges = element_edges(mesh);
  for (std::size_t i = 0; i < edges.size(); i += 3) {
    splits.push_back({edges.nodes[i], 1.0 / 3});
  }
  const SplitMesh split = split_edges(mesh, splits);
  check_split(mesh, split);
  // No edge is left with a point of another element in its middle: what had three sides has three.
  const auto with_three = [](const EdgeList& list, const ShellMesh& of) {
    double length = 0;
    for (std::size_t i = 0; i < list.size(); ++i) {
      if (list.elements_of(i).size() == 3) {
        length += (of.positions[list.nodes[i][0]] - of.positions[list.nodes[i][1]]).norm();
      }
    }
    return length;
  };
  CHECK(relative_error(with_three(element_edges(split.mesh), split.mesh),
                       with_three(edges, mesh)) <= 1e-12);
}
