#include "mesh/edge_lines.hpp"

#include "mesh/adjacency.hpp"

#include <Eigen/Geometry>

#include <algorithm>
#include <functional>
#include <limits>
#include <map>
#include <queue>
#include <set>
#include <utility>

namespace tidemark {

namespace {

/// Neighbours of each node along edges, ascending.
struct Neighbours {
  std::vector<std::size_t> first;
  std::vector<NodeId> node;
  [[nodiscard]] std::span<const NodeId> of(NodeId at) const {
    return {node.data() + first[at.position()], first[at.position() + 1] - first[at.position()]};
  }
};

Neighbours neighbours_of(const ShellMesh& mesh) {
  const EdgeList edges = element_edges(mesh);
  Neighbours result;
  result.first.assign(mesh.positions.size() + 1, 0);
  for (const auto& [a, b] : edges.nodes) {
    ++result.first[a.position() + 1];
    ++result.first[b.position() + 1];
  }
  for (std::size_t i = 0; i < mesh.positions.size(); ++i) {
    result.first[i + 1] += result.first[i];
  }
  result.node.resize(2 * edges.size());
  std::vector<std::size_t> next = result.first;
  for (const auto& [a, b] : edges.nodes) { // ascending, so that each node's list is as well
    result.node[next[b.position()]++] = a;
  }
  for (const auto& [a, b] : edges.nodes) {
    result.node[next[a.position()]++] = b;
  }
  return result;
}

/// Length of an edge, longer by up to a millionth the farther it is from the straight line: on a
/// regular mesh many ways are equally long, and rounding must not choose between them.
double edge_cost(const ShellMesh& mesh, NodeId a, NodeId b, const Vector3& from,
                 const Vector3& to) {
  const Vector3 middle = 0.5 * (mesh.positions[a] + mesh.positions[b]);
  const double chord = (to - from).norm();
  const double off = chord > 0 ? (middle - from).cross(to - from).norm() / (chord * chord) : 0;
  return (mesh.positions[a] - mesh.positions[b]).norm() * (1 + 1e-6 * std::min(off, 1.0));
}

/// Nodes of the cheapest way from one node to another, both included; empty if there is none.
/// (Dijkstra 1959, Numer. Math. 1:269.)
std::vector<NodeId> nodes_on_way(const ShellMesh& mesh, const Neighbours& neighbours, NodeId from,
                                 NodeId to) {
  using Label = std::pair<double, NodeId>;
  PerNode<double> cost(mesh.positions.size(), std::numeric_limits<double>::infinity());
  PerNode<NodeId> before(mesh.positions.size());
  std::priority_queue<Label, std::vector<Label>, std::greater<>> open;
  cost[from] = 0;
  open.emplace(0, from);
  while (!open.empty() && open.top().second != to) {
    const auto [cost_here, here] = open.top();
    open.pop();
    if (cost_here > cost[here]) {
      continue;
    }
    for (const NodeId other : neighbours.of(here)) {
      const double through =
          cost_here + edge_cost(mesh, here, other, mesh.positions[from], mesh.positions[to]);
      if (through < cost[other]) {
        cost[other] = through;
        before[other] = here;
        open.emplace(through, other);
      } else if (through == cost[other] && here < before[other]) {
        before[other] = here;
      }
    }
  }
  std::vector<NodeId> way;
  if (!open.empty()) {
    for (NodeId node = to; node.valid(); node = before[node]) {
      way.push_back(node);
    }
  }
  std::ranges::reverse(way);
  return way;
}

/// The piece a node belongs to, told by one of its nodes; ways are shortened as they are gone.
NodeId piece_of(std::map<NodeId, NodeId>& parent, NodeId node) {
  while (parent.at(node) != node) {
    parent[node] = parent.at(parent.at(node));
    node = parent.at(node);
  }
  return node;
}

} // namespace

std::vector<JoinedEdges> joined_edges(std::span<const std::array<NodeId, 2>> edges) {
  std::map<NodeId, NodeId> parent;
  std::map<NodeId, std::size_t> edges_at;
  for (const auto& [a, b] : edges) {
    parent.try_emplace(a, a);
    parent.try_emplace(b, b);
    parent[piece_of(parent, a)] = piece_of(parent, b);
    ++edges_at[a];
    ++edges_at[b];
  }
  std::vector<JoinedEdges> pieces;
  std::map<NodeId, std::size_t> place;
  for (const auto& edge : edges) {
    const auto [entry, is_new] = place.try_emplace(piece_of(parent, edge[0]), pieces.size());
    if (is_new) {
      pieces.push_back({{}, true});
    }
    JoinedEdges& piece = pieces[entry->second];
    piece.edges.push_back(edge);
    piece.is_closed = piece.is_closed && edges_at[edge[0]] == 2 && edges_at[edge[1]] == 2;
  }
  return pieces;
}

std::vector<std::array<NodeId, 2>> free_edges(const ShellMesh& mesh) {
  const EdgeList edges = element_edges(mesh);
  std::vector<std::array<NodeId, 2>> result;
  for (std::size_t edge = 0; edge < edges.size(); ++edge) {
    if (edges.elements_of(edge).size() == 1) {
      result.push_back(edges.nodes[edge]);
    }
  }
  return result;
}

std::vector<std::array<NodeId, 2>> edges_between(const ShellMesh& mesh,
                                                 const PerElement<RegionId>& element_region,
                                                 RegionId one, RegionId other) {
  std::vector<std::array<NodeId, 2>> result;
  if (one == other) {
    return result;
  }
  const EdgeList edges = element_edges(mesh);
  for (std::size_t edge = 0; edge < edges.size(); ++edge) {
    const auto has = [&](RegionId region) {
      return std::ranges::any_of(edges.elements_of(edge), [&](ElementId element) {
        return element_region[element] == region;
      });
    };
    if (has(one) && has(other)) {
      result.push_back(edges.nodes[edge]);
    }
  }
  return result;
}

std::vector<std::array<NodeId, 2>> edge_path(const ShellMesh& mesh,
                                             std::span<const NodeId> points) {
  const Neighbours neighbours = neighbours_of(mesh);
  std::vector<std::array<NodeId, 2>> path;
  std::set<std::pair<NodeId, NodeId>> seen;
  for (std::size_t leg = 1; leg < points.size(); ++leg) {
    const std::vector<NodeId> way = nodes_on_way(mesh, neighbours, points[leg - 1], points[leg]);
    if (way.empty()) {
      return {};
    }
    for (std::size_t i = 1; i < way.size(); ++i) {
      if (seen.insert(std::minmax(way[i - 1], way[i])).second) {
        path.push_back({way[i - 1], way[i]});
      }
    }
  }
  return path;
}

} // namespace tidemark
