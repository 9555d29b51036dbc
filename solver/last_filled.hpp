// Where the resin arrives last, and where it never came: read off the finished fields.
#pragma once

#include "solver/filling.hpp"
#include "solver/flow_network.hpp"

namespace tidemark {

/// Local maxima of the fill time [s], latest first. A maximum counts if the front would have to go
/// back by at least least_rise [s] before reaching a later one, counted from the node next to it,
/// which leaves out the ripples of a mesh. Nodes never reached (NaN) count as later than any other.
std::vector<LastFilled> last_filled_places(const FillProblem& problem, const FlowNetwork& network,
                                           const PerNode<double>& fill_time, double least_rise);

/// The air at a node that is not full.
struct NodeAir {
  double pressure = 0;                  // gauge [Pa]
  std::optional<double> sealed_at = {}; // since when it has no way out [s]; none: it has one
  std::int32_t piece = -1;              // number of the connected piece of air
};

/// Connected places not full, each in one piece of air, largest first. air: of each node.
std::vector<DrySpot> dry_places(const FillProblem& problem, const FlowNetwork& network,
                                const PerNode<double>& fill_fraction, const PerNode<NodeAir>& air);

/// Region of the first element at each node.
PerNode<RegionId> node_regions(const FillProblem& problem);

} // namespace tidemark
