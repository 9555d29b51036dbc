// Groups, places and the removal of unused nodes on small meshes made by hand.
#include "mesh/shell_mesh.hpp"

#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

using namespace tidemark;
using tidemark::test::mesh_of;

namespace {

std::vector<NodeId> ids(std::initializer_list<int> values) {
  std::vector<NodeId> result;
  for (const int value : values) {
    result.emplace_back(value);
  }
  return result;
}

/// A unit square 1 2 / 4 3 and a triangle beyond its right side, node 0 and 6 unused.
ShellMesh sample() {
  ShellMesh mesh =
      mesh_of({{9, 9, 9}, {0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}, {2, 0, 0}, {5, 5, 5}},
              {{{NodeId(1), NodeId(2), NodeId(3), NodeId(4)}},
               {{NodeId(2), NodeId(5), NodeId(3), NodeId()}}});
  mesh.node_sets = {{"point", ids({0, 3})}, {"both", ids({5})}};
  mesh.line_sets = {{"line", {{NodeId(3), NodeId(2)}, {NodeId(2), NodeId(5)}}},
                    {"loose", {{NodeId(0), NodeId(1)}, {NodeId(1), NodeId(2)}}}};
  mesh.element_sets = {{"face", {ElementId(1)}}, {"both", {ElementId(0)}}};
  return mesh;
}

} // namespace

TEST_CASE("shell mesh: nodes of a group of any kind, ascending, each once") {
  const ShellMesh mesh = sample();
  CHECK(nodes_of_group(mesh, "point") == ids({0, 3}));
  CHECK(nodes_of_group(mesh, "line") == ids({2, 3, 5}));
  CHECK(nodes_of_group(mesh, "face") == ids({2, 3, 5}));
  CHECK(nodes_of_group(mesh, "both") == ids({1, 2, 3, 4, 5}));
  CHECK(nodes_of_group(mesh, "nothing").empty());
}

TEST_CASE("shell mesh: group names, each once") {
  CHECK(group_names(sample()) ==
        std::vector<std::string>{"point", "both", "line", "loose", "face"});
}

TEST_CASE("shell mesh: nearest node and nodes within a radius") {
  const ShellMesh mesh = sample();
  CHECK(nearest_node(mesh, {0.9, 0.2, 0.3}) == NodeId(2));
  CHECK(nearest_node(mesh, {0.5, 0.5, 0}) == NodeId(1)); // four as near: the lowest index
  CHECK(nodes_within(mesh, {1, 0, 0}, 1) == ids({1, 2, 3, 5}));
  CHECK(nodes_within(mesh, {1, 0, 0}, 0.999) == ids({2}));
  CHECK(nodes_within(mesh, {1, 0, 3}, 1).empty());
}

TEST_CASE("shell mesh: centre and extent") {
  ShellMesh mesh = sample();
  CHECK(element_centre(mesh, ElementId(0)) == Vector3(0.5, 0.5, 0));
  CHECK((element_centre(mesh, ElementId(1)) - Vector3(4.0 / 3, 1.0 / 3, 0)).norm() < 1e-15);
  CHECK(mesh_extent(mesh) == 9);
  drop_unused_nodes(mesh);
  CHECK(mesh_extent(mesh) == 2);
  CHECK(mesh_extent(ShellMesh()) == 0);
}

TEST_CASE("shell mesh: unused nodes go and everything else keeps its place") {
  ShellMesh mesh = sample();
  CHECK(drop_unused_nodes(mesh) == 2);
  CHECK(mesh.positions.size() == 5);
  CHECK(mesh.node_labels == PerNode<std::int64_t>{2, 3, 4, 5, 6});
  CHECK(mesh.elements[ElementId(0)] == Element{{NodeId(0), NodeId(1), NodeId(2), NodeId(3)}});
  CHECK(mesh.elements[ElementId(1)] == Element{{NodeId(1), NodeId(4), NodeId(2), NodeId()}});
  CHECK(mesh.positions[NodeId(4)] == Vector3(2, 0, 0));
  CHECK(nodes_of_group(mesh, "point") == ids({2}));
  CHECK(nodes_of_group(mesh, "line") == ids({1, 2, 4}));
  CHECK(nodes_of_group(mesh, "loose") == ids({0, 1})); // the segment to the lost node is gone
  CHECK(nodes_of_group(mesh, "face") == ids({1, 2, 4}));
  CHECK(drop_unused_nodes(mesh) == 0);
}
