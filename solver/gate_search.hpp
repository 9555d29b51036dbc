// The best layouts of one, two or three gates among places tried.
#pragma once

#include "solver/gate_ranking.hpp"

#include <cstddef>
#include <functional>
#include <span>
#include <vector>

namespace tidemark {

/// Gates by their numbers among the places tried, ascending.
struct Layout {
  std::vector<std::size_t> gates;
  double w = 0; // largest w, exact
};

/// Places with what is kept of each. All lists have one entry per place.
struct RankedPlaces {
  std::vector<GateSite> sites;
  std::vector<RankedGate> gates; // columns at the sample; left empty where single gates are sought
  std::vector<NodeId> sample;
  std::vector<std::size_t> sample_of_gate;
};

/// Nodes at which w is looked at while layouts are sought: the middles of the gates, all nodes on
/// free edges and others spread evenly, some `most` in all.
std::vector<NodeId> sample_nodes(const FillProblem& problem, const FactoredPart& part,
                                 std::span<const NodeId> middles, std::size_t most);

/// How far two layouts are apart [m]: the longest way that a gate of one has to its nearest of the
/// other.
double distance_between(const FillProblem& problem, const RankedPlaces& places, const Layout& one,
                        const Layout& other);

struct SearchLimits {
  std::size_t count; // gates of a layout, 1 to 3
  std::size_t best;  // so many layouts
  double apart;      // at least so far from each other [m]
};

/// The best layouts, by exact fill time, each apart from those before. Of single gates all places
/// are ranked. Two or three: all layouts of the first few hundred (70 of three) places, which must
/// be spread evenly (spread_out), by estimated_w; the best of them are then improved, a gate at a
/// time moved to the best of all places near it, while that helps. goes_on: asked now and then;
/// when it says no the best so far are returned.
std::vector<Layout> best_layouts(const FillProblem& problem, const FactoredPart& part,
                                 const RankedPlaces& places, const SearchLimits& limits,
                                 const std::function<bool()>& goes_on);

} // namespace tidemark
