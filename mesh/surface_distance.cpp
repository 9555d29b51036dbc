#include "mesh/surface_distance.hpp"

#include "mesh/adjacency.hpp"
#include "mesh/triangulation.hpp"

#include <Eigen/Core>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numeric>
#include <queue>
#include <utility>

namespace tidemark {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

struct Way {
  NodeId from, to;
  double length;
};

double distance_between(const ShellMesh& mesh, NodeId a, NodeId b) {
  return (mesh.positions[a] - mesh.positions[b]).norm();
}

std::vector<Way> ways_of(const ShellMesh& mesh) {
  std::vector<Way> ways;
  for (const auto& [a, b] : element_edges(mesh).nodes) {
    ways.push_back({a, b, distance_between(mesh, a, b)});
  }
  for (const Element& element : mesh.elements) {
    for (std::size_t i = 0; element.is_quad() && i < 2; ++i) {
      const NodeId a = element.nodes[i];
      const NodeId b = element.nodes[i + 2];
      ways.push_back({a, b, distance_between(mesh, a, b)});
    }
  }
  return ways;
}

/// Where the entries of each node begin, from their numbers at node i in counts[i + 1].
std::vector<std::size_t> beginnings(std::vector<std::size_t> counts) {
  std::partial_sum(counts.begin(), counts.end(), counts.begin());
  return counts;
}

void add_ways(const ShellMesh& mesh, SurfaceGraph& graph) {
  const std::vector<Way> ways = ways_of(mesh);
  std::vector<std::size_t> counts(mesh.positions.size() + 1, 0);
  for (const Way& way : ways) {
    ++counts[way.from.position() + 1];
    ++counts[way.to.position() + 1];
  }
  graph.first = beginnings(std::move(counts));
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
}

void add_corners(const ShellMesh& mesh, SurfaceGraph& graph) {
  const Triangulation triangulation = triangulate(mesh);
  std::vector<std::size_t> counts(mesh.positions.size() + 1, 0);
  for (const auto& corners : triangulation.corners) {
    for (const NodeId node : corners) {
      ++counts[node.position() + 1];
    }
  }
  graph.first_corner = beginnings(std::move(counts));
  graph.corners.resize(3 * triangulation.corners.size());
  std::vector<std::size_t> next = graph.first_corner;
  for (const auto& corners : triangulation.corners) {
    for (std::size_t i = 0; i < 3; ++i) {
      const NodeId node = corners[i];
      const NodeId left = corners[(i + 1) % 3];
      const NodeId right = corners[(i + 2) % 3];
      graph.corners[next[node.position()]++] = {left, right, distance_between(mesh, node, left),
                                                distance_between(mesh, node, right),
                                                distance_between(mesh, left, right)};
    }
  }
}

/// A triangle laid flat on one of its sides, which goes along x from 0, the third corner above it.
struct Flat {
  double side;
  double x, y; // of the third corner [m]
};

/// from_first, from_second: lengths from the ends of the side to the third corner, or distances of
/// the ends from a point; y is NaN if no point has such distances.
Flat laid_flat(double side, double from_first, double from_second) {
  const double x = (from_first * from_first - from_second * from_second + side * side) / (2 * side);
  return {side, x, std::sqrt(from_first * from_first - x * x)};
}

/// Distance of the third corner from the point beyond the side that is so far from its two ends;
/// infinite if there is no such point or the straight way does not pass through the side: then the
/// way along one of the other sides counts.
double from_point(const Flat& triangle, double first, double second) {
  const Flat source = laid_flat(triangle.side, first, second);
  const double crossing = (source.x * triangle.y + triangle.x * source.y) / (source.y + triangle.y);
  const bool is_inside = crossing > 0 && crossing < triangle.side;
  return is_inside ? std::hypot(triangle.x - source.x, triangle.y + source.y) : infinity;
}

/// The same behind a straight front that passes the ends at these distances.
double from_line(const Flat& triangle, double first, double second) {
  const double sine = (second - first) / triangle.side;
  const double cosine = std::sqrt(1 - sine * sine);
  const double crossing = triangle.x - triangle.y * sine / cosine;
  const bool is_inside = crossing >= 0 && crossing <= triangle.side;
  return is_inside ? first + triangle.x * sine + triangle.y * cosine : infinity;
}

/// The front on its way. A node may be reached again by a shorter way, since the corners of an
/// obtuse triangle are not passed in order. It ends: a distance that is not 0 is never below the
/// least of the lengths of ways and heights of triangles that are not 0, since the front comes
/// along a way, or across a side and so at least as far as the third corner is above it; and it
/// falls by 1e-12 of itself at least each time.
class Front {
public:
  Front(const SurfaceGraph& graph, double limit)
      : graph_(graph), limit_(limit), distance_(graph.first.size() - 1, infinity),
        origin_(graph.first.size() - 1) {}

