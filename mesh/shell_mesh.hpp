// The mould cavity as a surface: nodes, triangles and quadrilaterals, and the named sets of the
// mesh file. A plain value; any number of elements may meet at an edge.
#pragma once

#include "mesh/index.hpp"

#include <Eigen/Core>

#include <array>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

using Vector3 = Eigen::Vector3d;

/// A triangle (fourth node invalid) or a quadrilateral, corners in order round the element.
struct Element {
  std::array<NodeId, 4> nodes;
  [[nodiscard]] bool is_quad() const { return nodes[3].valid(); }
  [[nodiscard]] std::span<const NodeId> corners() const {
    return {nodes.data(), is_quad() ? std::size_t{4} : std::size_t{3}};
  }
  bool operator==(const Element&) const = default;
};

struct NodeSet {
  std::string name;
  std::vector<NodeId> nodes; // ascending, no duplicates
};

struct LineSet {
  std::string name;
  std::vector<std::array<NodeId, 2>> segments;
};

struct ElementSet {
  std::string name;
  std::vector<ElementId> elements; // ascending, no duplicates
};

/// An array of the mesh file with something for every element.
struct ElementArray {
  std::string name;
  std::size_t components;     // numbers per element; 1 for text
  bool is_text = false;       // then without values
  std::vector<double> values; // element by element; left out if there are more than three for each
};

struct ShellMesh {
  PerNode<Vector3> positions;               // [m]
  PerElement<Element> elements;             // every node is used by at least one element
  PerNode<std::int64_t> node_labels;        // the number the mesh file gives the node
  PerElement<std::int64_t> element_labels;  // the number the mesh file gives the element
  std::vector<NodeSet> node_sets;           // named points
  std::vector<LineSet> line_sets;           // named lines, as chains of mesh edges
  std::vector<ElementSet> element_sets;     // named surfaces; an element may be in several
  std::vector<ElementArray> element_arrays; // as in the file, in its units
};

/// All nodes of the named group, whether it is a set of nodes, lines or elements, ascending and
/// without duplicates. Empty if there is no such group.
std::vector<NodeId> nodes_of_group(const ShellMesh& mesh, std::string_view name);

/// The names of all sets, each once, in the order nodes, lines, elements.
std::vector<std::string> group_names(const ShellMesh& mesh);

/// The node nearest to a point [m]; the lowest index wins a tie. Precondition: the mesh has nodes.
NodeId nearest_node(const ShellMesh& mesh, const Vector3& point);

/// The nodes within radius [m] of a point [m] (straight-line distance), ascending.
std::vector<NodeId> nodes_within(const ShellMesh& mesh, const Vector3& point, double radius);

/// Mean of the element's corners [m].
Vector3 element_centre(const ShellMesh& mesh, ElementId element);

/// Removes nodes that no element uses, renumbering everything else; returns how many went.
std::size_t drop_unused_nodes(ShellMesh& mesh);

/// Largest extent of the bounding box [m].
double mesh_extent(const ShellMesh& mesh);

/// Of some nodes, one at least, the position of the one nearest to their mean [m].
Vector3 middle_of(const ShellMesh& mesh, const std::vector<NodeId>& nodes);

} // namespace tidemark
