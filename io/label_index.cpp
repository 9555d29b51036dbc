#include "io/label_index.hpp"

#include <algorithm>

namespace tidemark {

std::optional<std::int64_t> LabelIndex::build(const std::vector<std::int64_t>& labels) {
  table_.clear();
  sorted_.clear();
  if (labels.empty()) {
    return std::nullopt;
  }
  const auto [lowest, highest] = std::ranges::minmax(labels);
  lowest_ = lowest;
  const auto range = static_cast<std::uint64_t>(highest - lowest);
  if (range < 4 * labels.size()) {
    table_.resize(range + 1);
    for (std::size_t i = 0; i < labels.size(); ++i) {
      NodeId& entry = table_[static_cast<std::size_t>(labels[i] - lowest)];
      if (entry.valid()) {
        return labels[i];
      }
      entry = NodeId(i);
    }
    return std::nullopt;
  }
  for (std::size_t i = 0; i < labels.size(); ++i) {
    sorted_.emplace_back(labels[i], NodeId(i));
  }
  std::ranges::sort(sorted_);
  const auto twice = std::ranges::adjacent_find(
      sorted_, [](const auto& a, const auto& b) { return a.first == b.first; });
  return twice == sorted_.end() ? std::nullopt : std::optional(twice->first);
}

NodeId LabelIndex::find(std::int64_t label) const {
  if (!table_.empty()) {
    const std::int64_t position = label - lowest_;
    return position >= 0 && position < static_cast<std::int64_t>(table_.size())
               ? table_[static_cast<std::size_t>(position)]
               : NodeId();
  }
  const auto found =
      std::ranges::lower_bound(sorted_, label, {}, [](const auto& entry) { return entry.first; });
  return found != sorted_.end() && found->first == label ? found->second : NodeId();
}

} // namespace tidemark
