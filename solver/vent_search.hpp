// Where vents must be, so that no air is shut in.
#pragma once

#include "solver/filling.hpp"

#include <cstddef>
#include <functional>
#include <optional>
#include <vector>

namespace tidemark {

struct VentedFill {
  std::vector<NodeId> vents;        // one node each
  std::optional<FillResult> result; // with these vents and all air without a vent shut in; none if
                                    // the part does not fill even where all air is let out
  std::size_t trials = 0;           // fillings the search took, known ones among them
  bool was_cut_off = false;         // by goes_on: more vents may be needed, or fewer do
};

/// What the search needs to know of one of its fillings.
struct VentTrial {
  std::vector<NodeId> vents; // none: all air is let out
  ShortReason reason;        // none: the part fills
  NodeId next;               // where one more vent belongs; not valid if nowhere
};

/// Fillings of a search that were done before, by their number from 0, and what takes those that
/// are done now. Known fillings are not done again but for two: with all air let out, if one more
/// vent is to be placed, and the last.
struct VentTrialBook {
  std::function<std::optional<VentTrial>(std::size_t number)> known;
  std::function<void(std::size_t number, const VentTrial& trial)> done;
};

inline constexpr std::size_t most_vents_sought = 12;
/// Of one search: with all air let out, with one vent to all, without each but the last.
inline constexpr std::size_t most_vent_trials = 2 * most_vents_sought;

/// Vents in place of the problem's own, at front_pressure, that close on arrival. The first is
/// where the resin comes last when all air is let out; then, as long as a filling ends on shut-in
/// air, one more: of the nodes that stayed dry the one that came last there. In the end each vent
/// but the last is tried without, and dropped if the part fills all the same; so none can be spared
/// alone, but fewer elsewhere might do. result is the filling with those that stay; it is short if
/// a dozen are not enough. goes_on: as a FillWatcher, asked after each step. The book may be empty.
/// Precondition: no gate waits for a vent. Throws SolveError and what the book throws.
VentedFill sought_vents(FillProblem problem, const FillOptions& options,
                        const std::function<bool()>& goes_on, const VentTrialBook& book = {});

/// A vent at one node as the search makes it; number from 0. No gate has its name.
Vent vent_at(const FillProblem& problem, NodeId node, std::size_t number);

/// Vents as the search makes them, one at each of the nodes, in place of the problem's own.
/// Precondition: no gate waits for a vent.
void put_vents(FillProblem& problem, const std::vector<NodeId>& nodes);

} // namespace tidemark
