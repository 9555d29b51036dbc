// The edges of a mesh and the elements that meet at each: one, two or any number.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <array>
#include <cstddef>
#include <span>
#include <vector>

namespace tidemark {

struct EdgeList {
  std::vector<std::array<NodeId, 2>> nodes; // lower index first, edges ascending
  std::vector<std::size_t> offsets;         // of each edge's elements in `elements`, and the end
  std::vector<ElementId> elements;          // ascending at each edge

  [[nodiscard]] std::size_t size() const { return nodes.size(); }
  [[nodiscard]] std::span<const ElementId> elements_of(std::size_t edge) const {
    return {elements.data() + offsets[edge], offsets[edge + 1] - offsets[edge]};
  }
  /// The elements at the edge of two nodes, in any order; none if they are no edge.
  [[nodiscard]] std::span<const ElementId> elements_between(NodeId a, NodeId b) const;
  /// True if the two nodes, in any order, are an edge.
  [[nodiscard]] bool contains(NodeId a, NodeId b) const { return !elements_between(a, b).empty(); }
};

/// The sides of all elements, each edge once. A side whose two nodes are the same is left out.
EdgeList element_edges(const ShellMesh& mesh);

} // namespace tidemark
