// Where a gate fills the part fastest: the exact fill time of thousands of places from one
// factorisation, without a filling.
//
// With the gates at one pressure, all air at another, constant viscosity and nothing bled, the fill
// time is mu max(w) / dp, where A w = S, w = 0 on the gates; A the network at unit viscosity, S the
// pore volumes (Elliott and Janovsky 1981, Proc. R. Soc. Edinburgh A 88:93, from memory). A is
// factorised once for the part without gates. A gate changes only the links of its own nodes, so
// that with z from A z = S and the columns g_j of the inverse that belong to the nodes j next to
// the gate
//     w = k + z - sum_j q_j g_j,    sum_j q_j = total pore volume,
// and k and q follow from a small dense system: links of j to the gate as they are with it.
#pragma once

#include "solver/border_points.hpp"
#include "solver/port.hpp"

#include <Eigen/SparseCholesky>

#include <cstddef>
#include <memory>
#include <optional>
#include <span>
#include <vector>

namespace tidemark {

/// A piece of a part that no link joins to the one that is ranked.
struct LeftOutPiece {
  std::vector<NodeId> nodes; // of the user, ascending
  double pore_volume = 0;    // above 0 [m3]
};

/// The network of a part without gates, factorised.
struct FactoredPart {
  using Solver = Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>>;
  PlainNetwork plain;                 // as port_factor wants it
  PortSites sites;                    // likewise
  FlowNetwork network;                // with the channels
  PerNode<std::int32_t> unknown;      // of each node, -1 of those that are in no equation
  std::vector<NodeId> nodes;          // of each unknown
  std::size_t users_nodes = 0;        // how many of them are the user's: the first
  std::unique_ptr<const Solver> ldlt; // with the last of the nodes held at zero
  Eigen::VectorXd z;                  // of each unknown, A z = S
  double pore_volume = 0;             // of the body that is ranked [m3]
  std::vector<LeftOutPiece> left_out; // other bodies, in the order of their first nodes
  /// With points on borders, without gates, where the network needs them.
  std::optional<RefinedProblem> refined;

  [[nodiscard]] std::span<const NodeId> own_nodes() const {
    return std::span(nodes).first(users_nodes);
  }
};

/// Builds and factorises the network of the problem without its gates (problem.gates is not looked
/// at), with points on borders where it needs them, see refined_at_borders. Of a part in pieces the
/// one of the largest pore volume is taken. Throws SolveError if it cannot be factorised.
FactoredPart factored_part(const FillProblem& problem);

/// The round gate of a radius [m] with its middle at a node: that node and those within the radius.
Gate gate_at(const FillProblem& problem, NodeId node, double radius);

/// What the theorem says of a layout of gates.
struct LayoutTime {
  double largest_w = 0; // max of w [-]: the fill time is mu largest_w / dp without a hose
  NodeId last;          // where it is
};

/// A gate as the small dense system sees it.
struct GateSite {
  Gate gate;
  NodeId middle;                    // of the gate's nodes the one nearest to its centre
  std::vector<NodeId> ring;         // nodes outside the gate that have a link to it, ascending
  std::vector<NodeId> surroundings; // all within a few links, ascending: no other gate lies there
  struct Link {
    std::size_t ring, node;  // in ring, in gate.nodes
    double plain, with_gate; // conductance without and with the gate [m3]
  };
  std::vector<Link> links;
};

/// Precondition: the gate has a radius, and its nodes are in the equations.
GateSite gate_site(const FillProblem& problem, const FactoredPart& part, Gate gate);

/// Whether two gates are so far apart that each is a port of its own.
bool are_apart(const GateSite& one, const GateSite& other);

/// w of a layout, exact to rounding, and where it is largest: one back-substitution, and half of
/// one along a small part of the factor for each node of the gates and their rings. All gates share
/// one pressure. w: of each node, 0 on the gates, NaN in no equation; may be null. Precondition:
/// gates pairwise apart, at least one.
LayoutTime layout_time(const FactoredPart& part, std::span<const GateSite> gates,
                       PerNode<double>* w = nullptr);

/// The same for the problem's own gates, as if all were open from the start at one pressure: solved
/// directly, by a factorisation of its own. Nodes no gate reaches are left out.
LayoutTime layout_time(const FillProblem& problem);

/// A single gate with what is kept of it for layouts of several.
struct RankedGate {
  LayoutTime time;
  double own = 0;            // k + z at the gate, over the pore volume [1/m3]
  std::vector<float> column; // sum of g_j q_j over the pore volume, at the sample's nodes [1/m3]
};

/// layout_time of one gate, and its column at some nodes. Memory: 4 bytes for each of them.
RankedGate ranked_gate(const FactoredPart& part, const GateSite& gate,
                       std::span<const NodeId> sample);

/// Ranks layouts of two or three gates by the columns of single ones.
struct LayoutSearch {
  const FactoredPart& part;
  std::span<const RankedGate> gates;
  std::span<const double> z; // at the nodes of the sample, at which w is looked at
  std::span<const std::size_t> sample_of_gate; // where each gate's middle stands in the sample
};

/// The largest w of a layout on the sample, with each gate taken for a source of the shape it has
/// alone: near to layout_time, whose exact value is then for the best.
double estimated_w(const LayoutSearch& search, std::span<const std::size_t> layout);

} // namespace tidemark
