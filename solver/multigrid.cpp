#include "solver/multigrid.hpp"

#include "mesh/error.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <utility>

namespace tidemark {

namespace {

constexpr std::int32_t none = -1;
constexpr double coarsest_rise = 1e-10; // of the coarsest matrix's diagonal [-]
constexpr Eigen::Index most_coarsest = 4000;
constexpr double most_others = 0.02; // links that have become strong or weak, of all [-]

/// take(j, k) for each link k of a row, to j.
template <class Take> void for_links(const Stencil& matrix, std::size_t row, Take take) {
  for (std::size_t k = position(matrix.first[row]); k < position(matrix.first[row + 1]); ++k) {
    take(position(matrix.column[k]), k);
  }
}

/// For each link whether it is at least a part of what scale(i, j) of its rows says.
template <class Scale>
std::vector<std::uint8_t> links_above(const Stencil& matrix, double part, Scale scale) {
  std::vector<std::uint8_t> result(matrix.link.size(), 0);
  for (std::size_t i = 0; i < matrix.size(); ++i) {
    for_links(matrix, i, [&](std::size_t j, std::size_t k) {
      result[k] = matrix.link[k] >= part * scale(i, j) ? 1 : 0;
    });
  }
  return result;
}

std::vector<std::uint8_t> strong_links(const Stencil& matrix, double strong) {
  return links_above(matrix, strong, [&](std::size_t i, std::size_t j) {
    return std::sqrt(matrix.diagonal[i] * matrix.diagonal[j]);
  });
}

/// Links a row leans on: a cell beside a channel on the channel, not the channel on it.
std::vector<std::uint8_t> leading_links(const Stencil& matrix, double leading) {
  return links_above(matrix, leading,
                     [&](std::size_t i, std::size_t) { return matrix.diagonal[i]; });
}

/// Aggregates of strongly linked unknowns: first whole neighbourhoods, then what is left joins a
/// neighbouring aggregate, then the rest among itself. Returns the aggregate of each row.
std::vector<std::int32_t> aggregates(const Stencil& matrix,
                                     const std::vector<std::uint8_t>& is_strong) {
  std::vector<std::int32_t> of(matrix.size(), none);
  std::int32_t count = 0;
  const auto for_strong_links = [&](std::size_t i, auto take) {
    for_links(matrix, i, [&](std::size_t j, std::size_t k) {
      if (is_strong[k]) {
        take(j, matrix.link[k]);
      }
    });
  };
  for (std::size_t i = 0; i < of.size(); ++i) {
    bool is_free = of[i] == none;
    bool is_alone = true;
    for_strong_links(i, [&](std::size_t j, double) {
      is_free = is_free && of[j] == none;
      is_alone = false;
    });
    if (is_free && !is_alone) {
      of[i] = count;
      for_strong_links(i, [&](std::size_t j, double) { of[j] = count; });
      ++count;
    }
  }
  std::vector<std::pair<std::size_t, std::int32_t>> joining; // row, aggregate
  for (std::size_t i = 0; i < of.size(); ++i) {
    double strongest = 0;
    std::int32_t best = none;
    for_strong_links(i, [&](std::size_t j, double c) {
      if (of[j] != none && c > strongest) {
        strongest = c;
        best = of[j];
      }
    });
    if (of[i] == none && best != none) {
      joining.emplace_back(i, best);
    }
  }
  for (const auto& [row, aggregate] : joining) {
    of[row] = aggregate;
  }
  for (std::size_t i = 0; i < of.size(); ++i) {
    if (of[i] == none) {
      of[i] = count;
      for_strong_links(i, [&](std::size_t j, double) { of[j] = of[j] == none ? count : of[j]; });
      ++count;
    }
  }
  return of;
}

double linked(const Stencil& matrix, std::int32_t begin, std::int32_t end,
              std::span<const double> x) {
  double sum = 0;
  for (auto k = position(begin); k < position(end); ++k) {
    sum += matrix.link[k] * x[position(matrix.column[k])];
  }
  return sum;
}

/// Numbers in the order they are first named.
class DistinctNumbers {
public:
  explicit DistinctNumbers(std::size_t end) : is_in_(end, 0) {}
  void add(std::int32_t number) {
    if (!is_in_[position(number)]) {
      is_in_[position(number)] = 1;
      numbers_.push_back(number);
    }
  }
  void clear() {
    for (const std::int32_t number : numbers_) {
      is_in_[position(number)] = 0;
    }
    numbers_.clear();
  }
  std::vector<std::int32_t>& numbers() { return numbers_; }

private:
  std::vector<std::uint8_t> is_in_;
  std::vector<std::int32_t> numbers_;
};

} // namespace

// --- a level -----------------------------------------------------------------------------------

/// Where the prolongation P = (I - omega D^-1 A) P0 may have values; P0 is constant on each
/// aggregate.
void Multigrid::Level::collect_prolongation(const Stencil& above) {
  const std::size_t size = position(std::ranges::max(aggregate) + 1);
  first.assign(1, 0);
  first_support.assign(size + 1, 0);
  std::vector<std::int32_t> beside;
  for (std::size_t i = 0; i < above.size(); ++i) {
    beside.assign(1, aggregate[i]);
    for_links(above, i, [&](std::size_t j, std::size_t k) {
      if (leads[k] && std::ranges::find(beside, aggregate[j]) == beside.end()) {
        beside.push_back(aggregate[j]);
      }
    });
    std::ranges::sort(beside);
    for (const std::int32_t a : beside) {
      ++first_support[position(a) + 1];
    }
    column.insert(column.end(), beside.begin(), beside.end());
    first.push_back(static_cast<std::int32_t>(column.size()));
  }
  weight.resize(column.size());
  std::partial_sum(first_support.begin(), first_support.end(), first_support.begin());
  support.resize(column.size());
  std::vector<std::int32_t> next = first_support;
  for (std::size_t i = 0; i < above.size(); ++i) {
    for (std::int32_t k = first[i]; k < first[i + 1]; ++k) {
      support[position(next[position(column[position(k)])]++)] = {static_cast<std::int32_t>(i), k};
    }
  }
}

/// Where the Galerkin product P^T A P may have values.
void Multigrid::Level::collect_matrix(const Stencil& above) {
  const std::size_t size = first_support.size() - 1;
  matrix.first.push_back(0);
  matrix.diagonal.resize(size);
  DistinctNumbers beside(size);
  const auto add_all = [&](std::size_t i) {
    for (std::int32_t k = first[i]; k < first[i + 1]; ++k) {
      beside.add(column[position(k)]);
    }
  };
  for (std::size_t a = 0; a < size; ++a) {
    beside.clear();
    for (std::int32_t at = first_support[a]; at < first_support[a + 1]; ++at) {
      const std::size_t i = position(support[position(at)].first);
      add_all(i);
      for_links(above, i, [&](std::size_t j, std::size_t) { add_all(j); });
    }
    std::vector<std::int32_t>& columns = beside.numbers();
    std::ranges::sort(columns);
    for (const std::int32_t b : columns) {
      if (position(b) != a) {
        matrix.column.push_back(b);
      }
    }
    const auto begin = matrix.column.begin() + matrix.first[a];
    matrix.upper.push_back(static_cast<std::int32_t>(
        std::upper_bound(begin, matrix.column.end(), static_cast<std::int32_t>(a)) -
        matrix.column.begin()));
    matrix.first.push_back(static_cast<std::int32_t>(matrix.column.size()));
  }
  matrix.link.resize(matrix.column.size());
  r.resize(size);
  z.resize(size);
}

double& Multigrid::Level::weight_of(std::size_t row, std::int32_t aggregate_beside) {
  std::int32_t k = first[row];
  while (column[position(k)] != aggregate_beside) {
    ++k;
  }
  return weight[position(k)];
}

/// A row of the prolongation. Weak links are added to the diagonal, so that row sums stay.
void Multigrid::Level::renew_weights(const Stencil& above, std::span<const double> diagonal,
                                     std::size_t row, double smoothing) {
  std::fill(weight.begin() + first[row], weight.begin() + first[row + 1], 0.0);
  const double whole = diagonal[row];
  if (!(whole > 0)) {
    return;
  }
  double weak = 0;
  for_links(above, row, [&](std::size_t j, std::size_t k) {
    weak += !leads[k] && diagonal[j] > 0 ? above.link[k] : 0;
  });
  // Never down to nothing: a row all of whose links are weak keeps its diagonal.
  const double part = smoothing / std::max(whole - weak, 0.1 * whole);
  weight_of(row, aggregate[row]) += 1 - smoothing;
  for_links(above, row, [&](std::size_t j, std::size_t k) {
    if (leads[k] && diagonal[j] > 0) {
      weight_of(row, aggregate[j]) += part * above.link[k];
    }
  });
}

/// A row of the Galerkin product.
void Multigrid::Level::renew_row(const Stencil& above, std::span<const double> diagonal,
                                 std::size_t row) {
  z[row] = 0; // z gathers the row
  for_links(matrix, row, [&](std::size_t b, std::size_t) { z[b] = 0; });
  const auto add = [&](std::size_t j, double amount) {
    for (std::int32_t k = first[j]; k < first[j + 1]; ++k) {
      z[position(column[position(k)])] += amount * weight[position(k)];
    }
  };
  for (std::int32_t at = first_support[row]; at < first_support[row + 1]; ++at) {
    const std::size_t i = position(support[position(at)].first);
    const double part = weight[position(support[position(at)].second)];
    if (part != 0) {
      add(i, part * diagonal[i]);
      for_links(above, i, [&](std::size_t j, std::size_t k) { add(j, -part * above.link[k]); });
    }
  }
  matrix.diagonal[row] = z[row];
  for_links(matrix, row, [&](std::size_t b, std::size_t k) { matrix.link[k] = -z[b]; });
}

/// Rows of the Galerkin product that hang on the rows given of the matrix or of the prolongation.
std::vector<std::int32_t>
Multigrid::Level::rows_below(const Stencil& above, std::span<const std::int32_t> changed) const {
  DistinctNumbers near(above.size());
  for (const std::int32_t i : changed) {
    near.add(i);
    for_links(above, position(i),
              [&](std::size_t j, std::size_t) { near.add(static_cast<std::int32_t>(j)); });
  }
  DistinctNumbers below(matrix.size());
  for (const std::int32_t i : near.numbers()) {
    for (std::int32_t k = first[position(i)]; k < first[position(i) + 1]; ++k) {
      below.add(column[position(k)]);
    }
  }
  return std::move(below.numbers());
}

/// Brings the level up to date with changed rows above, whose diagonal is given, 0 where nothing is
/// active. Returns the rows that have changed here.
std::vector<std::int32_t> Multigrid::Level::renew(const Stencil& above,
                                                  std::span<const double> diagonal,
                                                  std::span<const std::int32_t> changed,
                                                  double smoothing) {
  for (const std::int32_t i : changed) {
    renew_weights(above, diagonal, position(i), smoothing);
  }
  std::vector<std::int32_t> changed_here = rows_below(above, changed);
  for (const std::int32_t a : changed_here) {
    renew_row(above, diagonal, position(a));
  }
  rows.clear();
  for (std::size_t a = 0; a < matrix.size(); ++a) {
    if (matrix.diagonal[a] > 0) {
      rows.push_back(static_cast<std::int32_t>(a));
    }
  }
  return changed_here;
}

// --- the border ---------------------------------------------------------------------------------

void Multigrid::Border::clear() {
  links.clear();
  block.resize(0, 0);
  r.resize(0);
  z.resize(0);
}

bool Multigrid::Border::factorise() {
  factors.emplace(block);
  return factors->info() == Eigen::Success;
}

/// z = r + C^T x, x the values of the rows.
void Multigrid::Border::gather(std::span<const double> beside) {
  z = r;
  for (const Link& link : links) {
    z[link.unknown] += link.conductance * beside[position(link.row)];
  }
}

/// What its unknowns are beside given values of the rows.
void Multigrid::Border::balance(std::span<const double> beside) {
  gather(beside);
  if (z.size() > 0) {
    factors->solveInPlace(z);
  }
}

/// take(row, links) for each row that has any.
template <class Take> void Multigrid::Border::for_rows(Take take) const {
  for (std::size_t begin = 0; begin < links.size();) {
    std::size_t end = begin + 1;
    while (end < links.size() && links[end].row == links[begin].row) {
      ++end;
    }
    take(position(links[begin].row), std::span(links).subspan(begin, end - begin));
    begin = end;
  }
}

/// The border here from that above: with S = omega D^-1 C the lift there and T = C - A S, links
/// P^T T and a block less S^T (C + T).
void Multigrid::Level::renew_border(const Stencil& above, std::span<const double> diagonal,
                                    Border& border_above, double smoothing) {
  for (Border::Link& link : border_above.links) {
    link.lift = smoothing * link.conductance / diagonal[position(link.row)];
  }
  border.links.clear();
  border.block = border_above.block;
  std::vector<double> flow(above.size(), 0.0); // C + T of one unknown
  std::vector<double> here(matrix.size(), 0.0);
  DistinctNumbers rows_above(above.size());
  DistinctNumbers rows_here(matrix.size());
  for (std::int32_t unknown = 0; unknown < border.block.cols(); ++unknown) {
    const auto add = [&](std::size_t row, double amount) {
      flow[row] += amount;
      rows_above.add(static_cast<std::int32_t>(row));
    };
    for (const Border::Link& link : border_above.links) {
      if (link.unknown == unknown) {
        const std::size_t i = position(link.row);
        add(i, (1 - smoothing) * link.conductance);
        for_links(above, i, [&](std::size_t j, std::size_t k) {
          if (diagonal[j] > 0) {
            add(j, above.link[k] * link.lift);
          }
        });
      }
    }
    for (const std::int32_t row : rows_above.numbers()) {
      for (std::int32_t k = first[position(row)]; k < first[position(row) + 1]; ++k) {
        here[position(column[position(k)])] += weight[position(k)] * flow[position(row)];
        rows_here.add(column[position(k)]);
      }
    }
    for (const std::int32_t row : rows_here.numbers()) {
      const double conductance = std::exchange(here[position(row)], 0.0);
      if (conductance != 0 && matrix.diagonal[position(row)] > 0) {
        border.links.push_back({{row, unknown, conductance}, 0});
      }
    }
    for (const Border::Link& link : border_above.links) {
      if (link.unknown == unknown) {
        add(position(link.row), link.conductance);
      }
    }
    for (const Border::Link& link : border_above.links) {
      border.block(link.unknown, unknown) -= link.lift * flow[position(link.row)];
    }
    for (const std::int32_t row : rows_above.numbers()) {
      flow[position(row)] = 0;
    }
    rows_above.clear();
    rows_here.clear();
  }
  border.block = (border.block + border.block.transpose()).eval() / 2;
  std::ranges::sort(border.links, {},
                    [](const Border::Link& link) { return std::pair(link.row, link.unknown); });
}

// --- the hierarchy -----------------------------------------------------------------------------

/// Whether it can go on with its aggregates.
bool Multigrid::suits(const Stencil& matrix) const {
  if (levels_.empty() || matrix.first != first_ || matrix.column != column_) {
    return false;
  }
  const std::vector<std::uint8_t> is_strong = strong_links(matrix, options_.strong);
  const std::vector<std::uint8_t> leads = leading_links(matrix, options_.leading);
  std::size_t others = 0;
  for (std::size_t k = 0; k < is_strong.size(); ++k) {
    const bool is_other = is_strong[k] != is_strong_[k] || leads[k] != levels_.front().leads[k];
    others += is_other ? 1 : 0;
  }
  return static_cast<double>(others) <= most_others * static_cast<double>(is_strong.size());
}

/// What is active is not known any more: the next call of follow makes everything anew.
void Multigrid::forget() {
  std::ranges::fill(diagonal_, std::numeric_limits<double>::quiet_NaN());
}

void Multigrid::set_up(const Stencil& matrix) {
  diagonal_.resize(matrix.size());
  forget();
  if (suits(matrix)) {
    return;
  }
  first_ = matrix.first;
  column_ = matrix.column;
  is_strong_ = strong_links(matrix, options_.strong);
  levels_.clear();
  bool is_stuck = false;
  do { // even a small network gets one coarse level: the finest level only ever smooths
    const Stencil& above = levels_.empty() ? matrix : levels_.back().matrix;
    Level level;
    level.aggregate = aggregates(above, strong_links(above, options_.strong));
    level.leads = leading_links(above, options_.leading);
    level.collect_prolongation(above);
    level.collect_matrix(above);
    std::vector<std::int32_t> all(above.size());
    std::iota(all.begin(), all.end(), 0);
    level.renew(above, above.diagonal, all, options_.smoothing);
    is_stuck = 10 * level.matrix.size() > 9 * above.size();
    levels_.push_back(std::move(level));
  } while (!is_stuck && levels_.back().matrix.size() > options_.coarsest);
}

/// Keeps the diagonal of the active rows. Returns those that have another diagonal, and the
/// neighbours of those that have joined or left: their prolongation knows of them.
std::vector<std::int32_t> Multigrid::take_over(const Stencil& matrix,
                                               std::span<const std::int32_t> active) {
  std::vector<double> diagonal(matrix.size(), 0.0);
  for (const std::int32_t i : active) {
    diagonal[position(i)] = matrix.diagonal[position(i)];
  }
  diagonal_.swap(diagonal);
  DistinctNumbers changed(matrix.size());
  for (std::size_t i = 0; i < matrix.size(); ++i) {
    if (diagonal_[i] != diagonal[i]) {
      changed.add(static_cast<std::int32_t>(i));
      if ((diagonal_[i] > 0) != (diagonal[i] > 0)) {
        for_links(matrix, i,
                  [&](std::size_t j, std::size_t) { changed.add(static_cast<std::int32_t>(j)); });
      }
    }
  }
  return std::move(changed.numbers());
}

bool Multigrid::follow(const Stencil& matrix, std::span<const std::int32_t> active) {
  forget_border();
  std::vector<std::int32_t> changed = take_over(matrix, active);
  if (changed.empty()) {
    return false;
  }
  const Stencil* above = &matrix;
  std::span<const double> diagonal = diagonal_;
  for (Level& level : levels_) {
    changed = level.renew(*above, diagonal, changed, options_.smoothing);
    above = &level.matrix;
    diagonal = level.matrix.diagonal;
  }
  factorise_coarsest();
  return true;
}

void Multigrid::factorise_coarsest() {
  const Level& level = levels_.back();
  const auto size = static_cast<Eigen::Index>(level.rows.size());
  if (size > most_coarsest) {
    forget();
    throw SolveError("the multigrid hierarchy does not coarsen: the network's conductances are too "
                     "far apart");
  }
  Eigen::MatrixXd dense(size, size);
  std::vector<double> row(level.matrix.size(), 0.0);
  for (Eigen::Index i = 0; i < size; ++i) {
    const std::size_t a = position(level.rows[static_cast<std::size_t>(i)]);
    row[a] = level.matrix.diagonal[a];
    for_links(level.matrix, a,
              [&](std::size_t b, std::size_t k) { row[b] = -level.matrix.link[k]; });
    for (Eigen::Index j = 0; j < size; ++j) {
      dense(i, j) = std::exchange(row[position(level.rows[static_cast<std::size_t>(j)])], 0.0);
    }
  }
  coarsest_.compute(dense);
  if (coarsest_.info() != Eigen::Success) {
    // Columns of a prolongation may depend on each other where little is active, and a body that
    // hardly any link joins to what is held is singular by rounding. Not else: what has hardly any
    // way out would be corrected far too little.
    dense.diagonal() *= 1 + coarsest_rise;
    coarsest_.compute(dense);
  }
  if (coarsest_.info() != Eigen::Success) {
    forget();
    throw SolveError("the coarsest multigrid matrix is not positive definite");
  }
}

void Multigrid::forget_border() {
  border_.clear();
  for (Level& level : levels_) {
    level.border.clear();
  }
}

bool Multigrid::set_border(const Stencil& matrix, std::span<const BorderLink> links,
                           const Eigen::VectorXd& diagonal) {
  border_.links.clear();
  for (const BorderLink& link : links) {
    border_.links.push_back({link, 0});
  }
  border_.block = diagonal.asDiagonal();
  const Stencil* above = &matrix;
  std::span<const double> diagonal_above = diagonal_;
  Border* border = &border_;
  bool is_definite = border_.factorise();
  for (Level& level : levels_) {
    level.renew_border(*above, diagonal_above, *border, options_.smoothing);
    above = &level.matrix;
    diagonal_above = level.matrix.diagonal;
    border = &level.border;
    is_definite = is_definite && border->factorise();
  }
  if (!is_definite || !factorise_border()) {
    forget_border();
    return false;
  }
  return true;
}

/// The border of the coarsest matrix, its rows eliminated.
bool Multigrid::factorise_border() {
  const Level& level = levels_.back();
  const Border& border = level.border;
  std::vector<Eigen::Index> place(level.matrix.size(), 0);
  for (std::size_t a = 0; a < level.rows.size(); ++a) {
    place[position(level.rows[a])] = static_cast<Eigen::Index>(a);
  }
  Eigen::MatrixXd links =
      Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(level.rows.size()), border.block.cols());
  for (const Border::Link& link : border.links) {
    links(place[position(link.row)], link.unknown) = link.conductance;
  }
  answers_ = coarsest_.solve(links);
  schur_.compute(border.block - links.transpose() * answers_);
  return schur_.info() == Eigen::Success;
}

