#include "solver/flow_system.hpp"

#include <algorithm>

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

} // namespace

FlowSystem flow_system(const FlowNetwork& network, std::span<const Gate> gates) {
  FlowSystem system;
  system.unknown = PerNode<std::int32_t>(network.pore_volume.size(), FlowSystem::unreachable);
  const std::vector<NodeId> order = reached_nodes(network, gates);
  std::size_t gate_nodes = 0;
  for (const Gate& gate : gates) {
    gate_nodes += gate.nodes.size();
  }
  for (std::size_t at = 0; at < order.size(); ++at) {
    system.unknown[order[at]] =
        at < gate_nodes ? 0 : static_cast<std::int32_t>(at - gate_nodes + 1);
  }
  system.matrix.first.push_back(0);
  std::vector<Link> links;
  double volume = 0;
  for (std::size_t at = 0; at < order.size(); ++at) {
    const std::size_t i = order[at].position();
    const std::int32_t row = system.unknown[order[at]];
    for (std::size_t k = network.first[i]; k < network.first[i + 1]; ++k) {
      const std::int32_t column = system.unknown[network.neighbour[k]];
      if (column != row) {
        links.emplace_back(column, network.conductance[k]);
      }
    }
    volume += network.pore_volume[order[at]];
    if (at + 1 >= gate_nodes) { // the head's row is whole once the last gate node is in
      append_row(system.matrix, links);
      system.volume.push_back(volume);
      volume = 0;
    }
  }
  return system;
}

} // namespace tidemark
