// Whether the mesh beside a runner or race track is fine enough for the front in it.
#pragma once

#include "solver/fill_problem.hpp"

#include <string>
#include <vector>

namespace tidemark {

/// The pores of the laminate that fill together with a channel, since the half of each element
/// beside it belongs to the nodes it runs along:
///   f = 1 + sum(porosity * thickness * s / 2 * l) / sum(A l)
/// over the channel's segments of length l and cross-section A and the elements at each, of the
/// size s across it. The front in a channel that is much faster than the laminate is late by f.
struct ChannelDelay {
  double factor = 1; // f, 1 or more [-]
  double across = 0; // mean s, weighted by porosity * thickness * l [m]; 0 if no element is there
};

/// Throws InputError if a segment is not an edge of the mesh.
ChannelDelay channel_delay(const FillProblem& problem, const Channel& channel);

/// For each channel with f above 1.25, how late the front in it comes, and the size of the elements
/// across it that would bring f to 1.1 (limits: own choice). The first runners channels are
/// runners, the others race tracks.
std::vector<std::string> channel_notes(const FillProblem& problem, std::size_t runners);

} // namespace tidemark
