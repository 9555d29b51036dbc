#include "solver/last_filled.hpp"

#include "mesh/adjacency.hpp"
#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <span>

namespace tidemark {

namespace {

/// Union-find over nodes; the root of a set is the node of the latest fill time.
class Hills {
public:
  explicit Hills(std::size_t count) : parent_(count) {
    std::iota(parent_.begin(), parent_.end(), 0);
  }
  std::size_t root(std::size_t i) {
    while (parent_[i] != i) {
      parent_[i] = parent_[parent_[i]];
      i = parent_[i];
    }
    return i;
  }
  void put_under(std::size_t lower, std::size_t higher) { parent_[lower] = higher; }

private:
  std::vector<std::size_t> parent_;
};

/// Neighbours of each node: joined by the network or by an edge of the user's mesh. Where a link of
/// the network was set to zero, along a free edge say, the nodes are neighbours all the same.
struct Neighbours {
  std::vector<std::size_t> first; // those of node i: first[i] .. first[i + 1]
  std::vector<NodeId> nodes;
  [[nodiscard]] std::span<const NodeId> of(std::size_t i) const {
    return {nodes.data() + first[i], first[i + 1] - first[i]};
  }
};

Neighbours neighbours_of(const ShellMesh& mesh, const FlowNetwork& network) {
  std::vector<std::array<NodeId, 2>> pairs;
  for (const auto& [a, b] : element_edges(mesh).nodes) {
    pairs.push_back({a, b});
    pairs.push_back({b, a});
  }
  const std::size_t count = network.pore_volume.size();
  for (std::size_t i = 0; i < count; ++i) {
    for (std::size_t k = network.first[i]; k < network.first[i + 1]; ++k) {
      pairs.push_back({NodeId(i), network.neighbour[k]});
    }
  }
  std::ranges::sort(pairs);
  pairs.erase(std::unique(pairs.begin(), pairs.end()), pairs.end());
  Neighbours result{std::vector<std::size_t>(count + 1, 0), {}};
  for (const auto& [a, b] : pairs) {
    ++result.first[a.position() + 1];
    result.nodes.push_back(b);
  }
  std::partial_sum(result.first.begin(), result.first.end(), result.first.begin());
  return result;
}

/// Nodes from the latest to the earliest, with those never reached first.
std::vector<std::size_t> from_latest(const std::vector<double>& times) {
  std::vector<std::size_t> order(times.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::ranges::stable_sort(order, std::ranges::greater{}, [&](std::size_t i) { return times[i]; });
  return order;
}

/// Each time, but at a local maximum that of the node's latest neighbour: there the time is when
/// the cell is full, half a cell after the front passed its node, which would lift any ripple.
std::vector<double> without_summits(const Neighbours& neighbours,
                                    const std::vector<double>& times) {
  std::vector<double> result = times;
  for (std::size_t i = 0; i < times.size(); ++i) {
    double latest = neighbours.of(i).empty() ? times[i] : 0;
    for (const NodeId neighbour : neighbours.of(i)) {
      latest = std::max(latest, times[neighbour.position()]);
    }
    result[i] = std::min(times[i], latest);
  }
  return result;
}

} // namespace

PerNode<RegionId> node_regions(const FillProblem& problem) {
  PerNode<RegionId> regions(problem.mesh.positions.size());
  for (const ElementId id : problem.mesh.elements.ids()) {
    for (const NodeId node : problem.mesh.elements[id].corners()) {
      regions[node] = regions[node].valid() ? regions[node] : problem.element_region[id];
    }
  }
  return regions;
}

std::vector<LastFilled> last_filled_places(const FillProblem& problem, const FlowNetwork& network,
                                           const PerNode<double>& fill_time, double least_rise) {
  std::vector<double> times = fill_time.values();
  for (double& time : times) {
    time = std::isnan(time) ? std::numeric_limits<double>::infinity() : time;
  }
  const std::vector<std::size_t> order = from_latest(times);
  std::vector<std::size_t> rank(times.size());
  for (std::size_t k = 0; k < order.size(); ++k) {
    rank[order[k]] = k;
  }
  const Neighbours neighbours = neighbours_of(problem.mesh, network);
  const std::vector<double> heights = without_summits(neighbours, times);
  Hills hills(times.size());
  std::vector<std::size_t> peaks;
  // A hill ends where it meets a higher one: at that saddle it counts if it rose far enough.
  for (const std::size_t i : order) {
    for (const NodeId neighbour : neighbours.of(i)) {
      const std::size_t j = neighbour.position();
      std::size_t one = hills.root(i);
      std::size_t two = hills.root(j);
      if (rank[j] > rank[i] || one == two) {
        continue;
      }
      if (rank[one] < rank[two]) {
        std::swap(one, two);
      }
      if (std::isfinite(times[one]) && heights[one] - times[i] > least_rise) {
        peaks.push_back(one);
      }
      hills.put_under(one, two);
    }
  }
  for (std::size_t i = 0; i < times.size(); ++i) { // the highest hill of each connected piece
    if (hills.root(i) == i && std::isfinite(times[i]) && times[i] > 0) {
      peaks.push_back(i);
    }
  }
  std::ranges::sort(peaks, {}, [&](std::size_t i) { return rank[i]; });
  const PerNode<RegionId> regions = node_regions(problem);
  std::vector<LastFilled> places;
  for (const std::size_t i : peaks) {
    places.push_back({NodeId(i), times[i], regions[NodeId(i)]});
  }
  return places;
}

std::vector<DrySpot> dry_places(const FillProblem& problem, const FlowNetwork& network,
                                const PerNode<double>& fill_fraction, const PerNode<NodeAir>& air) {
  const auto is_dry = [&](std::size_t i) { return fill_fraction[NodeId(i)] < full_fraction; };
  const std::size_t count = fill_fraction.size();
  const PerNode<RegionId> regions = node_regions(problem);
  const auto& positions = problem.mesh.positions;
  const Neighbours neighbours = neighbours_of(problem.mesh, network);
  std::vector<bool> seen(count, false);
  std::vector<DrySpot> spots;
  for (std::size_t start = 0; start < count; ++start) {
    if (seen[start] || !is_dry(start)) {
      continue;
    }
    std::vector<std::size_t> piece{start};
    seen[start] = true;
    double volume = 0;
    Vector3 centre = Vector3::Zero();
    for (std::size_t at = 0; at < piece.size(); ++at) {
      const std::size_t i = piece[at];
      const double empty = (1 - fill_fraction[NodeId(i)]) * network.pore_volume[NodeId(i)];
      volume += empty;
      centre += empty * positions[NodeId(i)];
      for (const NodeId neighbour : neighbours.of(i)) {
        const std::size_t j = neighbour.position();
        const bool is_same_air = air[neighbour].piece == air[NodeId(i)].piece;
        if (!seen[j] && is_dry(j) && is_same_air) {
          seen[j] = true;
          piece.push_back(j);
        }
      }
    }
    centre /= volume;
    const NodeId nearest(*std::ranges::min_element(
        piece, {}, [&](std::size_t i) { return (positions[NodeId(i)] - centre).squaredNorm(); }));
    const auto& [pressure, sealed_at, number] = air[nearest];
    spots.push_back({positions[nearest], volume, pressure, regions[nearest], sealed_at.has_value(),
                     sealed_at.value_or(0),
                     sealed_at ? 2 * (pressure + problem.ambient) - problem.ambient : 0});
  }
  std::ranges::stable_sort(spots, std::ranges::greater{}, &DrySpot::volume);
  return spots;
}

} // namespace tidemark
