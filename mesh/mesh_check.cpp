#include "mesh/mesh_check.hpp"

#include "mesh/adjacency.hpp"
#include "mesh/coincident.hpp"
#include "mesh/node_groups.hpp"
#include "mesh/solid_skin.hpp"
#include "mesh/triangulation.hpp"
#include "mesh/unjoined_rim.hpp"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <numeric>
#include <optional>
#include <utility>

namespace tidemark {

namespace {

// Height over longest side below which a triangle is a line: well above the rounding of double
// coordinates, well below the worst sliver a mesh generator makes on purpose.
constexpr double smallest_shape = 1e-8;
constexpr double fold_limit = 30.0 / 180.0 * std::numbers::pi; // 180 - 150 degrees
constexpr double seam_tolerance = 1e-6;                        // of the largest extent
constexpr std::size_t places_told = 3;
constexpr std::size_t pieces_told = 10;

std::string in_mm(const Vector3& position) {
  char text[96];
  std::snprintf(text, sizeof text, "(%.6g, %.6g, %.6g) mm", 1e3 * position.x(), 1e3 * position.y(),
                1e3 * position.z());
  return text;
}

std::string in_mm(double length) {
  char text[40];
  std::snprintf(text, sizeof text, length < 1 ? "%.3g mm" : "%.0f mm", 1e3 * length);
  return text;
}

// "one", "two" and "three and 12 more", from what is told of the first few of `count` things.
template <class Tell> std::string first_few(std::size_t count, Tell tell) {
  std::string text;
  const std::size_t told = std::min(count, places_told);
  for (std::size_t i = 0; i < told; ++i) {
    const bool last = i + 1 == count;
    text += (i == 0 ? "" : last ? " and " : ", ") + tell(i);
  }
  return told < count ? text + " and " + std::to_string(count - told) + " more" : text;
}

std::string counted(std::size_t count, const char* one, const char* many) {
  return std::to_string(count) + " " + (count == 1 ? one : many);
}

std::string label_of(const ShellMesh& mesh, ElementId element) {
  return std::to_string(mesh.element_labels[element]);
}

std::string element_place(const ShellMesh& mesh, ElementId element) {
  return "element " + label_of(mesh, element) + " at " + in_mm(element_centre(mesh, element));
}

std::vector<std::int64_t> labels_of(const ShellMesh& mesh, const std::vector<ElementId>& elements) {
  std::vector<std::int64_t> labels;
  for (const ElementId element : elements) {
    labels.push_back(mesh.element_labels[element]);
  }
  return labels;
}

MeshFinding element_finding(const ShellMesh& mesh, MeshFault fault, const std::string& what,
                            const std::vector<ElementId>& elements) {
  const std::string list =
      first_few(elements.size(), [&](std::size_t i) { return element_place(mesh, elements[i]); });
  return {fault, true, what + ": " + list + ".", labels_of(mesh, elements),
          element_centre(mesh, elements.front())};
}

bool corner_repeated(const Element& element) {
  const auto corners = element.corners();
  for (std::size_t i = 0; i < corners.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      if (corners[i] == corners[j]) {
        return true;
      }
    }
  }
  return false;
}

bool is_line(const Vector3& a, const Vector3& b, const Vector3& c) {
  const double longest = std::max({(b - a).norm(), (c - b).norm(), (a - c).norm()});
  const double height = 2 * area_vector(a, b, c).norm() / longest;
  return !(height > smallest_shape * longest); // not a number if the corners are one point
}

enum class Shape { sound, corner_repeated, no_area, crossed };

// `halves` are the triangles the flow is computed on: one, or the two of a quadrilateral.
Shape shape_of(const ShellMesh& mesh, const Element& element,
               std::span<const std::array<NodeId, 3>> halves) {
  if (corner_repeated(element)) {
    return Shape::corner_repeated;
  }
  Vector3 first = Vector3::Zero();
  for (const auto& [i, j, k] : halves) {
    const Vector3& a = mesh.positions[i];
    const Vector3& b = mesh.positions[j];
    const Vector3& c = mesh.positions[k];
    if (is_line(a, b, c)) {
      return Shape::no_area;
    }
    const Vector3 area = area_vector(a, b, c);
    if (first.dot(area) < 0) { // the halves of a sound quadrilateral face the same way
      return Shape::crossed;
    }
    first = area;
  }
  return Shape::sound;
}

PerElement<Shape> shapes(const ShellMesh& mesh) {
  PerElement<Shape> result(mesh.elements.size(), Shape::sound);
  const Triangulation triangles = triangulate(mesh);
  std::size_t next = 0;
  for (const ElementId element : mesh.elements.ids()) {
    const std::size_t count = mesh.elements[element].is_quad() ? 2 : 1;
    const std::span halves(triangles.corners.values().data() + next, count);
    result[element] = shape_of(mesh, mesh.elements[element], halves);
    next += count;
  }
  return result;
}

void find_degenerate(const ShellMesh& mesh, PerElement<bool>& faulty,
                     std::vector<MeshFinding>& findings) {
  const PerElement<Shape> shape = shapes(mesh);
  const auto report = [&](Shape kind, const char* one, const char* many) {
    std::vector<ElementId> elements;
    for (const ElementId element : mesh.elements.ids()) {
      if (shape[element] == kind) {
        elements.push_back(element);
        faulty[element] = true;
      }
    }
    if (!elements.empty()) {
      findings.push_back(element_finding(mesh, MeshFault::degenerate_element,
                                         counted(elements.size(), one, many), elements));
    }
  };
  report(Shape::corner_repeated, "element has a corner twice", "elements have a corner twice");
  report(Shape::no_area, "element has no area", "elements have no area");
  report(Shape::crossed, "quadrilateral is crossed or folded along its diagonal",
         "quadrilaterals are crossed or folded along their diagonals");
}

struct SortedCorners {
  std::array<NodeId, 4> nodes;
  ElementId element;
  auto operator<=>(const SortedCorners&) const = default;
};

void find_duplicates(const ShellMesh& mesh, PerElement<bool>& faulty,
                     std::vector<MeshFinding>& findings) {
  std::vector<SortedCorners> all;
  all.reserve(mesh.elements.size());
  for (const ElementId element : mesh.elements.ids()) {
    all.push_back({mesh.elements[element].nodes, element});
    std::ranges::sort(all.back().nodes);
  }
  std::ranges::sort(all);
  std::vector<std::array<ElementId, 2>> pairs; // the later element, the first with its corners
  for (std::size_t i = 1, first = 0; i < all.size(); ++i) {
    first = all[i].nodes == all[first].nodes ? first : i;
    if (first != i) {
      pairs.push_back({all[i].element, all[first].element});
      faulty[all[i].element] = true;
    }
  }
  if (pairs.empty()) {
    return;
  }
  std::ranges::sort(pairs);
  std::vector<ElementId> later;
  for (const auto& pair : pairs) {
    later.push_back(pair[0]);
  }
  const std::string list = first_few(pairs.size(), [&](std::size_t i) {
    return element_place(mesh, pairs[i][0]) + " (as element " + label_of(mesh, pairs[i][1]) + ")";
  });
  const std::string what = counted(pairs.size(), "element has", "elements have");
  findings.push_back({MeshFault::duplicate_element, true,
                      what + " the same corners as an earlier one: " + list + ".",
                      labels_of(mesh, later), element_centre(mesh, later.front())});
}

// A direction in the element, at right angles to its side a-b, pointing inwards; unit length.
// Beside the corner that points inwards in a quadrilateral the others lie on the wrong side of it.
Vector3 inward(const ShellMesh& mesh, ElementId element, NodeId a, NodeId b) {
  const Vector3& origin = mesh.positions[a];
  const Vector3 along = (mesh.positions[b] - origin).normalized();
  const auto corners = mesh.elements[element].corners();
  Vector3 sum = Vector3::Zero();
  Vector3 area = Vector3::Zero();
  bool is_in_order = false; // a before b
  for (std::size_t k = 0; k < corners.size(); ++k) {
    const NodeId node = corners[k];
    const NodeId next = corners[(k + 1) % corners.size()];
    sum += node == a || node == b ? Vector3::Zero() : Vector3(mesh.positions[node] - origin);
    area += (mesh.positions[node] - origin).cross(mesh.positions[next] - origin);
    is_in_order = is_in_order || (node == a && next == b);
  }
  const Vector3 side = (sum - sum.dot(along) * along).normalized();
  const double inwards = area.cross(along).dot(side) * (is_in_order ? 1 : -1);
  return inwards < 0 ? Vector3(-side) : side;
}

struct Fold {
  std::array<ElementId, 2> elements;
  std::array<NodeId, 2> edge;
};

// Elements about one edge in the order of their angle; only neighbours in it can be folded most.
void find_folds_at(const ShellMesh& mesh, const std::array<NodeId, 2>& edge,
                   const std::vector<ElementId>& elements, std::vector<Fold>& folds) {
  const Vector3 first = inward(mesh, elements.front(), edge[0], edge[1]);
  const Vector3 along = (mesh.positions[edge[1]] - mesh.positions[edge[0]]).normalized();
  const Vector3 across = along.cross(first);
  std::vector<std::pair<double, ElementId>> angles;
  for (const ElementId element : elements) {
    const Vector3 direction = inward(mesh, element, edge[0], edge[1]);
    angles.emplace_back(std::atan2(direction.dot(across), direction.dot(first)), element);
  }
  std::ranges::sort(angles);
  const std::size_t pairs = angles.size() == 2 ? 1 : angles.size();
  for (std::size_t i = 0; i < pairs; ++i) {
    const auto& [angle, element] = angles[i];
    const auto& [next_angle, next] = angles[(i + 1) % angles.size()];
    const double between = std::remainder(next_angle - angle, 2 * std::numbers::pi);
    if (std::abs(between) < fold_limit) {
      folds.push_back({{std::min(element, next), std::max(element, next)}, edge});
    }
  }
}

Vector3 edge_middle(const ShellMesh& mesh, const std::array<NodeId, 2>& edge) {
  return (mesh.positions[edge[0]] + mesh.positions[edge[1]]) / 2;
}

void find_folds(const ShellMesh& mesh, const PerElement<bool>& faulty,
                std::vector<MeshFinding>& findings) {
  const EdgeList edges = element_edges(mesh);
  std::vector<Fold> folds;
  std::vector<ElementId> sound;
  for (std::size_t edge = 0; edge < edges.size(); ++edge) {
    const auto elements = edges.elements_of(edge);
    sound.clear();
    std::ranges::copy_if(elements, std::back_inserter(sound),
                         [&](ElementId element) { return !faulty[element]; });
    if (sound.size() >= 2) {
      find_folds_at(mesh, edges.nodes[edge], sound, folds);
    }
  }
  if (folds.empty()) {
    return;
  }
  const std::string list = first_few(folds.size(), [&](std::size_t i) {
    const auto& [elements, edge] = folds[i];
    return "elements " + label_of(mesh, elements[0]) + " and " + label_of(mesh, elements[1]) +
           " at " + in_mm(edge_middle(mesh, edge));
  });
  std::vector<ElementId> all;
  for (const Fold& fold : folds) {
    all.insert(all.end(), fold.elements.begin(), fold.elements.end());
  }
  std::ranges::sort(all);
  all.erase(std::unique(all.begin(), all.end()), all.end());
  findings.push_back({MeshFault::folded, false,
                      "The surface turns back on itself by more than 150 degrees at " +
                          counted(folds.size(), "edge", "edges") + ": " + list + ".",
                      labels_of(mesh, all), edge_middle(mesh, folds.front().edge)});
}

struct Piece {
  std::size_t elements = 0;
  ElementId first;
  Vector3 sum = Vector3::Zero();
};

std::vector<Piece> pieces_of(const ShellMesh& mesh, const PerNode<int>& piece_of) {
  std::vector<Piece> pieces;
  for (const ElementId element : mesh.elements.ids()) {
    const auto number = static_cast<std::size_t>(piece_of[mesh.elements[element].nodes[0]]);
    pieces.resize(std::max(pieces.size(), number + 1));
    Piece& piece = pieces[number];
    piece.first = piece.elements == 0 ? element : piece.first;
    piece.sum += element_centre(mesh, element);
    ++piece.elements;
  }
  return pieces;
}

std::vector<std::int64_t> labels_in_piece(const ShellMesh& mesh, const PerNode<int>& piece_of,
                                          std::size_t piece) {
  std::vector<std::int64_t> labels;
  for (const ElementId element : mesh.elements.ids()) {
    if (piece_of[mesh.elements[element].nodes[0]] == static_cast<int>(piece)) {
      labels.push_back(mesh.element_labels[element]);
    }
  }
  return labels;
}

double longest_side(const ShellMesh& mesh, const PerNode<int>& piece_of, int piece) {
  double longest = 0;
  for (const Element& element : mesh.elements) {
    const auto corners = element.corners();
    for (std::size_t i = 0; piece_of[corners[0]] == piece && i < corners.size(); ++i) {
      const Vector3 side =
          mesh.positions[corners[(i + 1) % corners.size()]] - mesh.positions[corners[i]];
      longest = std::max(longest, side.norm());
    }
  }
  return longest;
}

// The nodes of elements in the order of one coordinate, that in which the mesh is longest.
struct SortedNodes {
  Eigen::Index axis = 0;
  std::vector<NodeId> nodes;
};

SortedNodes sorted_nodes(const ShellMesh& mesh) {
  SortedNodes sorted;
  for (const Element& element : mesh.elements) {
    const auto corners = element.corners();
    sorted.nodes.insert(sorted.nodes.end(), corners.begin(), corners.end());
  }
  Vector3 low = mesh.positions[sorted.nodes.front()];
  Vector3 high = low;
  for (const NodeId node : sorted.nodes) {
    low = low.cwiseMin(mesh.positions[node]);
    high = high.cwiseMax(mesh.positions[node]);
  }
  (high - low).maxCoeff(&sorted.axis);
  std::ranges::sort(sorted.nodes, {}, [&](NodeId node) {
    return std::pair(mesh.positions[node][sorted.axis], node);
  });
  sorted.nodes.erase(std::unique(sorted.nodes.begin(), sorted.nodes.end()), sorted.nodes.end());
  return sorted;
}

struct NearestNodes {
  double distance; // [m]
  NodeId own, other;
};

// A node of a piece and one of another that are nearest to each other, if nearer than `within`.
std::optional<NearestNodes> nearest_nodes(const ShellMesh& mesh, const PerNode<int>& piece_of,
                                          int piece, const SortedNodes& sorted, double within) {
  NearestNodes nearest{within, NodeId(), NodeId()};
  const auto along = [&](NodeId node) { return mesh.positions[node][sorted.axis]; };
  for (const NodeId node : sorted.nodes) {
    if (piece_of[node] != piece) {
      continue;
    }
    auto other = std::ranges::lower_bound(sorted.nodes, along(node) - nearest.distance, {}, along);
    for (; other != sorted.nodes.end() && along(*other) <= along(node) + nearest.distance;
         ++other) {
      const double distance = (mesh.positions[*other] - mesh.positions[node]).norm();
      if (piece_of[*other] != piece && distance < nearest.distance) {
        nearest = {distance, node, *other};
      }
    }
  }
  return nearest.own.valid() ? std::optional(nearest) : std::nullopt;
}

// ", 0.01 mm away from it (nodes 56 and 11)": of a piece that may have been meant to be joined;
// empty where the rest is more than a side of its elements away.
std::string gap_text(const ShellMesh& mesh, const PerNode<int>& piece_of, int piece,
                     const SortedNodes& sorted) {
  const auto nearest =
      nearest_nodes(mesh, piece_of, piece, sorted, longest_side(mesh, piece_of, piece));
  return nearest ? ", " + in_mm(nearest->distance) + " away from it (nodes " +
                       std::to_string(mesh.node_labels[nearest->own]) + " and " +
                       std::to_string(mesh.node_labels[nearest->other]) + ")"
                 : "";
}

void find_pieces(const ShellMesh& mesh, std::vector<MeshFinding>& findings) {
  const PerNode<int> piece_of = connected_pieces(mesh);
  const std::vector<Piece> pieces = pieces_of(mesh, piece_of);
  const auto smaller = [](const Piece& a, const Piece& b) { return a.elements < b.elements; };
  const auto largest =
      static_cast<std::size_t>(std::ranges::max_element(pieces, smaller) - pieces.begin());
  const SortedNodes sorted = pieces.size() > 1 ? sorted_nodes(mesh) : SortedNodes{};
  std::size_t told = 0;
  for (std::size_t i = 0; i < pieces.size() && told < pieces_told; ++i) {
    const Piece& piece = pieces[i];
    if (i == largest || piece.elements == 0) {
      continue;
    }
    ++told;
    std::string text = "A piece of " + counted(piece.elements, "element", "elements") + " (" +
                       element_place(mesh, piece.first) + ") is not connected to the rest" +
                       gap_text(mesh, piece_of, static_cast<int>(i), sorted) +
                       ": resin reaches it only from a gate on it.";
    if (told == pieces_told && pieces.size() - 1 > told) {
      text += " There are " + std::to_string(pieces.size() - 1 - told) + " more such pieces.";
    }
    findings.push_back({MeshFault::separate_piece, false, text, labels_in_piece(mesh, piece_of, i),
                        piece.sum / static_cast<double>(piece.elements)});
  }
}

PerNode<std::vector<ElementId>> elements_around(const ShellMesh& mesh,
                                                const PerNode<bool>& wanted) {
  PerNode<std::vector<ElementId>> around(mesh.positions.size());
  for (const ElementId element : mesh.elements.ids()) {
    for (const NodeId node : mesh.elements[element].corners()) {
      if (wanted[node]) {
        around[node].push_back(element);
      }
    }
  }
  return around;
}

// Pairs of nodes at the same place of which no element has both.
std::vector<std::array<NodeId, 2>> unjoined_pairs(const ShellMesh& mesh) {
  const PerNode<NodeId> first =
      first_at_same_place(mesh.positions, seam_tolerance * mesh_extent(mesh));
  PerNode<bool> later(mesh.positions.size(), false);
  for (const NodeId node : mesh.positions.ids()) {
    later[node] = first[node] != node;
  }
  if (std::ranges::find(later, true) == later.end()) {
    return {};
  }
  const PerNode<std::vector<ElementId>> around = elements_around(mesh, later);
  std::vector<std::array<NodeId, 2>> pairs;
  for (const NodeId node : mesh.positions.ids()) {
    const bool joined = std::ranges::any_of(around[node], [&](ElementId element) {
      const auto corners = mesh.elements[element].corners();
      return std::ranges::find(corners, first[node]) != corners.end();
    });
    if (later[node] && !joined) {
      pairs.push_back({first[node], node});
    }
  }
  return pairs;
}

void find_seams(const ShellMesh& mesh, const std::vector<std::array<NodeId, 2>>& pairs,
                std::vector<MeshFinding>& findings) {
  if (pairs.empty()) {
    return;
  }
  std::vector<std::int64_t> labels;
  for (const auto& [a, b] : pairs) {
    labels.push_back(mesh.node_labels[a]);
    labels.push_back(mesh.node_labels[b]);
  }
  std::ranges::sort(labels);
  labels.erase(std::unique(labels.begin(), labels.end()), labels.end());
  double widest = 0;
  for (const auto& [a, b] : pairs) {
    widest = std::max(widest, (mesh.positions[b] - mesh.positions[a]).norm());
  }
  const std::string list = first_few(pairs.size(), [&](std::size_t i) {
    const auto& [a, b] = pairs[i];
    return "nodes " + std::to_string(mesh.node_labels[a]) + " and " +
           std::to_string(mesh.node_labels[b]) + " at " + in_mm(mesh.positions[a]);
  });
  findings.push_back({MeshFault::unjoined_seam, false,
                      counted(pairs.size(), "pair of nodes is", "pairs of nodes are") +
                          " at the same place" +
                          (widest > 0 ? ", to " + in_mm(widest) + ", " : " ") +
                          "but not joined, a seam resin cannot cross: " + list + ".",
                      labels, mesh.positions[pairs.front()[0]]});
}

// `pairs` were found by find_seams.
void find_unjoined_rims(const ShellMesh& mesh, const PerElement<bool>& faulty,
                        const std::vector<std::array<NodeId, 2>>& pairs,
                        std::vector<MeshFinding>& findings) {
  PerNode<bool> told(mesh.positions.size(), false);
  for (const auto& [a, b] : pairs) {
    told[a] = told[b] = true;
  }
  std::vector<UnjoinedRim> rims = unjoined_rims(mesh, faulty, told);
  if (rims.empty()) {
    return;
  }
  std::ranges::stable_sort(rims, std::ranges::greater{}, &UnjoinedRim::length);
  std::vector<std::int64_t> labels;
  double gap = 0;
  for (const UnjoinedRim& rim : rims) {
    gap = std::max(gap, rim.gap);
    for (const NodeId node : rim.hanging) {
      labels.push_back(mesh.node_labels[node]);
    }
  }
  std::ranges::sort(labels);
  const std::string list = first_few(rims.size(), [&](std::size_t i) {
    return in_mm(rims[i].length) + " at " + in_mm(middle_of(mesh, rims[i].hanging));
  });
  const bool has_gap = gap > seam_tolerance * mesh_extent(mesh);
  findings.push_back(
      {MeshFault::unjoined_rim, false,
       counted(labels.size(), "node of a free edge lies", "nodes of free edges lie") +
           " on other elements" + (has_gap ? ", to " + in_mm(gap) + "," : "") +
           " without being joined to them, and resin does not cross there: along " + list +
           ". Give both sides the same nodes, unless it is a slit of the part.",
       labels, middle_of(mesh, rims.front().hanging)});
}

void find_solid_skin(const ShellMesh& mesh, const PerElement<bool>& faulty,
                     std::vector<MeshFinding>& findings) {
  const std::optional<double> apart = solid_skin(mesh, faulty);
  if (apart) {
    findings.push_back(
        {MeshFault::solid_skin,
         false,
         "The surface is closed, without a free edge, and lies in two layers that face each other, "
         "about " +
             in_mm(*apart) +
             " apart: is it the skin of a solid part? Then area and resin count twice; take the "
             "part's mid-surface. If the part is hollow, all is well.",
         {},
         element_centre(mesh, ElementId(0))});
  }
}

} // namespace

std::vector<MeshFinding> check_mesh(const ShellMesh& mesh) {
  std::vector<MeshFinding> findings;
  if (mesh.elements.empty()) {
    return findings;
  }
  PerElement<bool> faulty(mesh.elements.size(), false);
  find_degenerate(mesh, faulty, findings);
  find_duplicates(mesh, faulty, findings);
  find_folds(mesh, faulty, findings);
  find_pieces(mesh, findings);
  const std::vector<std::array<NodeId, 2>> pairs = unjoined_pairs(mesh);
  find_seams(mesh, pairs, findings);
  find_unjoined_rims(mesh, faulty, pairs, findings);
  find_solid_skin(mesh, faulty, findings);
  return findings;
}

PerNode<int> connected_pieces(const ShellMesh& mesh) {
  NodeGroups groups(mesh.positions.size());
  for (const Element& element : mesh.elements) {
    for (const NodeId node : element.corners()) {
      groups.join(element.nodes[0], node);
    }
  }
  PerNode<int> piece(mesh.positions.size(), 0);
  int count = 0;
  for (const NodeId node : mesh.positions.ids()) {
    const NodeId root = groups.root(node);
    piece[node] = root == node ? count++ : piece[root];
  }
  return piece;
}

} // namespace tidemark