  void reach(NodeId node, double distance, NodeId origin) {
    constexpr double rounding = 1e-12;
    const double known = distance_[node];
    if (distance <= limit_ && (known == infinity || distance < known - rounding * known)) {
      distance_[node] = distance;
      origin_[node] = origin;
      open_.emplace(distance, node);
    }
  }

  const PerNode<double>& run() {
    while (!open_.empty()) {
      const auto [here, node] = open_.top();
      open_.pop();
      if (here <= distance_[node]) {
        lead_on(node, here);
      }
    }
    return distance_;
  }

private:
  void lead_on(NodeId node, double here) {
    const std::size_t i = node.position();
    for (std::size_t k = graph_.first[i]; k < graph_.first[i + 1]; ++k) {
      reach(graph_.neighbour[k], here + graph_.length[k], origin_[node]);
    }
    for (std::size_t k = graph_.first_corner[i]; k < graph_.first_corner[i + 1]; ++k) {
      const SurfaceGraph::Corner& corner = graph_.corners[k];
      lead_across(node, corner.left, corner.right,
                  laid_flat(corner.to_left, corner.to_right, corner.from_left_to_right));
      lead_across(node, corner.right, corner.left,
                  laid_flat(corner.to_right, corner.to_left, corner.from_left_to_right));
    }
  }

  /// To the third corner of a triangle that lies flat on the side from first to second. Where the
  /// front comes to the two from different nodes, as along a row of them, it is straight.
  void lead_across(NodeId first, NodeId second, NodeId third, const Flat& triangle) {
    if (distance_[second] == infinity || !(triangle.y > 0)) {
      return;
    }
    const NodeId origin = origin_[first] == origin_[second] ? origin_[first] : NodeId();
    const auto rule = origin.valid() ? from_point : from_line;
    reach(third, rule(triangle, distance_[first], distance_[second]), origin);
  }

  using Label = std::pair<double, NodeId>;

  const SurfaceGraph& graph_;
  double limit_;
  PerNode<double> distance_;
  PerNode<NodeId> origin_; // the node the front comes from, none where several send it together
  std::priority_queue<Label, std::vector<Label>, std::greater<>> open_;
};

} // namespace

SurfaceGraph surface_graph(const ShellMesh& mesh) {
  SurfaceGraph graph;
  add_ways(mesh, graph);
  add_corners(mesh, graph);
  return graph;
}

PerNode<double> distances_from(const SurfaceGraph& graph, std::span<const NodeId> from,
                               double limit) {
  // A corner within the limit may be reached across a side with an end beyond it.
  const double longest =
      graph.length.empty() ? 0 : *std::max_element(graph.length.begin(), graph.length.end());
  Front front(graph, limit + longest);
  for (const NodeId node : from) {
    front.reach(node, 0, node);
  }
  PerNode<double> distances = front.run();
  for (double& distance : distances) {
    distance = distance <= limit ? distance : infinity;
  }
  return distances;
}

std::size_t elements_on_longest_way(const ShellMesh& mesh, std::span<const NodeId> from) {
  PerNode<std::vector<ElementId>> at_node(mesh.positions.size());
  for (const ElementId element : mesh.elements.ids()) {
    for (const NodeId node : mesh.elements[element].corners()) {
      at_node[node].push_back(element);
    }
  }
  PerNode<bool> is_reached(mesh.positions.size(), false);
  std::vector<NodeId> front;
  const auto reach = [&](NodeId node) {
    if (!is_reached[node]) {
      is_reached[node] = true;
      front.push_back(node);
    }
  };
  std::ranges::for_each(from, reach);
  std::size_t passed = 0;
  while (true) {
    const std::vector<NodeId> behind = std::exchange(front, {});
    for (const NodeId node : behind) {
      for (const ElementId element : at_node[node]) {
        std::ranges::for_each(mesh.elements[element].corners(), reach);
      }
    }
    if (front.empty()) {
      return passed;
    }
    ++passed;
  }
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
