// The cavity as a network: pore volumes at the nodes, conductances between them.
#pragma once

#include "solver/fill_problem.hpp"
#include "solver/filling.hpp"
#include "solver/flow_metric.hpp"

#include <vector>

namespace tidemark {

/// Node i takes in  sum_j c_ij (p_j - p_i) / mu  [m3/s]. Conductances are symmetric, positive and
/// at unit viscosity [m3]: c_ij = - sum over triangles of h A grad N_i . K grad N_j.
struct FlowNetwork {
  /// V_i = sum over the user's triangles of phi h A / 3, and half of each channel segment [m3]
  PerNode<double> pore_volume;
  std::vector<std::size_t> first;  // links of node i: first[i] .. first[i + 1]
  std::vector<NodeId> neighbour;   // ascending within a node
  std::vector<double> conductance; // c_ij > 0 [m3]
  NetworkQuality quality;
};

/// The network of the reinforcement alone, and the triangles it comes from.
struct PlainNetwork {
  FlowTriangles triangles;
  FlowNetwork network; // without channels, the links of the gates as of any other node
};

PlainNetwork plain_network(const FillProblem& problem);

/// Builds the network on the triangulation that is Delaunay in the flow metric. What is still
/// wrong-signed there (on region borders, free edges, creases) is set to zero and reported. The
/// links of a gate with a port radius are scaled by port_factor. Then channels are added.
FlowNetwork flow_network(const FillProblem& problem);

} // namespace tidemark
