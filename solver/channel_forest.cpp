#include "solver/channel_forest.hpp"

#include <algorithm>
#include <numeric>
#include <utility>

namespace tidemark {

namespace {

constexpr std::int32_t none = -1;
constexpr double least_pivot = 1e-10; // of the diagonal [-]

/// Names of trees that grow together.
class Trees {
public:
  explicit Trees(std::size_t size) : up_(size) { std::iota(up_.begin(), up_.end(), 0); }
  std::int32_t of(std::int32_t row) {
    while (up_[position(row)] != row) {
      row = std::exchange(up_[position(row)], up_[position(up_[position(row)])]);
    }
    return row;
  }
  void join(std::int32_t a, std::int32_t b) { up_[position(of(a))] = of(b); }

private:
  std::vector<std::int32_t> up_;
};

std::vector<std::uint8_t> without_loops(const Stencil& matrix,
                                        std::span<const std::uint8_t> is_channel) {
  std::vector<std::uint8_t> is_taken(matrix.size(), 0);
  Trees trees(matrix.size());
  std::vector<std::int32_t> beside; // trees
  for (std::size_t i = 0; i < matrix.size(); ++i) {
    if (!is_channel[i]) {
      continue;
    }
    const auto row = static_cast<std::int32_t>(i);
    beside.clear();
    for (const std::int32_t j : matrix.neighbours(row)) {
      if (is_taken[position(j)]) {
        beside.push_back(trees.of(j));
      }
    }
    std::ranges::sort(beside);
    if (std::ranges::adjacent_find(beside) == beside.end()) { // else it closes a loop
      is_taken[i] = 1;
      std::ranges::for_each(beside, [&](std::int32_t tree) { trees.join(tree, row); });
    }
  }
  return is_taken;
}

} // namespace

void ChannelForest::set_up(const Stencil& matrix, std::span<const std::uint8_t> is_channel) {
  rows_.clear();
  parent_.clear();
  link_.clear();
  active_.clear();
  active_rows_.clear();
  place_.assign(matrix.size(), none);
  std::vector<std::uint8_t> is_left = without_loops(matrix, is_channel);
  for (std::size_t i = 0; i < is_left.size(); ++i) {
    if (!std::exchange(is_left[i], 0)) {
      continue;
    }
    rows_.push_back(static_cast<std::int32_t>(i));
    parent_.push_back(none);
    link_.push_back(0);
    for (std::size_t at = rows_.size() - 1; at < rows_.size(); ++at) {
      const std::size_t row = position(rows_[at]);
      for (std::int32_t k = matrix.first[row]; k < matrix.first[row + 1]; ++k) {
        const std::int32_t j = matrix.column[position(k)];
        if (std::exchange(is_left[position(j)], 0)) {
          rows_.push_back(j);
          parent_.push_back(static_cast<std::int32_t>(at));
          link_.push_back(matrix.link[position(k)]);
        }
      }
    }
  }
  std::ranges::reverse(rows_);
  std::ranges::reverse(parent_);
  std::ranges::reverse(link_);
  const auto last = static_cast<std::int32_t>(rows_.size()) - 1;
  for (std::int32_t& parent : parent_) {
    parent = parent == none ? none : last - parent;
  }
}

void ChannelForest::eliminate(const Stencil& matrix) {
  for (const std::int32_t row : active_rows_) {
    place_[position(row)] = none;
  }
  active_rows_.clear();
  active_parent_.clear();
  factor_.clear();
  inverse_.clear();
  for (const std::size_t k : active_) {
    place_[position(rows_[k])] = static_cast<std::int32_t>(active_rows_.size());
    active_rows_.push_back(rows_[k]);
    inverse_.push_back(matrix.diagonal[position(rows_[k])]);
  }
  for (std::size_t n = 0; n < active_.size(); ++n) {
    const std::int32_t parent = parent_[active_[n]];
    const std::int32_t place = parent == none ? none : place_[position(rows_[position(parent)])];
    const double link = link_[active_[n]];
    if (!(inverse_[n] > least_pivot * matrix.diagonal[position(active_rows_[n])])) {
      active_.erase(active_.begin() + static_cast<std::ptrdiff_t>(n));
      eliminate(matrix);
      return;
    }
    inverse_[n] = 1 / inverse_[n];
    active_parent_.push_back(place);
    factor_.push_back(place == none ? 0 : link);
    if (place != none) {
      inverse_[position(place)] -= link * link * inverse_[n];
    }
  }
}

void ChannelForest::solve(std::span<double> x) const {
  for (std::size_t n = 0; n < x.size(); ++n) {
    x[n] *= inverse_[n];
    if (active_parent_[n] != none) {
      x[position(active_parent_[n])] += factor_[n] * x[n];
    }
  }
  for (std::size_t n = x.size(); n-- > 0;) {
    if (active_parent_[n] != none) {
      x[n] += factor_[n] * inverse_[n] * x[position(active_parent_[n])];
    }
  }
}

} // namespace tidemark
