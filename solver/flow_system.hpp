// The equations of the network: nodes that share one pressure are one unknown, and unknowns are
// numbered outwards from the head, so that the wet part is nearly a leading block.
#pragma once

#include "solver/flow_network.hpp"

#include <cstdint>
#include <span>
#include <vector>

namespace tidemark {

/// Rows of a symmetric matrix with its diagonal apart: (A x)_i = d_i x_i - sum_j c_ij x_j.
struct Stencil {
  std::vector<std::int32_t> first;  // links of row i: first[i] .. first[i + 1]
  std::vector<std::int32_t> upper;  // the first of them with column > i
  std::vector<std::int32_t> column; // ascending within a row
  std::vector<double> link;         // c_ij
  std::vector<double> diagonal;     // d_i
  [[nodiscard]] std::size_t size() const { return diagonal.size(); }

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

/// The head (all gates together) is unknown 0. Nodes no gate can reach have no unknown.
struct FlowSystem {
  static constexpr std::int32_t head = 0;
  static constexpr std::int32_t unreachable = -1;
  Stencil matrix;                // zero row sums; conductances at unit viscosity [m3]
  std::vector<double> volume;    // pore volume of each unknown [m3]
  PerNode<std::int32_t> unknown; // of each node, or unreachable
  [[nodiscard]] std::size_t size() const { return volume.size(); }
};

FlowSystem flow_system(const FlowNetwork& network, std::span<const Gate> gates);

} // namespace tidemark
