#include "solver/flow_system.hpp"

#include <algorithm>
#include <numeric>

namespace tidemark {

namespace {

/// Nodes in the order they are reached from the gates, breadth first, the gates' nodes first.
std::vector<NodeId> reached_nodes(const FlowNetwork& network, std::span<const Gate> gates) {
  std::vector<NodeId> order;
  PerNode<bool> seen(network.pore_volume.size(), false);
  const auto visit = [&](NodeId node) {
    if (!seen[node]) {
      seen[node] = true;
      order.push_back(node);
    }
  };
  for (const Gate& gate : gates) {
    std::ranges::for_each(gate.nodes, visit);
  }
  for (std::size_t at = 0; at < order.size(); ++at) {
    const std::size_t i = order[at].position();
    for (std::size_t k = network.first[i]; k < network.first[i + 1]; ++k) {
      visit(network.neighbour[k]);
    }
  }
  return order;
}

using Link = std::pair<std::int32_t, double>;

void append_row(Stencil& matrix, std::vector<Link>& links) {
  const auto row = static_cast<std::int32_t>(matrix.diagonal.size());
  std::ranges::stable_sort(links, {}, &Link::first);
  double diagonal = 0;
  const std::size_t begin = matrix.column.size();
  for (const auto& [column, value] : links) {
    diagonal += value;
    if (matrix.column.size() > begin && matrix.column.back() == column) {
      matrix.link.back() += value;
    } else {
      matrix.column.push_back(column);
      matrix.link.push_back(value);
    }
  }
  const auto start = matrix.column.begin() + static_cast<std::ptrdiff_t>(begin);
  matrix.upper.push_back(static_cast<std::int32_t>(
      std::upper_bound(start, matrix.column.end(), row) - matrix.column.begin()));
  matrix.first.push_back(static_cast<std::int32_t>(matrix.column.size()));
  matrix.diagonal.push_back(diagonal);
  links.clear();
}

/// Row and volume of all nodes in parts, which are one unknown.
void append_unknown(FlowSystem& system, const FlowNetwork& network,
                    std::span<const std::span<const NodeId>> parts, std::vector<Link>& links) {
  const auto row = static_cast<std::int32_t>(system.volume.size());
  double volume = 0;
  for (const std::span<const NodeId> nodes : parts) {
    for (const NodeId node : nodes) {
      for (std::size_t k = network.first[node.position()]; k < network.first[node.position() + 1];
           ++k) {
        const std::int32_t column = system.unknown[network.neighbour[k]];
        if (column != row) {
          links.emplace_back(column, network.conductance[k]);
        }
      }
      volume += network.pore_volume[node];
    }
  }
  append_row(system.matrix, links);
  system.volume.push_back(volume);
}

} // namespace

FlowSystem flow_system(const FlowNetwork& network, std::span<const Gate> gates) {
  FlowSystem system;
  system.unknown = PerNode<std::int32_t>(network.pore_volume.size(), FlowSystem::unreachable);
  system.order = reached_nodes(network, gates);
  system.gates = gates.size();
  std::size_t at = 0;
  for (const Gate& gate : gates) {
    at += gate.nodes.size();
  }
  for (std::size_t number = gates.size(); at < system.order.size(); ++at, ++number) {
    system.unknown[system.order[at]] = static_cast<std::int32_t>(number);
  }
  std::vector<std::int32_t> itself(gates.size());
  std::iota(itself.begin(), itself.end(), 0);
  tie_gates(system, network, gates, itself);
  return system;
}

std::vector<std::int32_t> connected_bodies(const FlowSystem& system) {
  return connected_bodies(
      system.matrix, [&](std::int32_t unknown) { return system.volume[position(unknown)] > 0; });
}

void tie_gates(FlowSystem& system, const FlowNetwork& network, std::span<const Gate> gates,
               std::span<const std::int32_t> root) {
  std::size_t gate_nodes = 0;
  for (std::size_t g = 0; g < gates.size(); ++g) {
    gate_nodes += gates[g].nodes.size();
    for (const NodeId node : gates[g].nodes) {
      system.unknown[node] = root[g];
    }
  }
  system.matrix = {};
  system.unit_link.clear();
  system.volume.clear();
  system.matrix.first.push_back(0);
  std::vector<Link> links;
  std::vector<std::span<const NodeId>> parts;
  for (std::size_t g = 0; g < gates.size(); ++g) {
    parts.clear();
    for (std::size_t other = g; other < gates.size(); ++other) {
      if (root[other] == static_cast<std::int32_t>(g)) {
        parts.emplace_back(gates[other].nodes);
      }
    }
    append_unknown(system, network, parts, links);
  }
  for (std::size_t at = gate_nodes; at < system.order.size(); ++at) {
    parts.assign(1, std::span(system.order).subspan(at, 1));
    append_unknown(system, network, parts, links);
  }
}

} // namespace tidemark
