#include "mesh/edge_split.hpp"

#include "mesh/triangulation.hpp"

#include <algorithm>
#include <utility>

namespace tidemark {

namespace {

using TriangleNodes = std::array<NodeId, 3>;

/// What a triangle with corners and the nodes on its edges, the i-th opposite corner i, becomes.
std::vector<TriangleNodes> parts(TriangleNodes corner, TriangleNodes middle,
                                 const PerNode<Vector3>& positions) {
  const auto turn = [&] {
    std::ranges::rotate(corner, corner.begin() + 1);
    std::ranges::rotate(middle, middle.begin() + 1);
  };
  switch (std::ranges::count_if(middle, &NodeId::valid)) {
  case 0:
    return {corner};
  case 1: {
    while (!middle[0].valid()) {
      turn();
    }
    return {{corner[0], corner[1], middle[0]}, {corner[0], middle[0], corner[2]}};
  }
  case 2: {
    while (middle[0].valid()) {
      turn();
    }
    const auto& [a, b, c] = corner; // split are ab and ac
    const NodeId on_ab = middle[2];
    const NodeId on_ac = middle[1];
    const double first = (positions[b] - positions[on_ac]).norm();
    const double second = (positions[c] - positions[on_ab]).norm();
    if (first <= second * (1 + 1e-9)) { // equal but for rounding: as in triangulate
      return {{a, on_ab, on_ac}, {on_ab, b, on_ac}, {b, c, on_ac}};
    }
    return {{a, on_ab, on_ac}, {on_ab, b, c}, {on_ab, c, on_ac}};
  }
  default:
    return {{corner[0], middle[2], middle[1]},
            {middle[2], corner[1], middle[0]},
            {middle[1], middle[0], corner[2]},
            middle};
  }
}

void add_nodes(const ShellMesh& mesh, const std::vector<EdgeSplit>& splits, ShellMesh& result) {
  result.positions = mesh.positions;
  result.node_labels = mesh.node_labels;
  for (const auto& [edge, share] : splits) {
    result.positions.push_back((1 - share) * mesh.positions[edge[0]] +
                               share * mesh.positions[edge[1]]);
    result.node_labels.push_back(mesh.node_labels[edge[share > 0.5 ? 1 : 0]]);
  }
}

} // namespace

NodesOnEdges::NodesOnEdges(const std::vector<EdgeSplit>& splits, std::size_t nodes)
    : has_split_(nodes, false) {
  for (std::size_t i = 0; i < splits.size(); ++i) {
    const auto& [a, b] = splits[i].edge;
    entries_.push_back({{std::min(a, b), std::max(a, b)}, NodeId(nodes + i)});
    has_split_[a] = true;
    has_split_[b] = true;
  }
  std::ranges::sort(entries_, {}, &Entry::edge);
}

NodeId NodesOnEdges::on(NodeId a, NodeId b) const {
  if (!has_split_[a] || !has_split_[b]) {
    return {};
  }
  const std::array<NodeId, 2> edge{std::min(a, b), std::max(a, b)};
  const auto found = std::ranges::lower_bound(entries_, edge, {}, &Entry::edge);
  return found != entries_.end() && found->edge == edge ? found->node : NodeId();
}

SplitMesh split_edges(const ShellMesh& mesh, const std::vector<EdgeSplit>& splits) {
  SplitMesh result;
  add_nodes(mesh, splits, result.mesh);
  const NodesOnEdges nodes(splits, mesh.positions.size());
  const auto add = [&](const Element& element, ElementId parent) {
    result.mesh.elements.push_back(element);
    result.mesh.element_labels.push_back(mesh.element_labels[parent]);
    result.parent.push_back(parent);
  };
  const Triangulation triangles = triangulate(mesh);
  std::vector<TriangleNodes> pieces; // of one element
  std::size_t whole = 0;             // triangles it is made of
  for (const TriangleId id : triangles.corners.ids()) {
    const auto& [a, b, c] = triangles.corners[id];
    const std::vector<TriangleNodes> more =
        parts({a, b, c}, {nodes.on(b, c), nodes.on(c, a), nodes.on(a, b)}, result.mesh.positions);
    pieces.insert(pieces.end(), more.begin(), more.end());
    ++whole;
    const ElementId element = triangles.element[id];
    if (const TriangleId next(id.value() + 1);
        next.position() < triangles.element.size() && triangles.element[next] == element) {
      continue;
    }
    if (pieces.size() == whole) {
      add(mesh.elements[element], element);
    } else {
      for (const TriangleNodes& piece : pieces) {
        add({{piece[0], piece[1], piece[2], NodeId()}}, element);
      }
    }
    pieces.clear();
    whole = 0;
  }
  return result;
}

} // namespace tidemark
