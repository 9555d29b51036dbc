#include "solver/multigrid.hpp"

#include "mesh/error.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace tidemark {

namespace {

using Matrix = Eigen::SparseMatrix<double, Eigen::RowMajor, std::int32_t>;
using Row = Matrix::InnerIterator;

/// The rows and columns of active as a matrix of its own.
Matrix restricted(const Stencil& matrix, std::span<const std::int32_t> active,
                  const std::vector<std::int32_t>& local) {
  const auto size = static_cast<Eigen::Index>(active.size());
  Matrix result(size, size);
  result.reserve(static_cast<Eigen::Index>(8 * active.size()));
  for (Eigen::Index i = 0; i < size; ++i) {
    const auto row = static_cast<std::size_t>(active[static_cast<std::size_t>(i)]);
    result.startVec(i);
    bool with_diagonal = false;
    for (std::int32_t k = matrix.first[row]; k < matrix.first[row + 1]; ++k) {
      const auto at = static_cast<std::size_t>(k);
      const std::int32_t column = local[static_cast<std::size_t>(matrix.column[at])];
      if (column > i && !with_diagonal) {
        result.insertBack(i, i) = matrix.diagonal[row];
        with_diagonal = true;
      }
      if (column >= 0) {
        result.insertBack(i, column) = -matrix.link[at];
      }
    }
    if (!with_diagonal) {
      result.insertBack(i, i) = matrix.diagonal[row];
    }
  }
  result.finalize();
  return result;
}

/// The matrix without its weak links, which are added to the diagonal so that row sums stay.
Matrix without_weak_links(const Matrix& matrix, double strong) {
  const Eigen::VectorXd diagonal = matrix.diagonal();
  Matrix result(matrix.rows(), matrix.cols());
  result.reserve(matrix.nonZeros());
  for (Eigen::Index i = 0; i < matrix.rows(); ++i) {
    result.startVec(i);
    double weak = 0;
    double* own = nullptr;
    for (Row entry(matrix, i); entry; ++entry) {
      if (entry.col() == i) {
        own = &result.insertBack(i, i);
        *own = entry.value();
      } else if (-entry.value() >= strong * std::sqrt(diagonal[i] * diagonal[entry.col()])) {
        result.insertBack(i, entry.col()) = entry.value();
      } else {
        weak += entry.value();
      }
    }
    // Never down to nothing: a row all of whose links are weak keeps its diagonal.
    *own = std::max(*own + weak, 0.1 * *own);
  }
  result.finalize();
  return result;
}

constexpr std::int32_t none = -1;

bool is_alone(const Matrix& strong_links, Eigen::Index row) {
  for (Row entry(strong_links, row); entry; ++entry) {
    if (entry.col() != row) {
      return false;
    }
  }
  return true;
}

/// Aggregates of strongly linked unknowns: first whole neighbourhoods, then what is left joins a
/// neighbouring aggregate, then the rest among itself. Returns the aggregate of each row.
std::vector<std::int32_t> aggregates(const Matrix& strong_links, std::int32_t& count) {
  const Eigen::Index size = strong_links.rows();
  std::vector<std::int32_t> of_row(static_cast<std::size_t>(size), none);
  const auto of = [&](Eigen::Index row) -> std::int32_t& {
    return of_row[static_cast<std::size_t>(row)];
  };
  count = 0;
  for (Eigen::Index i = 0; i < size; ++i) {
    bool free = of(i) == none && !is_alone(strong_links, i);
    for (Row entry(strong_links, i); free && entry; ++entry) {
      free = of(entry.col()) == none;
    }
    if (free) {
      for (Row entry(strong_links, i); entry; ++entry) {
        of(entry.col()) = count;
      }
      ++count;
    }
  }
  std::vector<std::pair<std::int32_t, std::int32_t>> joining; // row, aggregate
  for (Eigen::Index i = 0; i < size; ++i) {
    double strongest = 0;
    std::int32_t best = none;
    for (Row entry(strong_links, i); of(i) == none && entry; ++entry) {
      if (of(entry.col()) != none && -entry.value() > strongest) {
        strongest = -entry.value();
        best = of(entry.col());
      }
    }
    if (best != none) {
      joining.emplace_back(static_cast<std::int32_t>(i), best);
    }
  }
  for (const auto& [row, aggregate] : joining) {
    of(row) = aggregate;
  }
  for (Eigen::Index i = 0; i < size; ++i) {
    if (of(i) != none) {
      continue;
    }
    for (Row entry(strong_links, i); entry; ++entry) {
      of(entry.col()) = of(entry.col()) == none ? count : of(entry.col());
    }
    ++count;
  }
  return of_row;
}

/// P = (I - omega D^-1 A) P0 with P0 constant on each aggregate.
Matrix smoothed_prolongation(const Matrix& strong_links, const std::vector<std::int32_t>& aggregate,
                             std::int32_t count, double omega) {
  const Eigen::Index size = strong_links.rows();
  Matrix result(size, count);
  result.reserve(3 * size);
  const Eigen::VectorXd diagonal = strong_links.diagonal();
  std::vector<std::pair<std::int32_t, double>> row; // column, value
  for (Eigen::Index i = 0; i < size; ++i) {
    row.assign(1, {aggregate[static_cast<std::size_t>(i)], 1.0});
    for (Row entry(strong_links, i); entry; ++entry) {
      const std::int32_t column = aggregate[static_cast<std::size_t>(entry.col())];
      const double value = -omega * entry.value() / diagonal[i];
      const auto same = std::ranges::find(row, column, &std::pair<std::int32_t, double>::first);
      if (same != row.end()) {
        same->second += value;
      } else {
        row.emplace_back(column, value);
      }
    }
    std::ranges::sort(row);
    result.startVec(i);
    for (const auto& [column, value] : row) {
      result.insertBack(i, column) = value;
    }
  }
  result.finalize();
  return result;
}

/// The Galerkin product P^T A P. Written out because it is most of the set-up: the general sparse
/// product sorts every intermediate row, here only the rows of the result are sorted.
Matrix galerkin(const Matrix& a, const Matrix& p) {
  const auto fine = static_cast<std::size_t>(a.rows());
  const auto coarse = static_cast<std::size_t>(p.cols());
  std::vector<std::int32_t> slot(coarse, none); // where a column stands in the present row
  std::vector<std::int32_t> start{0}, column;   // A P
  std::vector<double> value;
  column.reserve(static_cast<std::size_t>(2 * p.nonZeros()));
  value.reserve(static_cast<std::size_t>(2 * p.nonZeros()));
  const auto add = [&](std::int32_t to, double amount) {
    std::int32_t& at = slot[static_cast<std::size_t>(to)];
    if (at < start.back()) { // none yet in this row
      at = static_cast<std::int32_t>(column.size());
      column.push_back(to);
      value.push_back(amount);
    } else {
      value[static_cast<std::size_t>(at)] += amount;
    }
  };
  for (std::size_t i = 0; i < fine; ++i) {
    for (Row link(a, static_cast<Eigen::Index>(i)); link; ++link) {
      for (Row weight(p, link.index()); weight; ++weight) {
        add(weight.index(), link.value() * weight.value());
      }
    }
    start.push_back(static_cast<std::int32_t>(column.size()));
  }
  const Eigen::SparseMatrix<double, Eigen::ColMajor, std::int32_t> by_column(p);
  Matrix result(p.cols(), p.cols());
  result.reserve(10 * p.cols());
  std::ranges::fill(slot, none);
  std::vector<std::pair<std::int32_t, double>> row;
  for (Eigen::Index to = 0; to < p.cols(); ++to) {
    row.clear();
    for (decltype(by_column)::InnerIterator weight(by_column, to); weight; ++weight) {
      const auto i = static_cast<std::size_t>(weight.index());
      for (auto k = static_cast<std::size_t>(start[i]); k < static_cast<std::size_t>(start[i + 1]);
           ++k) {
        std::int32_t& at = slot[static_cast<std::size_t>(column[k])];
        if (at == none) {
          at = static_cast<std::int32_t>(row.size());
          row.emplace_back(column[k], 0.0);
        }
        row[static_cast<std::size_t>(at)].second += weight.value() * value[k];
      }
    }
    for (const auto& entry : row) {
      slot[static_cast<std::size_t>(entry.first)] = none;
    }
    std::ranges::sort(row, {}, &std::pair<std::int32_t, double>::first);
    result.startVec(to);
    for (const auto& [at, amount] : row) {
      result.insertBack(to, at) = amount;
    }
  }
  result.finalize();
  return result;
}

Stencil stencil_of(const Matrix& matrix) {
  Stencil result;
  result.first.push_back(0);
  for (Eigen::Index i = 0; i < matrix.rows(); ++i) {
    std::int32_t upper = static_cast<std::int32_t>(result.column.size());
    for (Row entry(matrix, i); entry; ++entry) {
      if (entry.col() == i) {
        result.diagonal.push_back(entry.value());
        continue;
      }
      result.column.push_back(entry.index());
      result.link.push_back(-entry.value());
      upper += entry.col() < i ? 1 : 0;
    }
    result.upper.push_back(upper);
    result.first.push_back(static_cast<std::int32_t>(result.column.size()));
  }
  return result;
}

double linked(const Stencil& matrix, std::int32_t begin, std::int32_t end,
              std::span<const double> x) {
  double sum = 0;
  for (auto k = static_cast<std::size_t>(begin); k < static_cast<std::size_t>(end); ++k) {
    sum += matrix.link[k] * x[static_cast<std::size_t>(matrix.column[k])];
  }
  return sum;
}

} // namespace

