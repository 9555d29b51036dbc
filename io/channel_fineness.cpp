#include "io/channel_fineness.hpp"

#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/wording.hpp"
#include "mesh/adjacency.hpp"
#include "mesh/error.hpp"
#include "mesh/triangulation.hpp"

#include <algorithm>

namespace tidemark {

namespace {

/// Height of a triangle above the edge, or the mean extent of a quadrilateral beside it [m].
double extent_beside(const ShellMesh& mesh, ElementId element, double length) {
  return (mesh.elements[element].is_quad() ? 1 : 2) * element_area(mesh, element) / length;
}

std::span<const ElementId> elements_at(const EdgeList& edges,
                                       const std::array<NodeId, 2>& segment) {
  const auto [low, high] = std::minmax(segment[0], segment[1]);
  const std::array<NodeId, 2> key{low, high};
  const auto found = std::ranges::lower_bound(edges.nodes, key);
  if (found == edges.nodes.end() || *found != key) {
    throw InputError("found a channel off the edges of the mesh, expected edges of elements");
  }
  return edges.elements_of(static_cast<std::size_t>(found - edges.nodes.begin()));
}

} // namespace

ChannelDelay channel_delay(const FillProblem& problem, const Channel& channel) {
  const EdgeList edges = element_edges(problem.mesh);
  double open = 0;   // room in the channel [m3]
  double beside = 0; // pores that fill with it [m3]
  double weight = 0;
  for (std::size_t k = 0; k < channel.segments.size(); ++k) {
    const auto& segment = channel.segments[k];
    const auto& positions = problem.mesh.positions;
    const double length = (positions[segment[1]] - positions[segment[0]]).norm();
    open += channel.area[k] * length;
    for (const ElementId element : elements_at(edges, segment)) {
      const Reinforcement local = reinforcement_at(problem, element);
      const double pores = local.porosity * local.thickness * length; // per extent across
      beside += pores * extent_beside(problem.mesh, element, length) / 2;
      weight += pores;
    }
  }
  return open > 0 && weight > 0 ? ChannelDelay{1 + beside / open, 2 * beside / weight}
                                : ChannelDelay{};
}

std::vector<std::string> channel_notes(const FillProblem& problem, std::size_t runners) {
  constexpr double tolerable = 1.25;
  constexpr double aim = 1.1;
  std::vector<std::string> notes;
  for (std::size_t i = 0; i < problem.channels.size(); ++i) {
    const ChannelDelay delay = channel_delay(problem, problem.channels[i]);
    if (delay.factor > tolerable) {
      const double size = delay.across * (aim - 1) / (delay.factor - 1);
      notes.push_back("The front in the " + std::string(i < runners ? "runner " : "race track ") +
                      quoted_text(problem.channels[i].name) + " comes up to about " +
                      rough_number(delay.factor) +
                      " times too late: half of each element beside it fills with it. Elements " +
                      as_millimetres(size) + " across instead of " + as_millimetres(delay.across) +
                      " bring that to " + rough_number(aim) + ".");
    }
  }
  return notes;
}

} // namespace tidemark
