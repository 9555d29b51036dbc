// The line of a vent with several nodes: they are joined before it, as along a channel full of
// resin.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace tidemark {

/// Which part of a hose each node of a vent has. The pressure behind all of them is one where each
/// has the part of the hose that it has of the flow, since what is lost there is then the same:
/// q_i / (s_i G) = Q / G. Each step has the parts that the flow of the step before asks for.
class SharedHose {
public:
  explicit SharedHose(std::size_t nodes) : part_(nodes, 0.0) {}

  /// Some of the nodes are full of resin, by their places in the vent; those that were not before
  /// get an even part. The parts of all add up to 1.
  void open(std::span<const std::size_t> wet);
  [[nodiscard]] double part(std::size_t node) const { return part_[node]; } // [-]

  /// Fits the parts of the nodes that are open to what left through each [m3]. Returns by how much
  /// the losses differed from that of all, in the mean over the flow [-].
  double fit(std::span<const double> outflow);

private:
  std::vector<double> part_; // 0: no resin yet
};

} // namespace tidemark
