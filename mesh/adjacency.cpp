#include "mesh/adjacency.hpp"

#include <algorithm>

namespace tidemark {

namespace {

struct Side {
  NodeId low;
  NodeId high;
  ElementId element;
  auto operator<=>(const Side&) const = default;
};

std::vector<Side> sides_of(const ShellMesh& mesh) {
  std::vector<Side> sides;
  sides.reserve(4 * mesh.elements.size());
  for (const ElementId element : mesh.elements.ids()) {
    const auto corners = mesh.elements[element].corners();
    for (std::size_t i = 0; i < corners.size(); ++i) {
      const NodeId a = corners[i];
      const NodeId b = corners[(i + 1) % corners.size()];
      if (a != b) {
        sides.push_back({std::min(a, b), std::max(a, b), element});
      }
    }
  }
  return sides;
}

// Sides in ascending order: spread over their lower nodes first, so that only handfuls are sorted.
std::vector<Side> sorted(const std::vector<Side>& sides, std::size_t nodes) {
  std::vector<std::size_t> start(nodes + 1, 0);
  for (const Side& side : sides) {
    ++start[side.low.position() + 1];
  }
  for (std::size_t i = 0; i < nodes; ++i) {
    start[i + 1] += start[i];
  }
  std::vector<std::size_t> next(start.begin(), start.end() - 1);
  std::vector<Side> result(sides.size());
  for (const Side& side : sides) {
    result[next[side.low.position()]++] = side;
  }
  for (std::size_t i = 0; i < nodes; ++i) {
    std::sort(result.begin() + static_cast<std::ptrdiff_t>(start[i]),
              result.begin() + static_cast<std::ptrdiff_t>(start[i + 1]));
  }
  return result;
}

} // namespace

std::span<const ElementId> EdgeList::elements_between(NodeId a, NodeId b) const {
  const std::array<NodeId, 2> edge{std::min(a, b), std::max(a, b)};
  const auto found = std::ranges::lower_bound(nodes, edge);
  return found != nodes.end() && *found == edge
             ? elements_of(static_cast<std::size_t>(found - nodes.begin()))
             : std::span<const ElementId>();
}

EdgeList element_edges(const ShellMesh& mesh) {
  EdgeList edges;
  const std::vector<Side> sides = sorted(sides_of(mesh), mesh.positions.size());
  edges.elements.reserve(sides.size());
  for (std::size_t i = 0; i < sides.size(); ++i) {
    if (i == 0 || sides[i].low != sides[i - 1].low || sides[i].high != sides[i - 1].high) {
      edges.nodes.push_back({sides[i].low, sides[i].high});
      edges.offsets.push_back(i);
    }
    edges.elements.push_back(sides[i].element);
  }
  edges.offsets.push_back(sides.size());
  return edges;
}

} // namespace tidemark
