// Which node a number of the mesh file means.
#pragma once

#include "mesh/index.hpp"

#include <cstdint>
#include <optional>
#include <utility>
#include <vector>

namespace tidemark {

class LabelIndex {
public:
  /// Labels of the nodes in their order, none negative. Returns a label that occurs twice, if any.
  std::optional<std::int64_t> build(const std::vector<std::int64_t>& labels);
  /// The node of the label, or an invalid id.
  [[nodiscard]] NodeId find(std::int64_t label) const;

private:
  std::int64_t lowest_ = 0;
  std::vector<NodeId> table_;                           // by label - lowest, if labels are dense
  std::vector<std::pair<std::int64_t, NodeId>> sorted_; // otherwise
};

} // namespace tidemark
