// Smoothed-aggregation multigrid as a preconditioner for the wet part of the network.
#pragma once

#include "solver/flow_system.hpp"

#include <Eigen/Cholesky>

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace tidemark {

struct MultigridOptions {
  double strong = 0.08;       // a link is strong when c_ij >= strong * sqrt(d_i d_j)
  double leading = 0.06;      // a row of P takes links with c_ij >= leading * d_i
  double smoothing = 2.0 / 3; // omega in P = (I - omega D^-1 A) P0; D^-1 A has spectrum in [0, 2]
  std::size_t coarsest = 80;  // unknowns at which a dense factorisation takes over
};

/// A link of a row and an unknown of the border.
struct BorderLink {
  std::int32_t row;
  std::int32_t unknown;
  double conductance;
};

/// One V-cycle with a forward Gauss-Seidel sweep down and a backward sweep up: a symmetric
/// operator, fit for conjugate gradients. Aggregates are those of the whole network; prolongations
/// and coarse matrices are those of its active part, and are brought up to date only near what has
/// changed, so that the hierarchy can follow the front at little cost. Unknowns that are linked to
/// many rows, such as pockets of air, are the border of the matrix, [A, -C; -C^T, D]: they stay
/// unknowns of every level, P lifts the rows beside one by omega D^-1 C, and each sweep over the
/// rows meets an exact solve for them.
class Multigrid {
public:
  explicit Multigrid(MultigridOptions options = {}) : options_(options) {}

  /// Finds the aggregates, or keeps those it has if the pattern is the same and hardly any link has
  /// become strong or weak.
  void set_up(const Stencil& matrix);

  /// Makes the hierarchy that of the rows in active (ascending, not empty), all others held at
  /// zero. The matrix is that of set_up, but for its diagonal, which is positive on active. There
  /// is no border then. Returns whether anything is new to it. Throws SolveError if its coarsest
  /// matrix is not positive definite or too large, aggregates not getting fewer; what was active is
  /// then forgotten.
  bool follow(const Stencil& matrix, std::span<const std::int32_t> active);

  /// Gives the matrix of the last call of follow a border: the diagonal of its unknowns, and their
  /// links to active rows, ascending by rows, of a row and an unknown one at most. Returns whether
  /// its blocks on every level, and what is left of the coarsest without the rows, are positive
  /// definite; else there is none.
  bool set_border(const Stencil& matrix, std::span<const BorderLink> links,
                  const Eigen::VectorXd& diagonal);

  /// z = M r on active, both those of the last call of follow, and the same in place for the
  /// border's unknowns. Precondition: z is zero outside active, and has matrix.size() values, as
  /// has r, which is as before in the end.
  void apply(const Stencil& matrix, std::span<const std::int32_t> active, std::span<double> r,
             std::span<double> z, Eigen::VectorXd& border);
  void apply(const Stencil& matrix, std::span<const std::int32_t> active, std::span<double> r,
             std::span<double> z) {
    Eigen::VectorXd none;
    apply(matrix, active, r, z, none);
  }

private:
  struct Border {
    struct Link : BorderLink {
      double lift; // what P takes of the unknown to the row [-]
    };
    std::vector<Link> links; // ascending by rows
    Eigen::MatrixXd block;   // D
    std::optional<Eigen::LLT<Eigen::MatrixXd>> factors;
    Eigen::VectorXd r, z;

    void clear();
    bool factorise();
    void gather(std::span<const double> beside);
    void balance(std::span<const double> beside);
    template <class Take> void for_rows(Take take) const;
  };
  /// A level below the finest, with what leads to it from the one above. Patterns are those of the
  /// whole network; where nothing is active values are zero.
  struct Level {
    std::vector<std::uint8_t> leads;     // each link above
    std::vector<std::int32_t> aggregate; // of each row above: its number here
    // The prolongation, by rows above: those of i are first[i] .. first[i + 1] ...
    std::vector<std::int32_t> first, column;
    std::vector<double> weight;
    // ... and by its columns: row above and place in weight.
    std::vector<std::int32_t> first_support;
    std::vector<std::pair<std::int32_t, std::int32_t>> support;
    Stencil matrix;
    std::vector<std::int32_t> rows; // whose diagonal is above zero: in which something is active
    std::vector<double> r, z;
    Border border;

    void collect_prolongation(const Stencil& above);
    void collect_matrix(const Stencil& above);
    std::vector<std::int32_t> renew(const Stencil& above, std::span<const double> diagonal,
                                    std::span<const std::int32_t> changed, double smoothing);
    void renew_weights(const Stencil& above, std::span<const double> diagonal, std::size_t row,
                       double smoothing);
    void renew_row(const Stencil& above, std::span<const double> diagonal, std::size_t row);
    [[nodiscard]] std::vector<std::int32_t> rows_below(const Stencil& above,
                                                       std::span<const std::int32_t> changed) const;
    void renew_border(const Stencil& above, std::span<const double> diagonal, Border& border_above,
                      double smoothing);
    double& weight_of(std::size_t row, std::int32_t aggregate_beside);
  };

  [[nodiscard]] bool suits(const Stencil& matrix) const;
  std::vector<std::int32_t> take_over(const Stencil& matrix, std::span<const std::int32_t> active);
  void factorise_coarsest();
  void forget();
  void forget_border();
  bool factorise_border();
  void cycle(std::size_t depth, const Stencil& matrix, std::span<const std::int32_t> active,
             Border& border, std::span<double> r, std::span<double> z);
  void solve_coarsest();

  MultigridOptions options_;
  std::vector<std::int32_t> first_, column_; // the pattern of the matrix
  std::vector<std::uint8_t> is_strong_;      // each of its links
  std::vector<double> diagonal_; // of each unknown that is active, else 0; NaN: not known yet
  std::vector<Level> levels_;    // [l]: level l + 1
  Border border_;
  Eigen::LLT<Eigen::MatrixXd> coarsest_; // of the last level's rows in which something is active
  Eigen::MatrixXd answers_;              // of these to a rise of the border's unknowns [-]
  Eigen::LLT<Eigen::MatrixXd> schur_;    // of the border there
  std::vector<double> kept_;             // r at the border's links
};

} // namespace tidemark
