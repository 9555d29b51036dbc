#include "solver/gate_ranking.hpp"

#include "mesh/error.hpp"
#include "solver/flow_system.hpp"

#include <Eigen/Dense>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
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

/// y = L^-1 e of some nodes: not zero only on their ways up the elimination tree, so that it costs
/// little beside a whole back-substitution. The inverse between two of the nodes is y . D^-1 y'.
struct Halves {
  std::vector<Eigen::Index> rows; // of the factor, ascending, where any y is not zero
  Eigen::MatrixXd y;              // a row for each of them, a column for each node
};

/// The row of the factor a node stands in; -1 of the one held at zero, whose y is zero.
Eigen::Index factor_row(const FactoredPart& part, NodeId node) {
  const auto& order = part.ldlt->permutationP().indices();
  const std::int32_t at = part.unknown[node];
  return at < order.size() ? order[at] : -1;
}

using Factor = FactoredPart::Solver::CholMatrixType;

/// The parent of a row in the elimination tree: the next row below in its column; size if none.
Eigen::Index parent_of(const Factor& lower, Eigen::Index row) {
  for (Factor::InnerIterator it(lower, row); it; ++it) {
    if (it.row() > row) {
      return it.row();
    }
  }
  return lower.cols();
}

Halves halves_of(const FactoredPart& part, std::span<const NodeId> nodes) {
  const Factor& lower = part.ldlt->matrixL().nestedExpression();
  std::vector<std::int32_t> place(static_cast<std::size_t>(lower.cols()), -1);
  Halves halves;
  for (const NodeId node : nodes) {
    Eigen::Index row = factor_row(part, node);
    for (; row >= 0 && row < lower.cols() && place[static_cast<std::size_t>(row)] < 0;
         row = parent_of(lower, row)) {
      place[static_cast<std::size_t>(row)] = 0;
      halves.rows.push_back(row);
    }
  }
  std::ranges::sort(halves.rows);
  for (std::size_t r = 0; r < halves.rows.size(); ++r) {
    place[static_cast<std::size_t>(halves.rows[r])] = static_cast<std::int32_t>(r);
  }
  using RowMajor = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;
  RowMajor y = RowMajor::Zero(static_cast<Eigen::Index>(halves.rows.size()),
                              static_cast<Eigen::Index>(nodes.size()));
  for (std::size_t c = 0; c < nodes.size(); ++c) {
    if (const Eigen::Index row = factor_row(part, nodes[c]); row >= 0) {
      y(place[static_cast<std::size_t>(row)], static_cast<Eigen::Index>(c)) = 1;
    }
  }
  for (Eigen::Index r = 0; r < y.rows(); ++r) {
    const Eigen::Index row = halves.rows[static_cast<std::size_t>(r)];
    for (Factor::InnerIterator it(lower, row); it; ++it) {
      if (it.row() > row) {
        y.row(place[static_cast<std::size_t>(it.row())]).noalias() -= it.value() * y.row(r);
      }
    }
  }
  halves.y = y;
  return halves;
}

/// The inverse between each two of the nodes.
Eigen::MatrixXd inverse_between(const FactoredPart& part, const Halves& halves) {
  Eigen::MatrixXd scaled = halves.y;
  const auto diagonal = part.ldlt->vectorD();
  for (Eigen::Index r = 0; r < scaled.rows(); ++r) {
    scaled.row(r) /= diagonal[halves.rows[static_cast<std::size_t>(r)]];
  }
  return halves.y.transpose() * scaled;
}

/// The sum of the inverse's columns, each times its share, over the unknowns: one
/// back-substitution.
Eigen::VectorXd sum_of_columns(const FactoredPart& part, const Halves& halves,
                               const Eigen::VectorXd& shares) {
  const Factor& lower = part.ldlt->matrixL().nestedExpression();
  const auto diagonal = part.ldlt->vectorD();
  const Eigen::VectorXd half = halves.y.leftCols(shares.size()) * shares;
  Eigen::VectorXd x = Eigen::VectorXd::Zero(lower.cols());
  for (Eigen::Index r = 0; r < half.size(); ++r) {
    const Eigen::Index row = halves.rows[static_cast<std::size_t>(r)];
    x[row] = half[r] / diagonal[row];
  }
  for (Eigen::Index row = lower.cols() - 1; row >= 0; --row) {
    double value = x[row];
    for (Factor::InnerIterator it(lower, row); it; ++it) {
      if (it.row() > row) {
        value -= it.value() * x[it.row()];
      }
    }
    x[row] = value;
  }
  const auto& order = part.ldlt->permutationP().indices();
  Eigen::VectorXd sum = Eigen::VectorXd::Zero(lower.cols() + 1);
  for (Eigen::Index i = 0; i < order.size(); ++i) {
    sum[i] = x[order[i]];
  }
  return sum;
}

/// k and the sources q at the ring nodes of all gates.
struct Sources {
  double k = 0;
  Eigen::VectorXd columns; // sum over the ring nodes of g_j q_j
};

Eigen::Index index_of(const FactoredPart& part, NodeId node) {
  return part.unknown[node];
}

