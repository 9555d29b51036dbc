#include "mesh/facing.hpp"

#include "mesh/adjacency.hpp"

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>

namespace tidemark {

namespace {

struct Neighbour {
  ElementId element;
  bool is_alike; // faces the same way
};

/// Whether the element's corners pass an edge from its first node to its second.
bool passes_forwards(const Element& element, const std::array<NodeId, 2>& edge) {
  const auto corners = element.corners();
  for (std::size_t i = 0; i < corners.size(); ++i) {
    if (corners[i] == edge[0] && corners[(i + 1) % corners.size()] == edge[1]) {
      return true;
    }
  }
  return false;
}

PerElement<std::vector<Neighbour>> neighbours_in(const ShellMesh& mesh,
                                                 const PerElement<bool>& is_part) {
  const EdgeList edges = element_edges(mesh);
  PerElement<std::vector<Neighbour>> neighbours(mesh.elements.size());
  for (std::size_t edge = 0; edge < edges.size(); ++edge) {
    std::vector<ElementId> here;
    std::ranges::copy_if(edges.elements_of(edge), std::back_inserter(here),
                         [&](ElementId element) { return is_part[element]; });
    if (here.size() == 2) {
      const bool is_alike = passes_forwards(mesh.elements[here[0]], edges.nodes[edge]) !=
                            passes_forwards(mesh.elements[here[1]], edges.nodes[edge]);
      neighbours[here[0]].push_back({here[1], is_alike});
      neighbours[here[1]].push_back({here[0], is_alike});
    }
  }
  return neighbours;
}

enum class FacingWay : std::uint8_t { unknown, first, other };

/// Elements that hang together, each with the side it shows where the first shows its first.
std::array<std::vector<ElementId>, 2>
sides_from(ElementId start, const PerElement<std::vector<Neighbour>>& neighbours,
           PerElement<FacingWay>& side) {
  std::array<std::vector<ElementId>, 2> of_side;
  std::vector<ElementId> open{start};
  side[start] = FacingWay::first;
  while (!open.empty()) {
    const ElementId here = open.back();
    open.pop_back();
    of_side[side[here] == FacingWay::first ? 0 : 1].push_back(here);
    for (const auto& [element, is_alike] : neighbours[here]) {
      if (side[element] == FacingWay::unknown) {
        side[element] =
            (side[here] == FacingWay::first) == is_alike ? FacingWay::first : FacingWay::other;
        open.push_back(element);
      }
    }
  }
  return of_side;
}

} // namespace

std::vector<ElementId> turned_over(const ShellMesh& mesh, const PerElement<bool>& is_part) {
  const PerElement<std::vector<Neighbour>> neighbours = neighbours_in(mesh, is_part);
  PerElement<FacingWay> side(mesh.elements.size(), FacingWay::unknown);
  std::vector<ElementId> turned;
  for (const ElementId element : mesh.elements.ids()) {
    if (is_part[element] && side[element] == FacingWay::unknown) {
      const auto [first, other] = sides_from(element, neighbours, side);
      const auto& fewer = first.size() < other.size() ? first : other;
      turned.insert(turned.end(), fewer.begin(), fewer.end());
    }
  }
  std::ranges::sort(turned);
  return turned;
}

} // namespace tidemark
