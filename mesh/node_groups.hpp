// Nodes that are joined into groups step by step.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <algorithm>
#include <cstddef>

namespace tidemark {

/// At first each node is a group of its own. Joining and asking take nearly O(1) on average.
class NodeGroups {
public:
  explicit NodeGroups(std::size_t nodes) : parent_(nodes) {
    for (const NodeId node : parent_.ids()) {
      parent_[node] = node;
    }
  }
  /// The first node of the group.
  NodeId root(NodeId node) {
    while (parent_[node] != node) {
      parent_[node] = parent_[parent_[node]];
      node = parent_[node];
    }
    return node;
  }
  void join(NodeId a, NodeId b) {
    const NodeId one = root(a);
    const NodeId other = root(b);
    parent_[std::max(one, other)] = std::min(one, other);
  }

private:
  PerNode<NodeId> parent_;
};

} // namespace tidemark