void Multigrid::set_up(const Stencil& matrix, std::span<const std::int32_t> active) {
  local_.assign(matrix.size(), none);
  for (std::size_t i = 0; i < active.size(); ++i) {
    local_[static_cast<std::size_t>(active[i])] = static_cast<std::int32_t>(i);
  }
  prolongation_.clear();
  levels_.clear();
  Matrix fine = restricted(matrix, active, local_);
  do { // even a small wet part gets one coarse level: the finest level only ever smooths
    const Matrix strong_links = without_weak_links(fine, options_.strong);
    std::int32_t count = 0;
    const std::vector<std::int32_t> aggregate = aggregates(strong_links, count);
    prolongation_.push_back(
        smoothed_prolongation(strong_links, aggregate, count, options_.smoothing));
    const Matrix& down = prolongation_.back();
    Matrix coarse = galerkin(fine, down);
    const bool is_stuck = 10 * coarse.rows() > 9 * fine.rows();
    fine.swap(coarse);
    Level& level = levels_.emplace_back();
    level.matrix = stencil_of(fine);
    level.rows.resize(static_cast<std::size_t>(count));
    std::iota(level.rows.begin(), level.rows.end(), 0);
    level.r.resize(static_cast<std::size_t>(count));
    level.z.resize(static_cast<std::size_t>(count));
    if (is_stuck && fine.rows() > 4000) {
      throw SolveError("the multigrid hierarchy does not coarsen: the network's conductances are "
                       "too far apart");
    }
    if (is_stuck) {
      break;
    }
  } while (static_cast<std::size_t>(fine.rows()) > options_.coarsest);
  coarsest_.compute(Eigen::MatrixXd(fine));
  if (coarsest_.info() != Eigen::Success) {
    throw SolveError("the coarsest multigrid matrix is not positive definite");
  }
}

