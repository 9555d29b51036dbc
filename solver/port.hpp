// A round gate port on a mesh that does not resolve it.
#pragma once

#include "solver/flow_network.hpp"

#include <span>
#include <vector>

namespace tidemark {

/// What port_factor needs to know of the mesh, found once for all ports.
struct PortSites {
  PerNode<bool> on_border;          // on edges that do not join two triangles of one region
  std::vector<std::size_t> first;   // triangles at node i: first[i] .. first[i + 1]
  std::vector<TriangleId> triangle; // ascending within a node
  [[nodiscard]] std::span<const TriangleId> triangles_at(NodeId node) const {
    const std::size_t i = node.position();
    return {triangle.data() + first[i], first[i + 1] - first[i]};
  }
};

PortSites port_sites(const FlowTriangles& triangles, std::size_t nodes);

/// Factor on the conductances that join the gate's nodes to their neighbours, so that the flow
/// out of the nodes is that out of a port of the gate's true radius.
///
/// Round an elliptic port with semi-axes A, B (the round port in coordinates scaled so that the
/// permeability is isotropic, K = sqrt(K1 K2)) the pressure at point x falls by
///     Q mu / (theta h K) * ln( s(x) / (A + B) ),  s = d + sqrt(d^2 - (B^2 - A^2)),
/// d the mean distance of x from the foci and theta the angle of surface round the port (2 pi
/// inside, pi at a straight edge). The network's own answer is found on a patch of a few rings of
/// nodes, with this logarithm as pressure on the outermost ring and the flow Q let out at the
/// gate: it shows the radius the gate's nodes act like. For one node of a regular triangular
/// lattice of side l that is 0.162 l (Atkinson and van Steenwijk 1999, Am. J. Phys. 67:486, from
/// memory), of a square one 0.1985 l (Peaceman 1978, SPE J. 18:183). The factor is the one
/// at which they act like the port's.
/// Precondition: the gate has a radius > 0. Returns 1 where no neighbour lies outside the port.
double port_factor(const FillProblem& problem, const Gate& gate, const FlowTriangles& triangles,
                   const PortSites& sites, const FlowNetwork& network);

} // namespace tidemark
