#include "mesh/shell_mesh.hpp"

#include <algorithm>
#include <limits>

namespace tidemark {

namespace {

void sort_unique(std::vector<NodeId>& nodes) {
  std::ranges::sort(nodes);
  nodes.erase(std::unique(nodes.begin(), nodes.end()), nodes.end());
}

} // namespace

std::vector<NodeId> nodes_of_group(const ShellMesh& mesh, std::string_view name) {
  std::vector<NodeId> nodes;
  for (const NodeSet& set : mesh.node_sets) {
    if (set.name == name) {
      nodes.insert(nodes.end(), set.nodes.begin(), set.nodes.end());
    }
  }
  for (const LineSet& set : mesh.line_sets) {
    if (set.name == name) {
      for (const auto& segment : set.segments) {
        nodes.insert(nodes.end(), segment.begin(), segment.end());
      }
    }
  }
  for (const ElementSet& set : mesh.element_sets) {
    if (set.name == name) {
      for (const ElementId element : set.elements) {
        const auto corners = mesh.elements[element].corners();
        nodes.insert(nodes.end(), corners.begin(), corners.end());
      }
    }
  }
  sort_unique(nodes);
  return nodes;
}

std::vector<std::string> group_names(const ShellMesh& mesh) {
  std::vector<std::string> names;
  const auto add = [&](const auto& sets) {
    for (const auto& set : sets) {
      if (std::ranges::find(names, set.name) == names.end()) {
        names.push_back(set.name);
      }
    }
  };
  add(mesh.node_sets);
  add(mesh.line_sets);
  add(mesh.element_sets);
  return names;
}

NodeId nearest_node(const ShellMesh& mesh, const Vector3& point) {
  NodeId nearest;
  double smallest = std::numeric_limits<double>::infinity();
  for (const NodeId node : mesh.positions.ids()) {
    const double distance = (mesh.positions[node] - point).squaredNorm();
    if (distance < smallest) {
      smallest = distance;
      nearest = node;
    }
  }
  return nearest;
}

std::vector<NodeId> nodes_within(const ShellMesh& mesh, const Vector3& point, double radius) {
  std::vector<NodeId> nodes;
  for (const NodeId node : mesh.positions.ids()) {
    if ((mesh.positions[node] - point).norm() <= radius * (1 + 1e-9)) { // nodes on the rim belong
      nodes.push_back(node);
    }
  }
  return nodes;
}

Vector3 element_centre(const ShellMesh& mesh, ElementId element) {
  Vector3 sum = Vector3::Zero();
  const auto corners = mesh.elements[element].corners();
  for (const NodeId node : corners) {
    sum += mesh.positions[node];
  }
  return sum / static_cast<double>(corners.size());
}

std::size_t drop_unused_nodes(ShellMesh& mesh) {
  PerNode<bool> used(mesh.positions.size(), false);
  for (const Element& element : mesh.elements) {
    for (const NodeId node : element.corners()) {
      used[node] = true;
    }
  }
  PerNode<NodeId> new_id(mesh.positions.size());
  PerNode<Vector3> positions;
  PerNode<std::int64_t> labels;
  for (const NodeId node : mesh.positions.ids()) {
    if (used[node]) {
      new_id[node] = NodeId(positions.size());
      positions.push_back(mesh.positions[node]);
      labels.push_back(mesh.node_labels[node]);
    }
  }
  const std::size_t dropped = mesh.positions.size() - positions.size();
  if (dropped == 0) {
    return 0;
  }
  mesh.positions = std::move(positions);
  mesh.node_labels = std::move(labels);
  for (Element& element : mesh.elements) {
    for (NodeId& node : element.nodes) {
      node = node.valid() ? new_id[node] : node;
    }
  }
  for (NodeSet& set : mesh.node_sets) {
    for (NodeId& node : set.nodes) {
      node = new_id[node];
    }
    std::erase_if(set.nodes, [](NodeId node) { return !node.valid(); });
  }
  for (LineSet& set : mesh.line_sets) {
    for (auto& [a, b] : set.segments) {
      a = new_id[a];
      b = new_id[b];
    }
    std::erase_if(set.segments, [](const auto& s) { return !s[0].valid() || !s[1].valid(); });
  }
  return dropped;
}

double mesh_extent(const ShellMesh& mesh) {
  Vector3 low = Vector3::Constant(std::numeric_limits<double>::infinity());
  Vector3 high = -low;
  for (const Vector3& position : mesh.positions) {
    low = low.cwiseMin(position);
    high = high.cwiseMax(position);
  }
  return mesh.positions.empty() ? 0 : (high - low).maxCoeff();
}

Vector3 middle_of(const ShellMesh& mesh, const std::vector<NodeId>& nodes) {
  Vector3 mean = Vector3::Zero();
  for (const NodeId node : nodes) {
    mean += mesh.positions[node] / static_cast<double>(nodes.size());
  }
  const NodeId nearest = *std::ranges::min_element(
      nodes, {}, [&](NodeId node) { return (mesh.positions[node] - mean).squaredNorm(); });
  return mesh.positions[nearest];
}

} // namespace tidemark
