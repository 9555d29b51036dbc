// The cells of channels, whose equations are solved exactly along them.
#pragma once

#include "solver/flow_system.hpp"

#include <cstdint>
#include <span>
#include <vector>

namespace tidemark {

/// Rows of channels between which the links form no loop, so that a matrix has no fill when they
/// are eliminated from the ends inwards: solving them costs two sweeps.
class ChannelForest {
public:
  /// Takes of the channels' rows those that close no loop with the ones before them.
  void set_up(const Stencil& matrix, std::span<const std::uint8_t> is_channel);

  /// Eliminates those for which is_active(row) holds, but for any that leaves no positive diagonal
  /// in rounded numbers. The matrix is that of set_up, but for its diagonal.
  template <class IsActive> void follow(const Stencil& matrix, IsActive is_active) {
    active_.clear();
    for (std::size_t k = 0; k < rows_.size(); ++k) {
      if (is_active(rows_[k])) {
        active_.push_back(k);
      }
    }
    eliminate(matrix);
  }

  /// The rows last eliminated.
  [[nodiscard]] std::span<const std::int32_t> rows() const { return active_rows_; }
  [[nodiscard]] bool has(std::int32_t row) const { return place_[position(row)] >= 0; }
  /// Of a row that it has, in rows().
  [[nodiscard]] std::size_t place(std::int32_t row) const {
    return position(place_[position(row)]);
  }

  /// In place: x = A^-1 x on rows(), in their order.
  void solve(std::span<double> x) const;

private:
  void eliminate(const Stencil& matrix);

  std::vector<std::int32_t> rows_;   // outer ones before those they hang on
  std::vector<std::int32_t> parent_; // place in rows_, or -1
  std::vector<double> link_;         // to it
  std::vector<std::size_t> active_;  // places in rows_
  std::vector<std::int32_t> active_rows_;
  std::vector<std::int32_t> place_;         // of each row of the matrix in active_rows_, or -1
  std::vector<std::int32_t> active_parent_; // place in active_rows_, or -1
  std::vector<double> factor_, inverse_;    // link and 1 over what is left of the diagonal
};

} // namespace tidemark
