#include "solver/flow_network.hpp"

#include "solver/channel.hpp"
#include "solver/port.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace tidemark {

namespace {

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

/// Both directions of every edge term, sorted by nodes.
std::vector<LinkTerm> sorted_terms(const FlowTriangles& triangles,
                                   const PerNode<Vector3>& positions) {
  std::vector<LinkTerm> terms;
  terms.reserve(6 * triangles.triangles.size());
  for (const FlowTriangle& triangle : triangles.triangles) {
    const std::array<double, 3> values = edge_terms(triangle, positions);
    for (std::size_t side = 0; side < 3; ++side) {
      const NodeId i = triangle.corners[(side + 1) % 3];
      const NodeId j = triangle.corners[(side + 2) % 3];
      terms.push_back({i, j, values[side]});
      terms.push_back({j, i, values[side]});
    }
  }
  sort_by_nodes(terms);
  return terms;
}

void fill_links(FlowNetwork& network, const std::vector<LinkTerm>& terms) {
  const std::size_t nodes = network.pore_volume.size();
  network.first.assign(nodes + 1, 0);
  double limited = 0;
  double total = 0;
  for (std::size_t k = 0; k < terms.size();) {
    const LinkTerm& term = terms[k];
    double sum = 0;
    double size = 0;
    for (; k < terms.size() && terms[k].from == term.from && terms[k].to == term.to; ++k) {
      sum += terms[k].value;
      size += std::abs(terms[k].value);
    }
    total += std::abs(sum);
    // A right angle's cotangent is zero but for rounding: no link, and nothing to report.
    const double rounding = 1e-12 * size;
    if (sum > rounding) {
      network.neighbour.push_back(term.to);
      network.conductance.push_back(sum);
      ++network.first[term.from.position() + 1];
    } else if (sum < -rounding) {
      limited -= sum;
      if (term.from < term.to) {
        network.limited.push_back({term.from, term.to});
      }
    }
  }
  for (std::size_t i = 0; i < nodes; ++i) {
    network.first[i + 1] += network.first[i];
  }
  network.quality.limited = network.limited.size();
  network.quality.limited_fraction = total > 0 ? limited / total : 0;
}

bool are_one(std::span<const double> factors) {
  return std::ranges::all_of(factors, [](double factor) { return factor == 1; });
}

/// Scales the terms that join a node of a gate to one that is not of this gate.
void scale_gate_links(std::vector<LinkTerm>& terms, const FillProblem& problem,
                      std::span<const double> factors) {
  PerNode<std::int32_t> gate_of(problem.mesh.positions.size(), -1);
  for (std::size_t g = 0; g < problem.gates.size(); ++g) {
    for (const NodeId node : problem.gates[g].nodes) {
      gate_of[node] = static_cast<std::int32_t>(g);
    }
  }
  const auto factor = [&](std::int32_t gate) {
    return gate < 0 ? 1 : factors[static_cast<std::size_t>(gate)];
  };
  for (LinkTerm& term : terms) {
    if (gate_of[term.from] != gate_of[term.to]) {
      term.value *= factor(gate_of[term.from]) * factor(gate_of[term.to]);
    }
  }
}

} // namespace

PlainNetwork plain_network(const FillProblem& problem) {
  const Triangulation triangulation = triangulate(problem.mesh);
  PlainNetwork plain{flow_triangles(problem, triangulation), {}, {}};
  FlowNetwork& network = plain.network;
  network.pore_volume = pore_volumes(problem, triangulation);
  network.quality.edges = plain.triangles.edges;
  network.quality.flipped = plain.triangles.flipped;
  plain.terms = sorted_terms(plain.triangles, problem.mesh.positions);
  fill_links(network, plain.terms);
  return plain;
}

FlowNetwork whole_network(const FlowNetwork& plain, std::vector<LinkTerm> terms,
                          const FillProblem& problem, std::span<const double> factors) {
  if (problem.channels.empty() && are_one(factors)) {
    return plain;
  }
  FlowNetwork network;
  network.pore_volume = plain.pore_volume;
  network.quality.edges = plain.quality.edges;
  network.quality.flipped = plain.quality.flipped;
  if (!are_one(factors)) {
    scale_gate_links(terms, problem, factors);
  }
  add_channels(problem, network.pore_volume, terms);
  fill_links(network, terms);
  return network;
}

FlowNetwork flow_network(const FillProblem& problem) {
  PlainNetwork plain = plain_network(problem);
  const PortSites sites = port_sites(plain.triangles, problem.mesh.positions.size());
  std::vector<double> factors;
  for (const Gate& gate : problem.gates) {
    factors.push_back(
        gate.radius ? port_factor(problem, gate, plain.triangles, sites, plain.network) : 1);
  }
  return whole_network(plain.network, std::move(plain.terms), problem, factors);
}

} // namespace tidemark
