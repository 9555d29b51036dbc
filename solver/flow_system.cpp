#include "solver/flow_system.hpp"

#include <algorithm>
#include <numeric>

namespace tidemark {

namespace {

/// Nodes in the order they are reached from the gates, breadth first, the gates' nodes first.
std::vector<NodeId> reached_nodes(const FlowNetwork& network, std::span<const Seat> seats) {
  std::vector<NodeId> order;
  PerNode<bool> seen(network.pore_volume.size(), false);
  const auto visit = [&](NodeId node) {
    if (!seen[node]) {
      seen[node] = true;
      order.push_back(node);
    }
  };
  for (const Seat& seat : seats) {
    std::ranges::for_each(seat.nodes, visit);
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

std::vector<Seat> seats_of(std::span<const Gate> gates) {
  std::vector<Seat> seats;
  for (std::size_t g = 0; g < gates.size(); ++g) {
    if (is_always_open(gates[g]) || gates[g].radius) {
      seats.push_back({g, gates[g].nodes});
    } else {
      for (const NodeId node : gates[g].nodes) {
        seats.push_back({g, {node}});
      }
    }
  }
  return seats;
}

FlowSystem flow_system(const FlowNetwork& network, std::span<const Gate> gates) {
  FlowSystem system;
  system.seats = seats_of(gates);
  system.unknown = PerNode<std::int32_t>(network.pore_volume.size(), FlowSystem::unreachable);
  system.order = reached_nodes(network, system.seats);
  std::size_t at = 0;
  for (const Seat& seat : system.seats) {
    at += seat.nodes.size();
  }
  for (std::size_t number = system.seats.size(); at < system.order.size(); ++at, ++number) {
    system.unknown[system.order[at]] = static_cast<std::int32_t>(number);
  }
  std::vector<std::int32_t> itself(system.seats.size());
  std::iota(itself.begin(), itself.end(), 0);
  tie_seats(system, network, itself);
  return system;
}

std::vector<std::int32_t> connected_bodies(const FlowSystem& system) {
  return connected_bodies(
      system.matrix, [&](std::int32_t unknown) { return system.volume[position(unknown)] > 0; });
}

void tie_seats(FlowSystem& system, const FlowNetwork& network, std::span<const std::int32_t> root) {
  const std::vector<Seat>& seats = system.seats;
  std::size_t gate_nodes = 0;
  std::vector<std::vector<std::span<const NodeId>>> tied(seats.size());
  for (std::size_t s = 0; s < seats.size(); ++s) {
    gate_nodes += seats[s].nodes.size();
    tied[position(root[s])].emplace_back(seats[s].nodes);
    for (const NodeId node : seats[s].nodes) {
      system.unknown[node] = root[s];
    }
  }
  system.matrix = {};
  system.unit_link.clear();
  system.volume.clear();
  system.matrix.first.push_back(0);
  std::vector<Link> links;
  for (const auto& parts : tied) {
    append_unknown(system, network, parts, links);
  }
  for (std::size_t at = gate_nodes; at < system.order.size(); ++at) {
    const std::span<const NodeId> part = std::span(system.order).subspan(at, 1);
    append_unknown(system, network, {&part, 1}, links);
  }
}

} // namespace tidemark
