// Smoothed-aggregation multigrid as a preconditioner for the wet part of the network.
#pragma once

#include "solver/flow_system.hpp"

#include <Eigen/Cholesky>
#include <Eigen/SparseCore>

#include <cstdint>
#include <span>
#include <vector>

namespace tidemark {

struct MultigridOptions {
  double strong = 0.08;       // a link is strong when c_ij >= strong * sqrt(d_i d_j)
  double smoothing = 2.0 / 3; // omega in P = (I - omega D^-1 A) P0; D^-1 A has spectrum in [0, 2]
  std::size_t coarsest = 80;  // unknowns at which a dense factorisation takes over
};

/// One V-cycle with a forward Gauss-Seidel sweep down and a backward sweep up: a symmetric
/// operator, fit for conjugate gradients. The hierarchy is built for one set of active unknowns
/// and may be applied to another: unknowns outside the first are then smoothed only, unknowns
/// outside the second left out, so it serves while the front moves on a few layers.
class Multigrid {
public:
  explicit Multigrid(MultigridOptions options = {}) : options_(options) {}

  /// Builds the hierarchy for the rows of matrix in active (ascending), all others held at zero.
  void set_up(const Stencil& matrix, std::span<const std::int32_t> active);

  /// z = M r on active (ascending). Precondition: z is zero outside active, and has matrix.size()
  /// values, as has r.
  void apply(const Stencil& matrix, std::span<const std::int32_t> active, std::span<const double> r,
             std::span<double> z);

private:
  using Matrix = Eigen::SparseMatrix<double, Eigen::RowMajor, std::int32_t>;

  /// A level below the finest.
  struct Level {
    Stencil matrix;
    std::vector<std::int32_t> rows; // all of them
    std::vector<double> r, z;
  };

  void cycle(std::size_t level, const Stencil& matrix, std::span<const std::int32_t> active,
             std::span<const double> r, std::span<double> z);
  void solve_coarsest();

  MultigridOptions options_;
  std::vector<std::int32_t>
      local_; // row of prolongation_[0] for an unknown of the finest level, or -1
  std::vector<Matrix> prolongation_; // [l]: from level l + 1 to level l
  std::vector<Level> levels_;        // [l]: level l + 1
  Eigen::LLT<Eigen::MatrixXd> coarsest_;
};

} // namespace tidemark