/// For each ring node j: q_j = sum over the gate's nodes p of c'_jp w_j - c_jp (w_j - w_p), so that
/// row j of A w = S - q is the row of the network with the gate at zero; w_p, carried on inside the
/// gate, obeys the rows of A as they are. And all q together are all S.
Sources sources_of(const FactoredPart& part, std::span<const GateSite> gates) {
  std::vector<NodeId> nodes; // the rings of all gates, then their own nodes
  for (const GateSite& gate : gates) {
    nodes.insert(nodes.end(), gate.ring.begin(), gate.ring.end());
  }
  const auto count = static_cast<Eigen::Index>(nodes.size());
  for (const GateSite& gate : gates) {
    nodes.insert(nodes.end(), gate.gate.nodes.begin(), gate.gate.nodes.end());
  }
  const Halves halves = halves_of(part, nodes);
  const Eigen::MatrixXd inverse = inverse_between(part, halves);
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Identity(count + 1, count + 1);
  Eigen::VectorXd right = Eigen::VectorXd::Zero(count + 1);
  Eigen::Index ring = 0;
  Eigen::Index own_nodes = count;
  const auto z_of = [&](Eigen::Index at) {
    return part.z[index_of(part, nodes[static_cast<std::size_t>(at)])];
  };
  for (const GateSite& gate : gates) {
    for (const GateSite::Link& link : gate.links) {
      const Eigen::Index j = ring + static_cast<Eigen::Index>(link.ring);
      const Eigen::Index p = own_nodes + static_cast<Eigen::Index>(link.node);
      const double own = link.with_gate - link.plain;
      matrix.row(j).head(count) +=
          own * inverse.row(j).head(count) + link.plain * inverse.row(p).head(count);
      matrix(j, count) -= link.with_gate;
      right[j] += own * z_of(j) + link.plain * z_of(p);
    }
    ring += static_cast<Eigen::Index>(gate.ring.size());
    own_nodes += static_cast<Eigen::Index>(gate.gate.nodes.size());
  }
  matrix.row(count).head(count).setOnes();
  matrix(count, count) = 0;
  right[count] = part.pore_volume;
  const Eigen::VectorXd solution = Eigen::PartialPivLU<Eigen::MatrixXd>(matrix).solve(right);
  return {solution[count], sum_of_columns(part, halves, solution.head(count))};
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
  time.last = part.refined ? part.refined->users_node(time.last) : time.last;
  return time;
}

} // namespace

FactoredPart factored_part(const FillProblem& users_problem) {
  FillProblem bare = users_problem;
  bare.gates.clear();
  FlowNetwork network = flow_network(bare);
  FactoredPart part;
  part.refined = refined_at_borders(bare, network);
  const FillProblem& problem = part.refined ? part.refined->problem : bare;
  part.plain = plain_network(problem);
  part.sites = port_sites(part.plain.triangles, problem.mesh.positions.size());
  part.plain.terms = {}; // the rest is what is needed of it
  part.network = std::move(network);
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
  const auto is_users = [&](NodeId node) { return node.position() < bare.mesh.positions.size(); };
  part.users_nodes = static_cast<std::size_t>(std::ranges::count_if(part.nodes, is_users));
  for (std::size_t i = 0; i < part.nodes.size(); ++i) {
    part.unknown[part.nodes[i]] = static_cast<std::int32_t>(i);
  }
  part.pore_volume = volume_of(part.network, part.nodes);
  for (auto& body : bodies) {
    std::ranges::sort(body);
    if (const double volume = volume_of(part.network, body); volume > 0) {
      std::erase_if(body, [&](NodeId node) { return !is_users(node); });
      part.left_out.push_back({std::move(body), volume});
    }
  }
  std::ranges::sort(part.left_out, {},
                    [](const LeftOutPiece& piece) { return piece.nodes.front(); });
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
  const FillProblem& ranked = part.refined ? part.refined->problem : problem;
  const double factor =
      port_factor(ranked, site.gate, part.plain.triangles, part.sites, part.plain.network);
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
  Eigen::VectorXd values = part.z - sources.columns;
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
  Eigen::VectorXd w = part.z - sources.columns;
  w.array() += sources.k;
  RankedGate ranked;
  ranked.time = largest_of(part, {&gate, 1}, w);
  ranked.own = (sources.k + part.z[index_of(part, gate.middle)]) / part.pore_volume;
  for (const NodeId node : sample) {
    ranked.column.push_back(
        static_cast<float>(sources.columns[index_of(part, node)] / part.pore_volume));
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

LayoutTime layout_time(const FillProblem& users_problem) {
  FlowNetwork network = flow_network(users_problem);
  const std::optional<RefinedProblem> refined = refined_at_borders(users_problem, network);
  const FillProblem& problem = refined ? refined->problem : users_problem;
  std::vector<Gate> all_open = problem.gates;
  for (Gate& gate : all_open) {
    gate.opens = {};
    gate.closes = {};
  }
  const FlowSystem system = flow_system(network, all_open);
  const auto gates = static_cast<Eigen::Index>(all_open.size());
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
  const NodeId last = system.order[gate_nodes + static_cast<std::size_t>(at)];
  return {largest, refined ? refined->users_node(last) : last};
}

} // namespace tidemark
