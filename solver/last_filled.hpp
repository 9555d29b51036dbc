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

/// Connected places not full, largest first. air_pressure: gauge, of the air at each node [Pa];
/// is_sealed: above 1/2 where it has no way out.
std::vector<DrySpot> dry_places(const FillProblem& problem, const FlowNetwork& network,
                                const PerNode<double>& fill_fraction,
                                const PerNode<double>& air_pressure,
                                const PerNode<double>& is_sealed);

/// Region of the first element at each node.
PerNode<RegionId> node_regions(const FillProblem& problem);

} // namespace tidemark
