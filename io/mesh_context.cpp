#include "io/mesh_context.hpp"

#include "io/number_text.hpp"

#include <algorithm>
#include <array>
#include <cstdio>

namespace tidemark {

namespace {

double longest_edge_at(const ShellMesh& mesh, NodeId node) {
  double longest = 0;
  for (const Element& element : mesh.elements) {
    const auto corners = element.corners();
    for (std::size_t i = 0; i < corners.size(); ++i) {
      const NodeId next = corners[(i + 1) % corners.size()];
      if (corners[i] == node || next == node) {
        const double length = (mesh.positions[corners[i]] - mesh.positions[next]).norm();
        longest = std::max(longest, length);
      }
    }
  }
  return longest;
}

} // namespace

std::string in_mesh_units(const MeshContext& context, double metres) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%.4g", metres / context.unit);
  return std::string(text.data()) + " " + context.raw.mesh_unit->text;
}

namespace {

std::string place_in_mesh_units(const MeshContext& context, const Vector3& point) {
  const Vector3 at = point / context.unit;
  return "[" + plain_number(at.x()) + ", " + plain_number(at.y()) + ", " + plain_number(at.z()) +
         "]";
}

} // namespace

std::string node_text(const MeshContext& context, NodeId node) {
  return "node " + std::to_string(context.mesh.node_labels[node]) + " at " +
         place_in_mesh_units(context, context.mesh.positions[node]);
}

std::string element_text(const MeshContext& context, ElementId element) {
  Vector3 centre = element_centre(context.mesh, element);
  // What is nothing but rounding of a mean is zero.
  centre = (centre.array().abs() < 1e-12 * context.extent).select(0, centre);
  return "element " + std::to_string(context.mesh.element_labels[element]) + " at " +
         place_in_mesh_units(context, centre);
}

NodeId node_near(const MeshContext& context, const Vector3& point_in_mesh_units, int line,
                 const std::string& key, const std::string& found, double told_beyond) {
  const Vector3 point = point_in_mesh_units * context.unit;
  constexpr double far_away = 1e9; // [m]; beyond, squares of distances might overflow
  if (!(point.cwiseAbs().maxCoeff() < far_away)) {
    add_error(context.findings, line, key, "found " + found + ", expected a point on the part");
    return {};
  }
  const NodeId node = nearest_node(context.mesh, point);
  const double distance = (context.mesh.positions[node] - point).norm();
  const double edge = longest_edge_at(context.mesh, node);
  const double allowed = std::max(0.02 * context.extent, 3 * edge);
  if (distance > allowed) {
    add_error(context.findings, line, key,
              "found " + found + ", which is " + in_mesh_units(context, distance) +
                  " from the nearest node of the mesh (" + node_text(context, node) +
                  "), expected a point within " + in_mesh_units(context, allowed) + " of the part");
    return {};
  }
  if (distance > edge) { // farther than any point of the part can be from the node nearest to it
    add_warning(context.findings, line, key,
                "found " + found + ", which is " + in_mesh_units(context, distance) +
                    " from the nearest node of the mesh (" + node_text(context, node) +
                    ") and is taken to be there: is it on the part?");
  } else if (distance > std::max({edge / 2, 0.01 * context.extent, told_beyond})) {
    add_warning(context.findings, line, key,
                "found " + found + ", which is " + in_mesh_units(context, distance) +
                    " from the nearest node of the mesh (" + node_text(context, node) +
                    ") and is taken to be there, more than half an element off");
  }
  return node;
}

} // namespace tidemark