void Multigrid::apply(const Stencil& matrix, std::span<const std::int32_t> active,
                      std::span<double> r, std::span<double> z, Eigen::VectorXd& border) {
  kept_.clear();
  for (const Border::Link& link : border_.links) {
    kept_.push_back(r[position(link.row)]);
  }
  border_.r = border;
  cycle(0, matrix, active, border_, r, z);
  border = border_.z;
  for (std::size_t k = 0; k < kept_.size(); ++k) {
    r[position(border_.links[k].row)] = kept_[k];
  }
}

void Multigrid::cycle(std::size_t depth, const Stencil& matrix,
                      std::span<const std::int32_t> active, Border& border, std::span<double> r,
                      std::span<double> z) {
  Level& coarse = levels_[depth];
  for (const std::int32_t i : active) { // forward sweep from zero: only the lower part counts
    const std::size_t row = position(i);
    z[row] =
        (r[row] + linked(matrix, matrix.first[row], matrix.upper[row], z)) / matrix.diagonal[row];
  }
  border.balance(z);
  std::ranges::fill(coarse.r, 0.0);
  const auto restrict_to_coarse = [&](std::size_t row, double left) {
    for (std::int32_t k = coarse.first[row]; k < coarse.first[row + 1]; ++k) {
      coarse.r[position(coarse.column[position(k)])] += coarse.weight[position(k)] * left;
    }
  };
  for (const std::int32_t i : active) { // what that sweep leaves is the upper part times z
    const std::size_t row = position(i);
    restrict_to_coarse(row, linked(matrix, matrix.upper[row], matrix.first[row + 1], z));
  }
  coarse.border.r.setZero(border.r.size());
  const auto from_border = [&](std::span<const Border::Link> links) {
    double sum = 0;
    for (const Border::Link& link : links) {
      sum += link.conductance * border.z[link.unknown];
    }
    return sum;
  };
  border.for_rows([&](std::size_t row, std::span<const Border::Link> links) {
    const double more = from_border(links);
    restrict_to_coarse(row, more);
    const double left = more + linked(matrix, matrix.upper[row], matrix.first[row + 1], z);
    for (const Border::Link& link : links) {
      coarse.border.r[link.unknown] += link.lift * left;
    }
  });
  std::ranges::fill(coarse.z, 0.0);
  if (depth + 1 == levels_.size()) {
    solve_coarsest();
  } else {
    cycle(depth + 1, coarse.matrix, coarse.rows, coarse.border, coarse.r, coarse.z);
  }
  for (const std::int32_t i : active) {
    const std::size_t row = position(i);
    for (std::int32_t k = coarse.first[row]; k < coarse.first[row + 1]; ++k) {
      z[row] += coarse.weight[position(k)] * coarse.z[position(coarse.column[position(k)])];
    }
  }
  for (const Border::Link& link : border.links) {
    z[position(link.row)] += link.lift * coarse.border.z[link.unknown];
  }
  border.balance(z);
  border.for_rows(
      [&](std::size_t row, std::span<const Border::Link> links) { r[row] += from_border(links); });
  for (std::size_t at = active.size(); at-- > 0;) { // backward sweep
    const std::size_t row = position(active[at]);
    z[row] = (r[row] + linked(matrix, matrix.first[row], matrix.first[row + 1], z)) /
             matrix.diagonal[row];
  }
}

void Multigrid::solve_coarsest() {
  Level& level = levels_.back();
  Eigen::VectorXd x(static_cast<Eigen::Index>(level.rows.size()));
  for (Eigen::Index i = 0; i < x.size(); ++i) {
    x[i] = level.r[position(level.rows[static_cast<std::size_t>(i)])];
  }
  x = coarsest_.solve(x);
  const auto put = [&] {
    for (Eigen::Index i = 0; i < x.size(); ++i) {
      level.z[position(level.rows[static_cast<std::size_t>(i)])] = x[i];
    }
  };
  put();
  if (Border& border = level.border; border.r.size() > 0) {
    border.gather(level.z);
    schur_.solveInPlace(border.z);
    x += answers_ * border.z;
    put();
  }
}

} // namespace tidemark
