#include "solver/gate_ranking.hpp"

#include "mesh/error.hpp"
#include "solver/channel.hpp"
#include "solver/flow_system.hpp"

#include <Eigen/Dense>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <limits>
#include <type_traits>
#include <utility>

namespace tidemark {

namespace {

using SparseMatrix = Eigen::SparseMatrix<double>;

/// The connected bodies of the network.
std::vector<std::vector<NodeId>> bodies_of(const FlowNetwork& network) {
  std::vector<std::vector<NodeId>> bodies;
  PerNode<bool> seen(network.pore_volume.size(), false);
  for (const NodeId start : network.pore_volume.ids()) {
    if (seen[start]) {
      continue;
    }
    std::vector<NodeId> body{start};
    seen[start] = true;
    for (std::size_t at = 0; at < body.size(); ++at) {
      const std::size_t i = body[at].position();
      for (std::size_t k = network.first[i]; k < network.first[i + 1]; ++k) {
        if (!seen[network.neighbour[k]]) {
          seen[network.neighbour[k]] = true;
          body.push_back(network.neighbour[k]);
        }
      }
    }
    bodies.push_back(std::move(body));
  }
  return bodies;
}

double volume_of(const FlowNetwork& network, const std::vector<NodeId>& nodes) {
  double volume = 0;
  for (const NodeId node : nodes) {
    volume += network.pore_volume[node];
  }
  return volume;
}

/// The equations of the body with its last node held at zero.
SparseMatrix grounded_matrix(const FactoredPart& part) {
  const auto size = static_cast<Eigen::Index>(part.nodes.size() - 1);
  std::vector<Eigen::Triplet<double>> entries;
  for (Eigen::Index row = 0; row < size; ++row) {
    const std::size_t i = part.nodes[static_cast<std::size_t>(row)].position();
    double diagonal = 0;
    for (std::size_t k = part.network.first[i]; k < part.network.first[i + 1]; ++k) {
      const std::int32_t column = part.unknown[part.network.neighbour[k]];
      diagonal += part.network.conductance[k];
      if (column < size) {
        entries.emplace_back(row, column, -part.network.conductance[k]);
      }
    }
    entries.emplace_back(row, row, diagonal);
  }
  SparseMatrix matrix(size, size);
  matrix.setFromTriplets(entries.begin(), entries.end());
  return matrix;
}

double conductance_of(const FlowNetwork& network, NodeId from, NodeId to) {
  const auto begin = network.neighbour.begin();
  const auto first = begin + static_cast<std::ptrdiff_t>(network.first[from.position()]);
  const auto end = begin + static_cast<std::ptrdiff_t>(network.first[from.position() + 1]);
  const auto found = std::lower_bound(first, end, to);
  const bool is_there = found != end && *found == to;
  return is_there ? network.conductance[static_cast<std::size_t>(found - begin)] : 0;
}

/// The nodes and their neighbours up to so many links away, ascending.
std::vector<NodeId> grown(const FlowNetwork& network, std::vector<NodeId> nodes, int links) {
  for (int step = 0; step < links; ++step) {
    const std::size_t count = nodes.size();
    for (std::size_t at = 0; at < count; ++at) {
      const std::size_t i = nodes[at].position();
      nodes.insert(nodes.end(),
                   network.neighbour.begin() + static_cast<std::ptrdiff_t>(network.first[i]),
                   network.neighbour.begin() + static_cast<std::ptrdiff_t>(network.first[i + 1]));
    }
    std::ranges::sort(nodes);
    nodes.erase(std::unique(nodes.begin(), nodes.end()), nodes.end());
  }
  return nodes;
}

/// Columns of the inverse are solved for in blocks: the factor is read once for all of them.
constexpr std::size_t block_width = 8;
using BlockRow = Eigen::Array<double, 1, static_cast<int>(block_width)>;
using Block = std::vector<BlockRow, Eigen::aligned_allocator<BlockRow>>;

/// L y = b, then D L^T x = y, for all columns of a block in the factor's order.
void solve_block(const FactoredPart::Solver& ldlt, Block& block) {
  const auto& lower = ldlt.matrixL().nestedExpression();
  const auto diagonal = ldlt.vectorD();
  const Eigen::Index size = lower.cols();
  const auto row = [&](Eigen::Index i) -> BlockRow& { return block[static_cast<std::size_t>(i)]; };
  for (Eigen::Index k = 0; k < size; ++k) {
    const BlockRow here = row(k);
    if ((here == 0).all()) {
      continue; // above the first of the sources
    }
    for (std::remove_cvref_t<decltype(lower)>::InnerIterator it(lower, k); it; ++it) {
      if (it.row() > k) {
        row(it.row()) -= it.value() * here;
      }
    }
  }
  for (Eigen::Index k = size - 1; k >= 0; --k) {
    BlockRow here = row(k) / diagonal[k];
    for (std::remove_cvref_t<decltype(lower)>::InnerIterator it(lower, k); it; ++it) {
      if (it.row() > k) {
        here -= it.value() * row(it.row());
      }
    }
    row(k) = here;
  }
}

/// The columns of the inverse that belong to some nodes, each over the unknowns.
Eigen::MatrixXd columns_of(const FactoredPart& part, std::span<const NodeId> nodes) {
  const auto size = static_cast<Eigen::Index>(part.nodes.size());
  Eigen::MatrixXd columns = Eigen::MatrixXd::Zero(size, static_cast<Eigen::Index>(nodes.size()));
  const auto& order = part.ldlt->permutationP().indices();
  Block block(part.nodes.size() - 1);
  for (std::size_t begin = 0; begin < nodes.size(); begin += block_width) {
    const std::size_t count = std::min(block_width, nodes.size() - begin);
    std::ranges::fill(block, BlockRow::Zero());
    for (std::size_t c = 0; c < count; ++c) {
      const std::int32_t at = part.unknown[nodes[begin + c]];
      if (at < order.size()) { // the node held at zero has a column of zeros
        block[static_cast<std::size_t>(order[at])][static_cast<Eigen::Index>(c)] = 1;
      }
    }
    solve_block(*part.ldlt, block);
    for (std::size_t c = 0; c < count; ++c) {
      for (Eigen::Index i = 0; i < order.size(); ++i) {
        columns(i, static_cast<Eigen::Index>(begin + c)) =
            block[static_cast<std::size_t>(order[i])][static_cast<Eigen::Index>(c)];
      }
    }
  }
  return columns;
}

/// k and the sources q at the ring nodes of all gates.
struct Sources {
  std::vector<NodeId> nodes;
  Eigen::MatrixXd columns; // g_j of each
  Eigen::VectorXd q;       // [m3]
  double k = 0;
};

Eigen::Index index_of(const FactoredPart& part, NodeId node) {
  return part.unknown[node];
}

/// For each ring node j: q_j = sum over the gate's nodes p of c'_jp w_j - c_jp (w_j - w_p), so that
/// row j of A w = S - q is the row of the network with the gate at zero; w_p, carried on inside the
/// gate, obeys the rows of A as they are. And all q together are all S.
Sources sources_of(const FactoredPart& part, std::span<const GateSite> gates) {
  Sources sources;
  for (const GateSite& gate : gates) {
    sources.nodes.insert(sources.nodes.end(), gate.ring.begin(), gate.ring.end());
  }
  sources.columns = columns_of(part, sources.nodes);
  const auto count = static_cast<Eigen::Index>(sources.nodes.size());
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Identity(count + 1, count + 1);
  Eigen::VectorXd right = Eigen::VectorXd::Zero(count + 1);
  Eigen::Index begin = 0;
  for (const GateSite& gate : gates) {
    for (const GateSite::Link& link : gate.links) {
      const Eigen::Index row = begin + static_cast<Eigen::Index>(link.ring);
      const Eigen::Index j = index_of(part, gate.ring[link.ring]);
      const Eigen::Index p = index_of(part, gate.gate.nodes[link.node]);
      const double own = link.with_gate - link.plain;
      matrix.row(row).head(count) +=
          own * sources.columns.row(j) + link.plain * sources.columns.row(p);
      matrix(row, count) -= link.with_gate;
      right[row] += own * part.z[j] + link.plain * part.z[p];
    }
    begin += static_cast<Eigen::Index>(gate.ring.size());
  }
  matrix.row(count).head(count).setOnes();
  matrix(count, count) = 0;
  right[count] = part.pore_volume;
  const Eigen::VectorXd solution = Eigen::PartialPivLU<Eigen::MatrixXd>(matrix).solve(right);
  sources.q = solution.head(count);
  sources.k = solution[count];
  return sources;
}

/// Sets w to zero on the gates and finds its largest value.
LayoutTime largest_of(const FactoredPart& part, std::span<const GateSite> gates,
                      Eigen::VectorXd& w) {
  for (const GateSite& gate : gates) {
    for (const NodeId node : gate.gate.nodes) {
      w[index_of(part, node)] = 0;
    }
  }
  LayoutTime time{-1, {}};
  for (Eigen::Index i = 0; i < w.size(); ++i) {
    const NodeId node = part.nodes[static_cast<std::size_t>(i)];
    if (w[i] > time.largest_w || (w[i] == time.largest_w && node < time.last)) {
      time = {w[i], node};
    }
  }
  return time;
}

} // namespace

FactoredPart factored_part(const FillProblem& problem) {
  FactoredPart part;
  part.plain = plain_network(problem);
  part.sites = port_sites(part.plain.triangles, problem.mesh.positions.size());
  part.network = part.plain.network;
  add_channels(problem, part.network);
  part.unknown = PerNode<std::int32_t>(problem.mesh.positions.size(), -1);
  std::vector<std::vector<NodeId>> bodies = bodies_of(part.network);
  const auto largest = std::ranges::max_element(
      bodies, {}, [&](const auto& body) { return volume_of(part.network, body); });
  part.nodes = std::move(*largest);
  bodies.erase(largest);
  if (part.nodes.size() < 3) {
    throw SolveError("the flow network holds together nowhere");
  }
  std::ranges::sort(part.nodes);
  for (std::size_t i = 0; i < part.nodes.size(); ++i) {
    part.unknown[part.nodes[i]] = static_cast<std::int32_t>(i);
  }
  part.pore_volume = volume_of(part.network, part.nodes);
  for (const auto& body : bodies) {
    part.left_out += volume_of(part.network, body);
  }
  part.ldlt = std::make_unique<FactoredPart::Solver>(grounded_matrix(part));
  if (part.ldlt->info() != Eigen::Success) {
    throw SolveError("the flow network cannot be factorised");
  }
  const auto size = static_cast<Eigen::Index>(part.nodes.size());
  Eigen::VectorXd storage(size);
  for (Eigen::Index i = 0; i < size; ++i) {
    storage[i] = part.network.pore_volume[part.nodes[static_cast<std::size_t>(i)]];
  }
  part.z = Eigen::VectorXd::Zero(size);
  part.z.head(size - 1) = part.ldlt->solve(storage.head(size - 1));
  return part;
}

Gate gate_at(const FillProblem& problem, NodeId node, double radius) {
  const Vector3& centre = problem.mesh.positions[node];
  Gate gate{"", nodes_within(problem.mesh, centre, radius), centre, radius};
  if (gate.nodes.empty()) {
    gate.nodes.push_back(node);
  }
  return gate;
}

GateSite gate_site(const FillProblem& problem, const FactoredPart& part, Gate gate) {
  GateSite site{std::move(gate), {}, {}, {}, {}};
  const std::vector<NodeId>& nodes = site.gate.nodes;
  site.middle = *std::ranges::min_element(nodes, {}, [&](NodeId node) {
    return (problem.mesh.positions[node] - site.gate.centre).squaredNorm();
  });
  constexpr int reach = 6; // beyond the rings that port_factor looks at
  site.surroundings = grown(part.network, nodes, reach);
  const std::vector<NodeId> near = grown(part.network, nodes, 1);
  std::ranges::set_difference(near, nodes, std::back_inserter(site.ring));
  const double factor =
      port_factor(problem, site.gate, part.plain.triangles, part.sites, part.plain.network);
  for (std::size_t j = 0; j < site.ring.size(); ++j) {
    for (std::size_t p = 0; p < nodes.size(); ++p) {
      const double plain = conductance_of(part.network, site.ring[j], nodes[p]);
      if (plain > 0) {
        const double fibres = conductance_of(part.plain.network, site.ring[j], nodes[p]);
        site.links.push_back({j, p, plain, plain + (factor - 1) * fibres});
      }
    }
  }
  return site;
}

bool are_apart(const GateSite& one, const GateSite& other) {
  return std::ranges::none_of(
             other.gate.nodes,
             [&](NodeId node) { return std::ranges::binary_search(one.surroundings, node); }) &&
         std::ranges::none_of(one.gate.nodes, [&](NodeId node) {
           return std::ranges::binary_search(other.surroundings, node);
         });
}

LayoutTime layout_time(const FactoredPart& part, std::span<const GateSite> gates,
                       PerNode<double>* w) {
  const Sources sources = sources_of(part, gates);
  Eigen::VectorXd values = part.z - sources.columns * sources.q;
  values.array() += sources.k;
  const LayoutTime time = largest_of(part, gates, values);
  if (w != nullptr) {
    *w = PerNode<double>(part.unknown.size(), std::numeric_limits<double>::quiet_NaN());
    for (std::size_t i = 0; i < part.nodes.size(); ++i) {
      (*w)[part.nodes[i]] = values[static_cast<Eigen::Index>(i)];
    }
  }
  return time;
}

RankedGate ranked_gate(const FactoredPart& part, const GateSite& gate,
                       std::span<const NodeId> sample) {
  const Sources sources = sources_of(part, {&gate, 1});
  const Eigen::VectorXd column = sources.columns * (sources.q / part.pore_volume);
  Eigen::VectorXd w = part.z - part.pore_volume * column;
  w.array() += sources.k;
  RankedGate ranked;
  ranked.time = largest_of(part, {&gate, 1}, w);
  ranked.own = (sources.k + part.z[index_of(part, gate.middle)]) / part.pore_volume;
  for (const NodeId node : sample) {
    ranked.column.push_back(static_cast<float>(column[index_of(part, node)]));
  }
  return ranked;
}

double estimated_w(const LayoutSearch& search, std::span<const std::size_t> layout) {
  const double volume = search.part.pore_volume;
  const auto count = static_cast<Eigen::Index>(layout.size());
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Zero(count + 1, count + 1);
  Eigen::VectorXd right(count + 1);
  for (Eigen::Index a = 0; a < count; ++a) {
    const std::size_t at = search.sample_of_gate[layout[static_cast<std::size_t>(a)]];
    for (Eigen::Index b = 0; b < count; ++b) {
      const RankedGate& other = search.gates[layout[static_cast<std::size_t>(b)]];
      matrix(a, b) = a == b ? other.own : static_cast<double>(other.column[at]);
    }
    matrix(a, count) = -1 / volume; // times k
    matrix(count, a) = 1;
    right[a] = search.z[at] / volume;
  }
  right[count] = 1;
  const Eigen::VectorXd share = Eigen::PartialPivLU<Eigen::MatrixXd>(matrix).solve(right);
  Eigen::VectorXf sum = Eigen::VectorXf::Zero(static_cast<Eigen::Index>(search.z.size()));
  for (Eigen::Index a = 0; a < count; ++a) {
    const std::vector<float>& column = search.gates[layout[static_cast<std::size_t>(a)]].column;
    sum +=
        static_cast<float>(share[a]) * Eigen::Map<const Eigen::VectorXf>(column.data(), sum.size());
  }
  const Eigen::Map<const Eigen::VectorXd> z(search.z.data(), sum.size());
  return (z - volume * sum.cast<double>()).maxCoeff() + share[count];
}

LayoutTime layout_time(const FillProblem& problem) {
  const FlowSystem system = flow_system(flow_network(problem), problem.gates);
  const auto gates = static_cast<Eigen::Index>(problem.gates.size());
  const auto size = static_cast<Eigen::Index>(system.size()) - gates;
  std::vector<Eigen::Triplet<double>> entries;
  for (Eigen::Index row = 0; row < size; ++row) {
    const auto i = static_cast<std::size_t>(row + gates);
    entries.emplace_back(row, row, system.matrix.diagonal[i]);
    for (std::int32_t k = system.matrix.first[i]; k < system.matrix.first[i + 1]; ++k) {
      const Eigen::Index column = system.matrix.column[position(k)] - gates;
      if (column >= 0) {
        entries.emplace_back(row, column, -system.matrix.link[position(k)]);
      }
    }
  }
  SparseMatrix matrix(size, size);
  matrix.setFromTriplets(entries.begin(), entries.end());
  const FactoredPart::Solver solver(matrix);
  if (solver.info() != Eigen::Success) {
    throw SolveError("the flow network cannot be factorised");
  }
  const Eigen::VectorXd w =
      solver.solve(Eigen::Map<const Eigen::VectorXd>(system.volume.data() + gates, size));
  const std::size_t gate_nodes = system.order.size() - static_cast<std::size_t>(size);
  Eigen::Index at = 0;
  const double largest = w.maxCoeff(&at);
  return {largest, system.order[gate_nodes + static_cast<std::size_t>(at)]};
}

} // namespace tidemark
