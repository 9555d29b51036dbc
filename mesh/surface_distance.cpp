#include "mesh/surface_distance.hpp"

#include "mesh/adjacency.hpp"

#include <Eigen/Geometry>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <numeric>
#include <optional>
#include <queue>
#include <utility>

namespace tidemark {

namespace {

struct Way {
  NodeId from, to;
  double length;
};

/// The corner of a triangle that is not on the edge; none of a quadrilateral.
std::optional<NodeId> corner_opposite(const Element& element, const std::array<NodeId, 2>& edge) {
  if (element.is_quad()) {
    return std::nullopt;
  }
  const auto corners = element.corners();
  const auto found = std::ranges::find_if(
      corners, [&](NodeId node) { return node != edge[0] && node != edge[1]; });
  return found == corners.end() ? std::nullopt : std::optional(*found);
}

/// Straight distance of two corners c and d across the edge a b, with both triangles laid flat;
/// none if that line misses the edge.
std::optional<double> across(const Vector3& a, const Vector3& b, const Vector3& c,
                             const Vector3& d) {
  const Vector3 along = (b - a).normalized();
  const auto flat = [&](const Vector3& point) {
    const double x = (point - a).dot(along);
    return std::pair(x, (point - a - x * along).norm());
  };
  const auto [x_c, y_c] = flat(c);
  const auto [x_d, y_d] = flat(d);
  const double crossing = (x_c * y_d + x_d * y_c) / (y_c + y_d);
  const bool is_inside = crossing > 0 && crossing < (b - a).norm();
  return is_inside ? std::optional(std::hypot(x_c - x_d, y_c + y_d)) : std::nullopt;
}

void add_diagonals(const ShellMesh& mesh, std::vector<Way>& ways) {
  for (const Element& element : mesh.elements) {
    if (element.is_quad()) {
      for (std::size_t i = 0; i < 2; ++i) {
        const NodeId a = element.nodes[i];
        const NodeId b = element.nodes[i + 2];
        ways.push_back({a, b, (mesh.positions[a] - mesh.positions[b]).norm()});
      }
    }
  }
}

std::vector<Way> ways_of(const ShellMesh& mesh) {
  const auto& x = mesh.positions;
  const EdgeList edges = element_edges(mesh);
  std::vector<Way> ways;
  for (std::size_t e = 0; e < edges.size(); ++e) {
    const auto [a, b] = edges.nodes[e];
    ways.push_back({a, b, (x[a] - x[b]).norm()});
    const auto elements = edges.elements_of(e);
    for (std::size_t i = 0; i < elements.size(); ++i) {
      for (std::size_t k = i + 1; k < elements.size(); ++k) {
        const auto c = corner_opposite(mesh.elements[elements[i]], edges.nodes[e]);
        const auto d = corner_opposite(mesh.elements[elements[k]], edges.nodes[e]);
        const auto length = c && d ? across(x[a], x[b], x[*c], x[*d]) : std::nullopt;
        if (length) {
          ways.push_back({*c, *d, *length});
        }
      }
    }
  }
  add_diagonals(mesh, ways);
  return ways;
}

} // namespace

SurfaceGraph surface_graph(const ShellMesh& mesh) {
  const std::vector<Way> ways = ways_of(mesh);
  SurfaceGraph graph;
  graph.first.assign(mesh.positions.size() + 1, 0);
  for (const Way& way : ways) {
    ++graph.first[way.from.position() + 1];
    ++graph.first[way.to.position() + 1];
  }
  std::partial_sum(graph.first.begin(), graph.first.end(), graph.first.begin());
  graph.neighbour.resize(2 * ways.size());
  graph.length.resize(2 * ways.size());
  std::vector<std::size_t> next = graph.first;
  const auto put = [&](NodeId from, NodeId to, double length) {
    const std::size_t at = next[from.position()]++;
    graph.neighbour[at] = to;
    graph.length[at] = length;
  };
  for (const Way& way : ways) {
    put(way.from, way.to, way.length);
    put(way.to, way.from, way.length);
  }
  return graph;
}

PerNode<double> distances_from(const SurfaceGraph& graph, std::span<const NodeId> from,
                               double limit) {
  using Label = std::pair<double, NodeId>;
  PerNode<double> distance(graph.first.size() - 1, std::numeric_limits<double>::infinity());
  std::priority_queue<Label, std::vector<Label>, std::greater<>> open;
  for (const NodeId node : from) {
    distance[node] = 0;
    open.emplace(0, node);
  }
  while (!open.empty()) {
    const auto [here, node] = open.top();
    open.pop();
    if (here > distance[node]) {
      continue;
    }
    for (std::size_t k = graph.first[node.position()]; k < graph.first[node.position() + 1]; ++k) {
      const double there = here + graph.length[k];
      if (there < distance[graph.neighbour[k]] && there <= limit) {
        distance[graph.neighbour[k]] = there;
        open.emplace(there, graph.neighbour[k]);
      }
    }
  }
  return distance;
}

std::vector<NodeId> spread_out(const ShellMesh& mesh, std::span<const NodeId> nodes, double spacing,
                               std::size_t most) {
  std::vector<NodeId> taken;
  std::vector<double> squares(nodes.size(), std::numeric_limits<double>::infinity());
  std::size_t farthest = 0;
  while (taken.size() < std::min(most, nodes.size()) && squares[farthest] > spacing * spacing) {
    taken.push_back(nodes[farthest]);
    const Vector3& from = mesh.positions[taken.back()];
    std::size_t next = 0;
    for (std::size_t i = 0; i < nodes.size(); ++i) {
      squares[i] = std::min(squares[i], (mesh.positions[nodes[i]] - from).squaredNorm());
      next = squares[i] > squares[next] ? i : next;
    }
    farthest = next;
  }
  return taken;
}

} // namespace tidemark
