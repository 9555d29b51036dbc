#include "mesh/coincident.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>

namespace tidemark {

namespace {

using Cell = std::array<std::int64_t, 3>;

// Points in equal cells are in one chain; so are, harmlessly, a few whose cells share the hash.
class PointGrid {
public:
  PointGrid(const PerNode<Vector3>& positions, double tolerance)
      : positions_(positions), tolerance_(std::max(tolerance, 0.0)), next_(positions.size()),
        heads_(std::bit_ceil(2 * positions.size() + 1)) {
    Vector3 high = Vector3::Zero();
    if (!positions.empty()) {
      low_ = high = positions[NodeId(0)];
    }
    for (const Vector3& position : positions) {
      low_ = low_.cwiseMin(position);
      high = high.cwiseMax(position);
    }
    // The lower bound keeps cell numbers far inside 64 bits.
    const double extent = (high - low_).maxCoeff();
    cell_size_ = std::max(4 * tolerance_, 1e-12 * extent);
  }

  /// The chained point within the tolerance of this one, or an invalid id.
  [[nodiscard]] NodeId find(NodeId node) const {
    const Vector3& position = positions_[node];
    const Vector3 reach = Vector3::Constant(tolerance_);
    const Cell from = cell(position - reach);
    const Cell to = cell(position + reach);
    NodeId found;
    for (std::int64_t x = from[0]; x <= to[0]; ++x) {
      for (std::int64_t y = from[1]; y <= to[1]; ++y) {
        for (std::int64_t z = from[2]; z <= to[2]; ++z) {
          found = earlier(found, find_in({x, y, z}, position));
        }
      }
    }
    return found;
  }

  void insert(NodeId node) {
    NodeId& head = heads_[slot(cell(positions_[node]))];
    next_[node] = head;
    head = node;
  }

private:
  static NodeId earlier(NodeId a, NodeId b) { return !a.valid() || (b.valid() && b < a) ? b : a; }

  [[nodiscard]] Cell cell(const Vector3& position) const {
    if (cell_size_ <= 0) { // every point is at one place
      return {0, 0, 0};
    }
    const Vector3 scaled = (position - low_) / cell_size_;
    return {static_cast<std::int64_t>(std::floor(scaled.x())),
            static_cast<std::int64_t>(std::floor(scaled.y())),
            static_cast<std::int64_t>(std::floor(scaled.z()))};
  }

  [[nodiscard]] std::size_t slot(const Cell& cell) const {
    std::uint64_t hash = 0;
    for (const std::int64_t part : cell) {
      hash = (hash ^ static_cast<std::uint64_t>(part)) * 0x9e3779b97f4a7c15ULL;
      hash ^= hash >> 32;
    }
    return hash & (heads_.size() - 1);
  }

  [[nodiscard]] NodeId find_in(const Cell& cell, const Vector3& position) const {
    NodeId found;
    for (NodeId node = heads_[slot(cell)]; node.valid(); node = next_[node]) {
      if ((positions_[node] - position).norm() <= tolerance_) {
        found = earlier(found, node);
      }
    }
    return found;
  }

  const PerNode<Vector3>& positions_;
  double tolerance_;
  double cell_size_;
  Vector3 low_ = Vector3::Zero();
  PerNode<NodeId> next_;
  std::vector<NodeId> heads_;
};

} // namespace

PerNode<NodeId> first_at_same_place(const PerNode<Vector3>& positions, double tolerance) {
  PointGrid grid(positions, tolerance);
  PerNode<NodeId> first(positions.size());
  for (const NodeId node : positions.ids()) {
    const NodeId earlier = grid.find(node);
    first[node] = earlier.valid() ? earlier : node;
    if (!earlier.valid()) {
      grid.insert(node);
    }
  }
  return first;
}

} // namespace tidemark
