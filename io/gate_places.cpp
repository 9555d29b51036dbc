#include "io/gate_places.hpp"

#include "io/number_text.hpp"
#include "io/wording.hpp"
#include "mesh/edge_lines.hpp"
#include "mesh/error.hpp"
#include "mesh/surface_distance.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string_view>

namespace tidemark {

namespace {

constexpr std::size_t usual_places = 1000;
constexpr std::size_t most_places = 20000;

[[noreturn]] void refuse(const std::string& option, const std::string& found,
                         const std::string& expected) {
  throw InputError("gates: " + option + ": found " + found + ", expected " + expected);
}

std::string length_text(const Case& input, double metres) {
  return plain_number(metres / input.mesh_unit) + " " + input.mesh_unit_name;
}

NodeId node_at_point(const Case& input, const std::string& text) {
  const std::string option = "--point " + quoted_text(text);
  const auto point = three_numbers(text);
  if (!point) {
    throw InputError("gates: " + option +
                     ": expected three numbers in the unit of the mesh, such as \"400, 300, 0\"");
  }
  const ShellMesh& mesh = input.problem.mesh;
  constexpr double far_away = 1e9; // [m]; beyond, squares of distances might overflow
  const Vector3 position = *point * input.mesh_unit;
  const bool is_near = position.cwiseAbs().maxCoeff() < far_away;
  const NodeId node = is_near ? nearest_node(mesh, position) : NodeId();
  const double allowed = 0.02 * mesh_extent(mesh);
  if (!is_near || (mesh.positions[node] - position).norm() > allowed) {
    refuse(option, "a point off the part",
           "one within " + length_text(input, allowed) + " of a node of the mesh");
  }
  return node;
}

std::vector<NodeId> nodes_at_points(const Case& input, const FactoredPart& part,
                                    const std::vector<std::string>& points) {
  std::vector<NodeId> nodes;
  for (const std::string& text : points) {
    const NodeId node = node_at_point(input, text);
    if (std::ranges::find(nodes, node) != nodes.end()) {
      refuse("--point " + quoted_text(text), "the same node as another point",
             "points at least an element apart");
    }
    if (part.unknown[node] < 0) {
      refuse("--point " + quoted_text(text),
             "a place on a piece of the part that nothing joins to the largest",
             "one on the largest, which alone is searched");
    }
    nodes.push_back(node);
  }
  return nodes;
}

/// Which nodes are in the group, or all.
PerNode<bool> in_group(const Case& input, const std::optional<std::string>& group) {
  const ShellMesh& mesh = input.problem.mesh;
  PerNode<bool> is_in(mesh.positions.size(), !group);
  if (group) {
    const std::vector<NodeId> nodes = nodes_of_group(mesh, *group);
    if (nodes.empty()) {
      refuse("--within", quoted_text(*group),
             "a group of the mesh: " + list_with_nearest(*group, group_names(mesh)));
    }
    for (const NodeId node : nodes) {
      is_in[node] = true;
    }
  }
  return is_in;
}

void keep_to_rim(const Case& input, PerNode<bool>& is_in) {
  const ShellMesh& mesh = input.problem.mesh;
  PerNode<bool> at_rim(mesh.positions.size(), false);
  for (const auto& edge : free_edges(mesh)) {
    for (const NodeId node : edge) {
      at_rim[node] = true;
    }
  }
  for (const NodeId node : is_in.ids()) {
    is_in[node] = is_in[node] && at_rim[node];
  }
}

void keep_off(const Case& input, const std::string& region, PerNode<bool>& is_in) {
  const FillProblem& problem = input.problem;
  std::vector<std::string> names;
  std::ranges::transform(problem.regions, std::back_inserter(names), &Region::name);
  const auto found = std::ranges::find(names, region);
  if (found == names.end()) {
    refuse("--not-in", quoted_text(region),
           "a region of the case: " + list_with_nearest(region, names));
  }
  const RegionId id(found - names.begin());
  for (const ElementId element : problem.mesh.elements.ids()) {
    if (problem.element_region[element] == id) {
      for (const NodeId node : problem.mesh.elements[element].corners()) {
        is_in[node] = false;
      }
    }
  }
}

/// All nodes the options allow, spread to the spacing.
std::vector<NodeId> spread_nodes(const Case& input, const FactoredPart& part,
                                 const PlaceChoice& choice) {
  PerNode<bool> is_in = in_group(input, choice.group);
  if (choice.at_rim) {
    keep_to_rim(input, is_in);
  }
  for (const std::string& region : choice.forbidden) {
    keep_off(input, region, is_in);
  }
  std::vector<NodeId> nodes;
  std::ranges::copy_if(part.own_nodes(), std::back_inserter(nodes),
                       [&](NodeId node) { return is_in[node]; });
  if (!choice.spacing) {
    return spread_out(input.problem.mesh, nodes, 0, usual_places);
  }
  std::vector<NodeId> spread =
      spread_out(input.problem.mesh, nodes, *choice.spacing, most_places + 1);
  if (spread.size() > most_places) {
    refuse("--spacing",
           length_text(input, *choice.spacing) + ", which makes more than " +
               std::to_string(most_places) + " places",
           "a wider one");
  }
  return spread;
}

/// A coordinate [m] to about a millionth of the part, in the mesh's own unit and back, as a case
/// file tells it.
double as_written(const Case& input, double coordinate) {
  const double step = 1e-6 * mesh_extent(input.problem.mesh) / input.mesh_unit;
  const int decimals = std::clamp(static_cast<int>(std::ceil(-std::log10(step))), 0, 30);
  std::array<char, 400> text{};
  std::snprintf(text.data(), text.size(), "%.*f", decimals, coordinate / input.mesh_unit);
  return (std::strtod(text.data(), nullptr) + 0.0) * input.mesh_unit; // + 0: no -0
}

Gate port_at(const Case& input, NodeId node, double radius) {
  Gate gate = gate_at(input.problem, node, radius);
  for (double& coordinate : gate.centre) {
    coordinate = as_written(input, coordinate);
  }
  gate.nodes = nodes_within(input.problem.mesh, gate.centre, radius);
  if (std::ranges::find(gate.nodes, node) == gate.nodes.end()) {
    gate.nodes.insert(std::ranges::upper_bound(gate.nodes, node), node);
  }
  return gate;
}

} // namespace

double port_radius(const Case& input, const PlaceChoice& choice) {
  const Gate& first = input.problem.gates.front();
  const auto radius = choice.radius ? choice.radius : first.radius;
  if (!radius) {
    throw InputError(input.file.string() + ": gate[" + first.name +
                     "].radius: found none, expected the radius of the port there or with "
                     "--radius: without, fill times would depend on the mesh");
  }
  const double largest = mesh_extent(input.problem.mesh) / 2;
  if (*radius > largest) {
    refuse("--radius", length_text(input, *radius),
           "at most half the part (" + length_text(input, largest) + ")");
  }
  return *radius;
}

ChosenPlaces chosen_places(const Case& input, const FactoredPart& part, const PlaceChoice& choice) {
  const double radius = port_radius(input, choice);
  const std::vector<NodeId> nodes = choice.points.empty()
                                        ? spread_nodes(input, part, choice)
                                        : nodes_at_points(input, part, choice.points);
  PerNode<bool> is_vent(input.problem.mesh.positions.size(), false);
  for (const Vent& vent : input.problem.vents) {
    for (const NodeId node : vent.nodes) {
      is_vent[node] = true;
    }
  }
  ChosenPlaces places;
  for (const NodeId node : nodes) {
    Gate gate = port_at(input, node, radius);
    const bool is_sound =
        std::ranges::all_of(gate.nodes, [&](NodeId own) { return part.unknown[own] >= 0; });
    const bool has_vent = std::ranges::any_of(gate.nodes, [&](NodeId own) { return is_vent[own]; });
    places.at_vents += has_vent ? 1 : 0;
    if (is_sound && !has_vent && gate.nodes.size() < part.nodes.size()) {
      places.gates.push_back(std::move(gate));
    }
  }
  if (places.gates.empty()) {
    throw InputError("gates: no place for a gate is left: found " + std::to_string(nodes.size()) +
                     (nodes.size() == 1 ? " node" : " nodes") + " by the options, " +
                     std::to_string(places.at_vents) +
                     " of them at vents, expected one at least on the part's largest piece");
  }
  return places;
}

} // namespace tidemark
