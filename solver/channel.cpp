#include "solver/channel.hpp"

#include "mesh/adjacency.hpp"
#include "mesh/error.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <utility>

namespace tidemark {

namespace {

/// What a channel adds to the link from one node to another.
struct AddedLink {
  NodeId from, to;
  double conductance; // [m3]
};

/// Conductances in both directions, sorted by nodes; each pair of nodes once.
using AddedLinks = std::vector<AddedLink>;

/// Mean cavity thickness of the elements at an edge [m].
double mean_thickness(const FillProblem& problem, const EdgeList& edges,
                      const std::array<NodeId, 2>& segment) {
  const auto [low, high] = std::minmax(segment[0], segment[1]);
  const auto found = std::ranges::lower_bound(edges.nodes, std::array<NodeId, 2>{low, high});
  if (found == edges.nodes.end() || *found != std::array<NodeId, 2>{low, high}) {
    throw InputError("nodes " + std::to_string(problem.mesh.node_labels[low]) + " and " +
                     std::to_string(problem.mesh.node_labels[high]) +
                     " are not joined by an edge of the mesh");
  }
  const auto elements = edges.elements_of(static_cast<std::size_t>(found - edges.nodes.begin()));
  double sum = 0;
  for (const ElementId element : elements) {
    sum += reinforcement_at(problem, element).thickness;
  }
  return sum / static_cast<double>(elements.size());
}

double segment_length(const ShellMesh& mesh, const std::array<NodeId, 2>& segment) {
  return (mesh.positions[segment[0]] - mesh.positions[segment[1]]).norm();
}

double checked_length(const FillProblem& problem, const Channel& channel, std::size_t segment) {
  const double length = segment_length(problem.mesh, channel.segments[segment]);
  if (!(length > 0)) {
    throw InputError("channel \"" + channel.name + "\" has a segment without length at node " +
                     std::to_string(problem.mesh.node_labels[channel.segments[segment][0]]));
  }
  for (const double value : {channel.area[segment], channel.permeability[segment]}) {
    if (!(value > 0) || !std::isfinite(value)) {
      throw InputError("channel \"" + channel.name +
                       "\" has a segment whose cross-section or permeability is not above zero");
    }
  }
  return length;
}

AddedLinks sum_of_equal(AddedLinks links) {
  // Stable: both directions of a link sum their terms in the same order, so c_ij = c_ji exactly.
  std::ranges::stable_sort(links, {}, [](const AddedLink& l) { return std::pair(l.from, l.to); });
  AddedLinks result;
  for (const AddedLink& link : links) {
    if (!result.empty() && result.back().from == link.from && result.back().to == link.to) {
      result.back().conductance += link.conductance;
    } else {
      result.push_back(link);
    }
  }
  return result;
}

/// Merges the links of each node, old and added, both ascending.
void merge_links(const AddedLinks& added, FlowNetwork& network) {
  std::vector<std::size_t> first{0};
  std::vector<NodeId> neighbour;
  std::vector<double> conductance;
  first.reserve(network.first.size());
  neighbour.reserve(network.neighbour.size() + added.size());
  conductance.reserve(network.neighbour.size() + added.size());
  auto next = added.begin();
  const auto add_before = [&](NodeId from, NodeId limit) { // an invalid limit: all that are left
    for (; next != added.end() && next->from == from && (!limit.valid() || next->to < limit);
         ++next) {
      neighbour.push_back(next->to);
      conductance.push_back(next->conductance);
    }
  };
  for (const NodeId node : network.pore_volume.ids()) {
    for (std::size_t k = network.first[node.position()]; k < network.first[node.position() + 1];
         ++k) {
      const NodeId other = network.neighbour[k];
      add_before(node, other);
      const bool is_same = next != added.end() && next->from == node && next->to == other;
      neighbour.push_back(other);
      conductance.push_back(network.conductance[k] + (is_same ? (next++)->conductance : 0));
    }
    add_before(node, NodeId());
    first.push_back(neighbour.size());
  }
  network.first = std::move(first);
  network.neighbour = std::move(neighbour);
  network.conductance = std::move(conductance);
}

} // namespace

Channel runner(std::string name, std::vector<std::array<NodeId, 2>> segments, double area,
               double permeability) {
  const std::size_t count = segments.size();
  return {std::move(name), std::move(segments), std::vector<double>(count, area),
          std::vector<double>(count, permeability)};
}

Channel race_track(std::string name, const FillProblem& problem,
                   std::vector<std::array<NodeId, 2>> segments, double gap,
                   std::optional<double> permeability) {
  const EdgeList edges = element_edges(problem.mesh);
  Channel channel{std::move(name), std::move(segments), {}, {}};
  for (const auto& segment : channel.segments) {
    const double depth = mean_thickness(problem, edges, segment);
    channel.area.push_back(gap * depth);
    channel.permeability.push_back(permeability.value_or(slot_permeability(std::min(gap, depth))));
  }
  return channel;
}

ChannelSize channel_size(const ShellMesh& mesh, const Channel& channel) {
  ChannelSize size{0, 0};
  for (std::size_t segment = 0; segment < channel.segments.size(); ++segment) {
    const double length = segment_length(mesh, channel.segments[segment]);
    size.length += length;
    size.volume += channel.area[segment] * length;
  }
  return size;
}

void add_channels(const FillProblem& problem, FlowNetwork& network) {
  AddedLinks links;
  for (const Channel& channel : problem.channels) {
    assert(channel.area.size() == channel.segments.size());
    assert(channel.permeability.size() == channel.segments.size());
    for (std::size_t segment = 0; segment < channel.segments.size(); ++segment) {
      const auto& [a, b] = channel.segments[segment];
      const double length = checked_length(problem, channel, segment);
      const double half = 0.5 * channel.area[segment] * length;
      const double conductance = channel.permeability[segment] * channel.area[segment] / length;
      network.pore_volume[a] += half;
      network.pore_volume[b] += half;
      links.push_back({a, b, conductance});
      links.push_back({b, a, conductance});
    }
  }
  if (!links.empty()) {
    merge_links(sum_of_equal(std::move(links)), network);
  }
}

} // namespace tidemark
