// Narrow channels on coarse meshes: finer cells beside them, so that the front in them is not late.
//
// The cell of a node on a channel reaches half an element into the laminate, which fills with it.
// Where that is much against the channel's cross-section, the channel's front, which in truth runs
// ahead of what the laminate takes, waits for the laminate. Rows of nodes at a third, a ninth, ...
// of the elements beside the channel make its own cells narrow.
#pragma once

#include "solver/refined_problem.hpp"

#include <optional>
#include <vector>

namespace tidemark {

/// The pores of the laminate that fill together with each channel:
///   f = 1 + sum(porosity * thickness * s / 2 * l) / sum(A l)
/// over its segments of length l and cross-section A and the elements at each, of the
/// size s across it; 1 or more [-]. The front in a channel that is much faster than the laminate is
/// late by f. Beside a segment that is not an edge of the mesh is nothing.
std::vector<double> delays_by_laminate(const FillProblem& problem);

/// The problem with rows of cells beside each channel with f > 1.15, as many as bring it below, but
/// four at most (own choices; the lateness left is some 0.02 to 0.1 where f = 2.3 made it 0.1 to
/// 0.9). Edges of the triangulation that leave a channel's node are split at a third of their
/// length, those from channel to channel in the middle; not at gates, whose cells are full at once.
/// None if no channel needs it.
std::optional<RefinedProblem> refined_beside_channels(const FillProblem& problem);

} // namespace tidemark
