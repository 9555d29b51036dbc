// Runner channels and race tracks: ways for resin along mesh edges, in parallel to the fibres.
#pragma once

#include "mesh/edge_lines.hpp"
#include "solver/channel_law.hpp"
#include "solver/flow_network.hpp"

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// A channel of one cross-section [m2] and permeability [m2] along its segments.
Channel runner(std::string name, std::vector<std::array<NodeId, 2>> segments, double area,
               double permeability);

/// A gap [m] beside the reinforcement along mesh edges. Its cross-section is gap x h, h the mean
/// cavity thickness of the elements at the edge. Without a permeability [m2] (one measured, say) it
/// is that of a slot as wide as the narrower of gap and h. Throws InputError if a segment is not an
/// edge of the mesh.
Channel race_track(std::string name, const FillProblem& problem,
                   std::vector<std::array<NodeId, 2>> segments, double gap,
                   std::optional<double> permeability);

struct ChannelSize {
  double length; // [m]
  double volume; // [m3]
};

/// All segments of a channel together.
ChannelSize channel_size(const ShellMesh& mesh, const Channel& channel);

/// The segments of all channels, lower node first, ascending.
std::vector<std::array<NodeId, 2>> channel_edges(const FillProblem& problem);

/// Sorts by nodes. Stable, so that both directions of a link sum their terms in the same order and
/// are equal to the last bit.
void sort_by_nodes(std::vector<LinkTerm>& terms);

/// Puts the problem's channels into a network's pore volumes and sorted terms. A segment of length
/// l adds K_c A / l [m3] to the link of its two nodes, or makes that link. Its volume A l goes to
/// its two nodes by halves. Throws InputError for a segment without length, or an area or
/// permeability that is not above zero.
void add_channels(const FillProblem& problem, PerNode<double>& pore_volume,
                  std::vector<LinkTerm>& terms);

} // namespace tidemark
