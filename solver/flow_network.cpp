#include "solver/flow_network.hpp"

#include "solver/channel.hpp"
#include "solver/port.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace tidemark {

namespace {

struct Entry {
  std::int32_t row, column;
  double value;
};

PerNode<double> pore_volumes(const FillProblem& problem, const Triangulation& triangulation) {
  const auto& positions = problem.mesh.positions;
  PerNode<double> volumes(positions.size(), 0);
  for (const TriangleId id : triangulation.corners.ids()) {
    const auto& [a, b, c] = triangulation.corners[id];
    const Reinforcement local = reinforcement_at(problem, triangulation.element[id]);
    const double area = area_vector(positions[a], positions[b], positions[c]).norm();
    const double third = local.porosity * local.thickness * area / 3;
    for (const NodeId node : {a, b, c}) {
      volumes[node] += third;
    }
  }
  return volumes;
}

/// Both directions of every edge term, sorted by row and column.
std::vector<Entry> sorted_entries(const FlowTriangles& triangles,
                                  const PerNode<Vector3>& positions) {
  std::vector<Entry> entries;
  entries.reserve(6 * triangles.triangles.size());
  for (const FlowTriangle& triangle : triangles.triangles) {
    const std::array<double, 3> terms = edge_terms(triangle, positions);
    for (std::size_t side = 0; side < 3; ++side) {
      const auto i = triangle.corners[(side + 1) % 3].value();
      const auto j = triangle.corners[(side + 2) % 3].value();
      entries.push_back({i, j, terms[side]});
      entries.push_back({j, i, terms[side]});
    }
  }
  // Stable: both directions of an edge sum their terms in the same order, so c_ij = c_ji exactly.
  std::ranges::stable_sort(entries, {}, [](const Entry& e) { return std::pair(e.row, e.column); });
  return entries;
}

void fill_links(FlowNetwork& network, const std::vector<Entry>& entries, std::size_t nodes) {
  network.first.assign(nodes + 1, 0);
  double limited = 0;
  double total = 0;
  for (std::size_t k = 0; k < entries.size();) {
    const Entry& entry = entries[k];
    double sum = 0;
    double size = 0;
    for (; k < entries.size() && entries[k].row == entry.row && entries[k].column == entry.column;
         ++k) {
      sum += entries[k].value;
      size += std::abs(entries[k].value);
    }
    total += std::abs(sum);
    // A right angle's cotangent is zero but for rounding: no link, and nothing to report.
    const double rounding = 1e-12 * size;
    if (sum > rounding) {
      network.neighbour.emplace_back(entry.column);
      network.conductance.push_back(sum);
      ++network.first[static_cast<std::size_t>(entry.row) + 1];
    } else if (sum < -rounding) {
      limited -= sum;
      network.quality.limited += entry.row < entry.column ? 1 : 0;
    }
  }
  for (std::size_t i = 0; i < nodes; ++i) {
    network.first[i + 1] += network.first[i];
  }
  network.quality.limited_fraction = total > 0 ? limited / total : 0;
}

void scale_gate_links(FlowNetwork& network, const Gate& gate, double factor) {
  const auto is_gate = [&](NodeId node) { return std::ranges::binary_search(gate.nodes, node); };
  for (const NodeId node : gate.nodes) {
    for (std::size_t k = network.first[node.position()]; k < network.first[node.position() + 1];
         ++k) {
      const NodeId other = network.neighbour[k];
      if (is_gate(other)) {
        continue;
      }
      network.conductance[k] *= factor;
      for (std::size_t m = network.first[other.position()]; m < network.first[other.position() + 1];
           ++m) {
        if (network.neighbour[m] == node) {
          network.conductance[m] *= factor;
        }
      }
    }
  }
}

} // namespace

PlainNetwork plain_network(const FillProblem& problem) {
  const Triangulation triangulation = triangulate(problem.mesh);
  PlainNetwork plain{flow_triangles(problem, triangulation), {}};
  FlowNetwork& network = plain.network;
  network.pore_volume = pore_volumes(problem, triangulation);
  network.quality.edges = plain.triangles.edges;
  network.quality.flipped = plain.triangles.flipped;
  fill_links(network, sorted_entries(plain.triangles, problem.mesh.positions),
             problem.mesh.positions.size());
  return plain;
}

FlowNetwork flow_network(const FillProblem& problem) {
  PlainNetwork plain = plain_network(problem);
  FlowNetwork& network = plain.network;
  const PortSites sites = port_sites(plain.triangles, problem.mesh.positions.size());
  for (const Gate& gate : problem.gates) {
    if (gate.radius) {
      scale_gate_links(network, gate, port_factor(problem, gate, plain.triangles, sites, network));
    }
  }
  add_channels(problem,
               network); // last: a channel at a port is not part of the port's surroundings
  return std::move(plain.network);
}

} // namespace tidemark
