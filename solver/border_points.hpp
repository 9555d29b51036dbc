// Points on edges of the mesh that the flow network cannot do without.
#pragma once

#include "solver/flow_network.hpp"
#include "solver/refined_problem.hpp"

#include <optional>

namespace tidemark {

/// Where the flow network is limited by more than a hundred-thousandth, the problem with points in
/// the middle of the edges that are: free ones, borders of regions, channels, creases, which stay
/// whatever the flow. With elements drawn out along them, or a permeability at an angle to them,
/// they are too long for what stands across from them, and a link set to zero there lets resin by
/// (a strip of 20 x 1.25 mm elements, K1 = 10 K2 at 45 degrees, filled in half its time). So on
/// until it is not limited, six times over at most, or as long as the nodes are not twice as many
/// (own choices). None where there is nothing to do. network: that of the problem; that of the
/// refined one after.
std::optional<RefinedProblem> refined_at_borders(const FillProblem& problem, FlowNetwork& network);

} // namespace tidemark
