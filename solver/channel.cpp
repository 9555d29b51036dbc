#include "solver/channel.hpp"

#include "mesh/adjacency.hpp"
#include "mesh/error.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <iterator>
#include <utility>

namespace tidemark {

namespace {

/// Mean cavity thickness of the elements at an edge [m].
double mean_thickness(const FillProblem& problem, const EdgeList& edges,
                      const std::array<NodeId, 2>& segment) {
  const auto elements = edges.elements_between(segment[0], segment[1]);
  if (elements.empty()) {
    const auto& [low, high] = std::minmax(segment[0], segment[1]);
    throw InputError("nodes " + std::to_string(problem.mesh.node_labels[low]) + " and " +
                     std::to_string(problem.mesh.node_labels[high]) +
                     " are not joined by an edge of the mesh");
  }
  double sum = 0;
  for (const ElementId element : elements) {
    sum += reinforcement_at(problem, element).thickness;
  }
  return sum / static_cast<double>(elements.size());
}

std::pair<NodeId, NodeId> nodes_of(const LinkTerm& term) {
  return {term.from, term.to};
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

std::vector<std::array<NodeId, 2>> channel_edges(const FillProblem& problem) {
  std::vector<std::array<NodeId, 2>> edges;
  for (const Channel& channel : problem.channels) {
    for (const auto& [a, b] : channel.segments) {
      edges.push_back({std::min(a, b), std::max(a, b)});
    }
  }
  std::ranges::sort(edges);
  return edges;
}

void sort_by_nodes(std::vector<LinkTerm>& terms) {
  std::ranges::stable_sort(terms, {}, nodes_of);
}

void add_channels(const FillProblem& problem, PerNode<double>& pore_volume,
                  std::vector<LinkTerm>& terms) {
  std::vector<LinkTerm> added;
  for (const Channel& channel : problem.channels) {
    assert(channel.area.size() == channel.segments.size());
    assert(channel.permeability.size() == channel.segments.size());
    for (std::size_t segment = 0; segment < channel.segments.size(); ++segment) {
      const auto& [a, b] = channel.segments[segment];
      const double length = checked_length(problem, channel, segment);
      const double half = 0.5 * channel.area[segment] * length;
      const double conductance = channel.permeability[segment] * channel.area[segment] / length;
      pore_volume[a] += half;
      pore_volume[b] += half;
      added.push_back({a, b, conductance});
      added.push_back({b, a, conductance});
    }
  }
  if (!added.empty()) {
    sort_by_nodes(added);
    std::vector<LinkTerm> all;
    all.reserve(terms.size() + added.size());
    std::ranges::merge(terms, added, std::back_inserter(all), {}, nodes_of, nodes_of);
    terms = std::move(all);
  }
}

} // namespace tidemark
