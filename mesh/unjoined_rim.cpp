#include "mesh/unjoined_rim.hpp"

#include "mesh/adjacency.hpp"
#include "mesh/node_groups.hpp"
#include "mesh/triangle_tree.hpp"
#include "mesh/triangulation.hpp"

#include <algorithm>
#include <array>
#include <limits>
#include <map>
#include <optional>
#include <utility>

namespace tidemark {

namespace {

constexpr double touching = 0.05; // of the heights of the triangles
// How far the middle of an edge may be from the other side if both its ends lie on it, of its own
// triangle's height: a curve's chord; half a height is the least way to the next edge.
constexpr double bulging = 0.25;

struct RimEdge {
  std::array<NodeId, 2> nodes;
  ElementId element;
  double height; // least of its element's triangles [m]
};

struct Contact {
  TriangleId triangle;
  double distance; // [m]
};

struct Surface {
  const ShellMesh& mesh;
  Triangulation triangles;
  TriangleTree tree;
  PerTriangle<double> height;    // least [m]
  PerElement<double> at_element; // the least of its triangles' [m]
  PerNode<double> at_node;       // the least of the triangles' round it [m]
};

Surface make_surface(const ShellMesh& mesh, const PerElement<bool>& left_out) {
  constexpr double none = std::numeric_limits<double>::infinity();
  Triangulation triangles = triangulate(mesh);
  TriangleTree tree(mesh, triangles, left_out);
  Surface surface{mesh,
                  std::move(triangles),
                  std::move(tree),
                  {},
                  PerElement<double>(mesh.elements.size(), none),
                  PerNode<double>(mesh.positions.size(), none)};
  for (const TriangleId triangle : surface.triangles.corners.ids()) {
    const auto& [a, b, c] = surface.triangles.corners[triangle];
    const ElementId element = surface.triangles.element[triangle];
    const double height =
        left_out[element] ? none
                          : least_height(mesh.positions[a], mesh.positions[b], mesh.positions[c]);
    surface.height.push_back(height);
    surface.at_element[element] = std::min(surface.at_element[element], height);
    for (const NodeId node : {a, b, c}) {
      surface.at_node[node] = std::min(surface.at_node[node], height);
    }
  }
  return surface;
}

std::vector<RimEdge> rim_of(const Surface& surface, const PerElement<bool>& left_out) {
  const EdgeList edges = element_edges(surface.mesh);
  std::vector<RimEdge> rim;
  for (std::size_t edge = 0; edge < edges.size(); ++edge) {
    std::size_t sound = 0;
    ElementId element;
    for (const ElementId at : edges.elements_of(edge)) {
      sound += left_out[at] ? 0 : 1;
      element = left_out[at] ? element : at;
    }
    if (sound == 1) {
      rim.push_back({edges.nodes[edge], element, surface.at_element[element]});
    }
  }
  return rim;
}

bool is_corner(const ShellMesh& mesh, ElementId element, NodeId node) {
  const auto corners = mesh.elements[element].corners();
  return std::ranges::find(corners, node) != corners.end();
}

// The nearest triangle within a distance [m] that is asked for; how near it must be may depend on
// its own height.
template <class IsAsked>
std::optional<Contact> contact(const Surface& surface, const Vector3& point, double within,
                               bool is_own_height_asked, IsAsked is_asked) {
  const Vector3 reach = Vector3::Constant(within);
  std::optional<Contact> nearest;
  for (const TriangleId triangle : surface.tree.meeting({point - reach, point + reach})) {
    if (!is_asked(surface.triangles.element[triangle])) {
      continue;
    }
    const auto& [a, b, c] = surface.triangles.corners[triangle];
    const auto& positions = surface.mesh.positions;
    const double distance = distance_to_triangle(point, positions[a], positions[b], positions[c]);
    const double allowed =
        is_own_height_asked ? std::min(within, touching * surface.height[triangle]) : within;
    if (distance <= allowed && (!nearest || distance < nearest->distance)) {
      nearest = Contact{triangle, distance};
    }
  }
  return nearest;
}

// Where nodes of the rim lie on elements of which they are no corner.
PerNode<std::optional<Contact>>
hanging_nodes(const Surface& surface, const std::vector<RimEdge>& rim, const PerNode<bool>& told) {
  PerNode<std::optional<Contact>> hanging(surface.mesh.positions.size());
  PerNode<bool> is_done = told;
  for (const RimEdge& edge : rim) {
    for (const NodeId node : edge.nodes) {
      if (!is_done[node]) {
        is_done[node] = true;
        hanging[node] =
            contact(surface, surface.mesh.positions[node], touching * surface.at_node[node], true,
                    [&](ElementId element) { return !is_corner(surface.mesh, element, node); });
      }
    }
  }
  return hanging;
}

// Where the middle of an edge lies on another element, if an end of it hangs.
std::optional<Contact> middle_contact(const Surface& surface, const RimEdge& edge,
                                      const PerNode<std::optional<Contact>>& hanging) {
  const auto [a, b] = edge.nodes;
  if (!hanging[a] && !hanging[b]) {
    return std::nullopt;
  }
  const Vector3 middle = (surface.mesh.positions[a] + surface.mesh.positions[b]) / 2;
  const auto is_other = [&](ElementId element) { return element != edge.element; };
  const auto touches = contact(surface, middle, touching * edge.height, true, is_other);
  return !touches && hanging[a] && hanging[b]
             ? contact(surface, middle, bulging * edge.height, false, is_other)
             : touches;
}

struct LooseEdge {
  RimEdge rim;
  Contact contact;
};

struct LooseEdges {
  std::vector<LooseEdge> edges;
  std::vector<std::vector<std::size_t>> of_element; // numbers of its loose edges
};

LooseEdges loose_edges(const Surface& surface, const std::vector<RimEdge>& rim,
                       const PerNode<std::optional<Contact>>& hanging) {
  LooseEdges loose{{}, std::vector<std::vector<std::size_t>>(surface.mesh.elements.size())};
  for (const RimEdge& edge : rim) {
    if (const auto touched = middle_contact(surface, edge, hanging)) {
      loose.of_element[edge.element.position()].push_back(loose.edges.size());
      loose.edges.push_back({edge, *touched});
    }
  }
  return loose;
}

const std::vector<std::size_t>& edges_touched(const Surface& surface, const LooseEdges& loose,
                                              const LooseEdge& by) {
  return loose.of_element[surface.triangles.element[by.contact.triangle].position()];
}

// Edges that have a node in common, or lie on each other, are one line.
NodeGroups lines_of(const Surface& surface, const LooseEdges& loose) {
  NodeGroups lines(surface.mesh.positions.size());
  for (const LooseEdge& edge : loose.edges) {
    lines.join(edge.rim.nodes[0], edge.rim.nodes[1]);
    for (const std::size_t other : edges_touched(surface, loose, edge)) {
      lines.join(edge.rim.nodes[0], loose.edges[other].rim.nodes[0]);
    }
  }
  return lines;
}

// The edge's length, or half of it if it lies on another loose edge, which has the other half.
double share_of_length(const Surface& surface, const LooseEdges& loose, const LooseEdge& edge) {
  const auto& positions = surface.mesh.positions;
  const Vector3& a = positions[edge.rim.nodes[0]];
  const Vector3& b = positions[edge.rim.nodes[1]];
  const double within = edge.contact.distance + touching * surface.height[edge.contact.triangle];
  const auto& touched = edges_touched(surface, loose, edge);
  const bool is_on_loose = std::ranges::any_of(touched, [&](std::size_t other) {
    const auto& [c, d] = loose.edges[other].rim.nodes;
    return distance_to_segment((a + b) / 2, positions[c], positions[d]) <= within;
  });
  return (b - a).norm() * (is_on_loose ? 0.5 : 1);
}

} // namespace

std::vector<UnjoinedRim> unjoined_rims(const ShellMesh& mesh, const PerElement<bool>& left_out,
                                       const PerNode<bool>& told) {
  const Surface surface = make_surface(mesh, left_out);
  const std::vector<RimEdge> rim = rim_of(surface, left_out);
  PerNode<std::optional<Contact>> hanging = hanging_nodes(surface, rim, told);
  const LooseEdges loose = loose_edges(surface, rim, hanging);
  NodeGroups lines = lines_of(surface, loose);
  std::map<NodeId, UnjoinedRim> found; // by the root of their nodes, the lowest of them
  for (const LooseEdge& edge : loose.edges) {
    UnjoinedRim& line = found[lines.root(edge.rim.nodes[0])];
    line.length += share_of_length(surface, loose, edge);
    for (const NodeId node : edge.rim.nodes) {
      if (hanging[node]) {
        line.hanging.push_back(node);
        line.gap = std::max(line.gap, hanging[node]->distance);
        hanging[node].reset(); // at two edges, but one node
      }
    }
  }
  std::vector<UnjoinedRim> rims;
  for (auto& [root, line] : found) {
    std::ranges::sort(line.hanging);
    rims.push_back(std::move(line));
  }
  return rims;
}

} // namespace tidemark
