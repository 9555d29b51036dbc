// Where vents must be, so that no air is shut in.
#pragma once

#include "solver/filling.hpp"

#include <functional>
#include <optional>
#include <vector>

namespace tidemark {

struct VentedFill {
  std::vector<NodeId> vents;        // one node each
  std::optional<FillResult> result; // with these vents and all air without a vent shut in; none if
                                    // the part does not fill even where all air is let out
};

/// Vents in place of the problem's own, at front_pressure, that close on arrival. The first is
/// where the resin comes last when all air is let out; then, as long as a filling ends on shut-in
/// air, one more: of the nodes that stayed dry the one that came last there. In the end each vent
/// but the last is tried without, and dropped if the part fills all the same; so none can be spared
/// alone, but fewer elsewhere might do. result is the filling with those that stay; it is short if
/// a dozen are not enough. goes_on: as a FillWatcher, asked after each step. Throws SolveError.
VentedFill sought_vents(FillProblem problem, const FillOptions& options,
                        const std::function<bool()>& goes_on);

/// A vent at one node as the search makes it; number from 0.
Vent vent_at(const FillProblem& problem, NodeId node, std::size_t number);

} // namespace tidemark
