// The equations of the network: nodes that share one pressure are one unknown, and unknowns are
// numbered outwards from the gates, so that the wet part is nearly a leading block.
#pragma once

#include "solver/flow_network.hpp"

#include <cstdint>
#include <span>
#include <vector>

namespace tidemark {

/// Where an unknown stands in an array with one value for each.
inline std::size_t position(std::int32_t unknown) {
  return static_cast<std::size_t>(unknown);
}

/// Rows of a symmetric matrix with its diagonal apart: (A x)_i = d_i x_i - sum_j c_ij x_j.
struct Stencil {
  std::vector<std::int32_t> first;  // links of row i: first[i] .. first[i + 1]
  std::vector<std::int32_t> upper;  // the first of them with column > i
  std::vector<std::int32_t> column; // ascending within a row
  std::vector<double> link;         // c_ij
  std::vector<double> diagonal;     // d_i
  [[nodiscard]] std::size_t size() const { return diagonal.size(); }

  /// The columns of a row's links.
  [[nodiscard]] std::span<const std::int32_t> neighbours(std::int32_t row) const {
    const auto begin = static_cast<std::size_t>(first[static_cast<std::size_t>(row)]);
    const auto end = static_cast<std::size_t>(first[static_cast<std::size_t>(row) + 1]);
    return std::span(column).subspan(begin, end - begin);
  }

  /// sum_j c_ij x_j
  [[nodiscard]] double gathered(std::size_t row, std::span<const double> x) const {
    double sum = 0;
    for (auto k = static_cast<std::size_t>(first[row]);
         k < static_cast<std::size_t>(first[row + 1]); ++k) {
      sum += link[k] * x[static_cast<std::size_t>(column[k])];
    }
    return sum;
  }
};

/// Lets a body of unknowns grow over the links, breadth first: take(unknown) is asked about each
/// neighbour of each member, and says whether it joins (once, and from then on never again).
template <class Take>
void spread(const Stencil& matrix, std::vector<std::int32_t>& body, Take take) {
  for (std::size_t at = 0; at < body.size(); ++at) {
    const std::size_t i = position(body[at]);
    for (std::int32_t k = matrix.first[i]; k < matrix.first[i + 1]; ++k) {
      if (const std::int32_t neighbour = matrix.column[position(k)]; take(neighbour)) {
        body.push_back(neighbour);
      }
    }
  }
}

/// Nodes of a gate that share one pressure whether it is open or not: all of one that is always
/// open, or of a round port, whose mouth joins them; of any other that is shut for a time each by
/// itself, since it joins nothing then.
struct Seat {
  std::size_t gate;
  std::vector<NodeId> nodes; // one at least
};

std::vector<Seat> seats_of(std::span<const Gate> gates);

/// Unknown s is seat s of the gates. The other nodes that any gate can reach follow, outwards from
/// the gates; nodes no gate can reach have no unknown. The seats of all open gates of one pump
/// share its pressure: the first of them stands for all (its root), the others then have no row.
struct FlowSystem {
  static constexpr std::int32_t unreachable = -1;
  Stencil matrix;                // zero row sums; conductances at unit viscosity [m3]
  std::vector<double> volume;    // pore volume of each unknown [m3]; 0 of a seat tied to another
  PerNode<std::int32_t> unknown; // of each node, or unreachable
  std::vector<NodeId> order;     // all reachable nodes: the gates' in turn, then the others
  std::vector<Seat> seats;
  std::vector<double> unit_link; // as assembled, once scale_links has scaled the matrix [m3]
  [[nodiscard]] std::size_t size() const { return volume.size(); }
};

/// The system with each seat an unknown of its own.
FlowSystem flow_system(const FlowNetwork& network, std::span<const Gate> gates);

/// Number of the connected body each unknown belongs to, counted from 0, of those unknowns for
/// which belongs(unknown) holds; -1 of the others.
template <class Belongs>
std::vector<std::int32_t> connected_bodies(const Stencil& matrix, Belongs belongs) {
  std::vector<std::int32_t> body_of(matrix.size(), -1);
  std::int32_t name = 0;
  const auto joins = [&](std::int32_t unknown) {
    std::int32_t& body = body_of[position(unknown)];
    const bool is_new = body < 0 && belongs(unknown);
    body = is_new ? name : body;
    return is_new;
  };
  std::vector<std::int32_t> members;
  for (std::size_t i = 0; i < matrix.size(); ++i) {
    if (const auto start = static_cast<std::int32_t>(i); joins(start)) {
      members.assign(1, start);
      spread(matrix, members, joins);
      ++name;
    }
  }
  return body_of;
}

/// The same of all unknowns but those without row.
std::vector<std::int32_t> connected_bodies(const FlowSystem& system);

/// Assembles the rows anew with seat s standing with seat root[s] (itself, or a seat before it that
/// stands for itself). Numbers of unknowns stay.
void tie_seats(FlowSystem& system, const FlowNetwork& network, std::span<const std::int32_t> root);

/// Scales the rows to viscosities that differ from place to place: the conductance of the link of
/// unknowns i and j becomes factor(i, j) = factor(j, i) times the one assembled.
template <class Factor> void scale_links(FlowSystem& system, const Factor& factor) {
  Stencil& matrix = system.matrix;
  if (system.unit_link.empty()) {
    system.unit_link = matrix.link;
  }
  for (std::size_t i = 0; i < matrix.diagonal.size(); ++i) {
    matrix.diagonal[i] = 0;
    for (std::int32_t k = matrix.first[i]; k < matrix.first[i + 1]; ++k) {
      const double part = factor(static_cast<std::int32_t>(i), matrix.column[position(k)]);
      matrix.link[position(k)] = system.unit_link[position(k)] * part;
      matrix.diagonal[i] += matrix.link[position(k)];
    }
  }
}

} // namespace tidemark
