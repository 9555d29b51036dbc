#include "solver/border_points.hpp"

#include "mesh/triangulation.hpp"

#include <algorithm>

namespace tidemark {

namespace {

/// In the middle of the limited edges, but for those that the flow's triangulation made.
std::vector<EdgeSplit> middles_of_limited(const FillProblem& problem, const FlowNetwork& network) {
  const std::vector<std::array<NodeId, 2>> edges = edges_of(triangulate(problem.mesh));
  std::vector<EdgeSplit> splits;
  for (const auto& edge : network.limited) {
    if (std::ranges::binary_search(edges, edge)) {
      splits.push_back({edge, 0.5});
    }
  }
  return splits;
}

} // namespace

std::optional<RefinedProblem> refined_at_borders(const FillProblem& problem, FlowNetwork& network) {
  constexpr int most_rounds = 6;
  constexpr double tolerable = 1e-5; // of the network
  std::optional<RefinedProblem> refined;
  for (int round = 0; round < most_rounds && network.quality.limited_fraction > tolerable;
       ++round) {
    const FillProblem& now = refined ? refined->problem : problem;
    const std::vector<EdgeSplit> splits = middles_of_limited(now, network);
    if (splits.empty() ||
        now.mesh.positions.size() + splits.size() > 2 * problem.mesh.positions.size()) {
      break;
    }
    if (!refined) {
      refined = undivided(problem);
    }
    divide(*refined, splits);
    network = flow_network(refined->problem);
  }
  return refined;
}

} // namespace tidemark