void Multigrid::apply(const Stencil& matrix, std::span<const std::int32_t> active,
                      std::span<const double> r, std::span<double> z) {
  cycle(0, matrix, active, r, z);
}

void Multigrid::cycle(std::size_t depth, const Stencil& matrix,
                      std::span<const std::int32_t> active, std::span<const double> r,
                      std::span<double> z) {
  Level& coarse = levels_[depth];
  const Matrix& prolongation = prolongation_[depth];
  const std::int32_t* start = prolongation.outerIndexPtr();
  const std::int32_t* column = prolongation.innerIndexPtr();
  const double* weight = prolongation.valuePtr();
  const auto local = [&](std::size_t row) {
    return depth == 0 ? local_[row] : static_cast<std::int32_t>(row);
  };
  for (const std::int32_t i : active) { // forward sweep from zero: only the lower part counts
    const auto row = static_cast<std::size_t>(i);
    z[row] =
        (r[row] + linked(matrix, matrix.first[row], matrix.upper[row], z)) / matrix.diagonal[row];
  }
  std::ranges::fill(coarse.r, 0.0);
  for (const std::int32_t i : active) { // what that sweep leaves is the upper part times z
    const auto row = static_cast<std::size_t>(i);
    if (const std::int32_t mine = local(row); mine >= 0) {
      const double left = linked(matrix, matrix.upper[row], matrix.first[row + 1], z);
      for (std::int32_t k = start[mine]; k < start[mine + 1]; ++k) {
        coarse.r[static_cast<std::size_t>(column[k])] += weight[k] * left;
      }
    }
  }
  if (depth + 1 == levels_.size()) {
    solve_coarsest();
  } else {
    std::ranges::fill(coarse.z, 0.0);
    cycle(depth + 1, coarse.matrix, coarse.rows, coarse.r, coarse.z);
  }
  for (const std::int32_t i : active) {
    const auto row = static_cast<std::size_t>(i);
    if (const std::int32_t mine = local(row); mine >= 0) {
      for (std::int32_t k = start[mine]; k < start[mine + 1]; ++k) {
        z[row] += weight[k] * coarse.z[static_cast<std::size_t>(column[k])];
      }
    }
  }
  for (std::size_t at = active.size(); at-- > 0;) { // backward sweep
    const auto row = static_cast<std::size_t>(active[at]);
    z[row] = (r[row] + linked(matrix, matrix.first[row], matrix.first[row + 1], z)) /
             matrix.diagonal[row];
  }
}

void Multigrid::solve_coarsest() {
  Level& level = levels_.back();
  const auto size = static_cast<Eigen::Index>(level.r.size());
  Eigen::Map<Eigen::VectorXd>(level.z.data(), size) =
      coarsest_.solve(Eigen::Map<const Eigen::VectorXd>(level.r.data(), size));
}

} // namespace tidemark
