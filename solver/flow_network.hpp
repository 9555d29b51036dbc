// The cavity as a network: pore volumes at the nodes, conductances between them.
#pragma once

#include "solver/fill_problem.hpp"
#include "solver/filling.hpp"
#include "solver/flow_metric.hpp"

#include <span>
#include <vector>

namespace tidemark {

/// Node i takes in  sum_j c_ij (p_j - p_i) / mu  [m3/s]. Conductances are symmetric, positive and
/// at unit viscosity [m3]: c_ij = - sum over triangles of h A grad N_i . K grad N_j.
struct FlowNetwork {
  /// V_i = sum over the user's triangles of phi h A / 3, and half of each channel segment [m3]
  PerNode<double> pore_volume;
  std::vector<std::size_t> first;             // links of node i: first[i] .. first[i + 1]
  std::vector<NodeId> neighbour;              // ascending within a node
  std::vector<double> conductance;            // c_ij > 0 [m3]
  std::vector<std::array<NodeId, 2>> limited; // links set to zero, lower node first, ascending
  NetworkQuality quality;
};

/// One term of the conductance from a node to another [m3].
struct LinkTerm {
  NodeId from, to;
  double value;
};

/// The network of the reinforcement alone, and what it is made of.
struct PlainNetwork {
  FlowTriangles triangles;
  std::vector<LinkTerm> terms; // both directions of each, sorted by nodes
  FlowNetwork network;         // without channels, the links of the gates as of any other node
};

PlainNetwork plain_network(const FillProblem& problem);

/// The plain network, made of these terms, with the links of each gate scaled by its factor, one
/// for each gate or none at all, and with the problem's channels. A channel makes up for a
/// wrong-signed term of the elements beside it, so such a link is not limited.
FlowNetwork whole_network(const FlowNetwork& plain, std::vector<LinkTerm> terms,
                          const FillProblem& problem, std::span<const double> factors);

/// Builds the network on the triangulation that is Delaunay in the flow metric. What is still
/// wrong-signed there (on region borders, free edges, creases) is set to zero and reported; such
/// edges want points of their own, see refined_at_borders. The
/// links of a gate with a port radius are scaled by port_factor, and channels added.
FlowNetwork flow_network(const FillProblem& problem);

} // namespace tidemark
