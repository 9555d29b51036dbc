#include "solver/gate_search.hpp"

#include "mesh/edge_lines.hpp"
#include "mesh/surface_distance.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

namespace tidemark {

namespace {

using GoesOn = std::function<bool()>;

/// What the search of layouts of several gates works with.
struct Ground {
  const FillProblem& problem;
  const FactoredPart& part;
  const RankedPlaces& places;
  const SearchLimits& limits;
  const GoesOn& goes_on;
  LayoutSearch search;
};

const Vector3& position_of(const FillProblem& problem, const RankedPlaces& places,
                           std::size_t place) {
  return problem.mesh.positions[places.sites[place].middle];
}

bool all_apart(const RankedPlaces& places, const std::vector<std::size_t>& gates) {
  for (std::size_t a = 0; a < gates.size(); ++a) {
    for (std::size_t b = a + 1; b < gates.size(); ++b) {
      if (!are_apart(places.sites[gates[a]], places.sites[gates[b]])) {
        return false;
      }
    }
  }
  return true;
}

bool is_better(const Layout& one, const Layout& other) {
  return one.w != other.w ? one.w < other.w : one.gates < other.gates;
}

/// The best of the layouts that are apart from each other.
std::vector<Layout> apart_ones(const FillProblem& problem, const RankedPlaces& places,
                               std::vector<Layout> layouts, double apart, std::size_t most) {
  std::ranges::sort(layouts, is_better);
  std::vector<Layout> taken;
  for (const Layout& layout : layouts) {
    const bool is_new = std::ranges::none_of(taken, [&](const Layout& earlier) {
      return earlier.gates == layout.gates ||
             distance_between(problem, places, earlier, layout) < apart;
    });
    if (is_new && taken.size() < most) {
      taken.push_back(layout);
    }
  }
  return taken;
}

/// Of the layouts that grow from `begun` by places from `next` on; only the best few thousand stay.
void enumerate(const Ground& ground, std::size_t places, std::vector<std::size_t>& begun,
               std::size_t next, std::vector<Layout>& found) {
  constexpr std::size_t most_kept = 4000;
  if (begun.size() == ground.limits.count) {
    found.push_back({begun, estimated_w(ground.search, begun)});
    if (found.size() > 2 * most_kept) {
      std::ranges::sort(found, is_better);
      found.resize(most_kept);
    }
    return;
  }
  for (std::size_t place = next; place < places && ground.goes_on(); ++place) {
    begun.push_back(place);
    if (all_apart(ground.places, begun)) {
      enumerate(ground, places, begun, place + 1, found);
    }
    begun.pop_back();
  }
}

/// How far the first places leave any other alone [m].
double spacing_of(const Ground& ground, std::size_t first) {
  double largest = 0;
  for (std::size_t place = 0; place < ground.places.sites.size(); ++place) {
    double nearest = std::numeric_limits<double>::infinity();
    for (std::size_t other = 0; other < first; ++other) {
      nearest = std::min(nearest, (position_of(ground.problem, ground.places, place) -
                                   position_of(ground.problem, ground.places, other))
                                      .norm());
    }
    largest = std::max(largest, nearest);
  }
  return largest;
}

/// The best that comes of moving one gate to a place within reach [m].
Layout moved_gate(const Ground& ground, const Layout& layout, std::size_t gate, double reach) {
  Layout best = layout;
  const Vector3& from = position_of(ground.problem, ground.places, layout.gates[gate]);
  for (std::size_t place = 0; place < ground.places.sites.size() && ground.goes_on(); ++place) {
    if ((position_of(ground.problem, ground.places, place) - from).norm() > reach ||
        std::ranges::find(layout.gates, place) != layout.gates.end()) {
      continue;
    }
    Layout tried = layout;
    tried.gates[gate] = place;
    if (!all_apart(ground.places, tried.gates)) {
      continue;
    }
    std::ranges::sort(tried.gates);
    tried.w = estimated_w(ground.search, tried.gates);
    best = is_better(tried, best) ? tried : best;
  }
  return best;
}

Layout improved(const Ground& ground, Layout layout, double reach) {
  constexpr int most_rounds = 30;
  for (int round = 0; round < most_rounds; ++round) {
    Layout best = layout;
    for (std::size_t gate = 0; gate < layout.gates.size(); ++gate) {
      const Layout moved = moved_gate(ground, layout, gate, reach);
      best = is_better(moved, best) ? moved : best;
    }
    if (!is_better(best, layout)) {
      break;
    }
    layout = best;
  }
  return layout;
}

double exact_w(const FactoredPart& part, const RankedPlaces& places, const Layout& layout) {
  std::vector<GateSite> sites;
  for (const std::size_t gate : layout.gates) {
    sites.push_back(places.sites[gate]);
  }
  return layout_time(part, sites).largest_w;
}

std::vector<Layout> layouts_of_several(const Ground& ground) {
  const SearchLimits& limits = ground.limits;
  const std::size_t most = limits.count == 2 ? 300 : 70;
  const std::size_t first = std::min(most, ground.places.sites.size());
  std::vector<Layout> found;
  std::vector<std::size_t> begun;
  enumerate(ground, first, begun, 0, found);
  const std::size_t wanted = limits.best + 5;
  std::vector<Layout> seeds =
      apart_ones(ground.problem, ground.places, std::move(found), limits.apart, wanted);
  const double reach = 2 * spacing_of(ground, first);
  std::vector<Layout> layouts = seeds;
  for (const Layout& seed : seeds) {
    layouts.push_back(improved(ground, seed, reach));
  }
  layouts = apart_ones(ground.problem, ground.places, std::move(layouts), limits.apart, wanted);
  for (Layout& layout : layouts) {
    layout.w = exact_w(ground.part, ground.places, layout);
  }
  return layouts;
}

} // namespace

std::vector<NodeId> sample_nodes(const FillProblem& problem, const FactoredPart& part,
                                 std::span<const NodeId> middles, std::size_t most) {
  std::set<NodeId> sample(middles.begin(), middles.end());
  for (const auto& edge : free_edges(problem.mesh)) {
    sample.insert(edge.begin(), edge.end());
  }
  const std::size_t left = most > sample.size() ? most - sample.size() : 1;
  const std::size_t step = std::max<std::size_t>(1, part.nodes.size() / left);
  for (std::size_t i = 0; i < part.nodes.size(); i += step) {
    sample.insert(part.nodes[i]);
  }
  std::erase_if(sample, [&](NodeId node) { return part.unknown[node] < 0; });
  return {sample.begin(), sample.end()};
}

double distance_between(const FillProblem& problem, const RankedPlaces& places, const Layout& one,
                        const Layout& other) {
  double longest = 0;
  for (const auto& [from, to] : {std::pair(&one, &other), std::pair(&other, &one)}) {
    for (const std::size_t a : from->gates) {
      double nearest = std::numeric_limits<double>::infinity();
      for (const std::size_t b : to->gates) {
        nearest = std::min(
            nearest, (position_of(problem, places, a) - position_of(problem, places, b)).norm());
      }
      longest = std::max(longest, nearest);
    }
  }
  return longest;
}

std::vector<Layout> best_layouts(const FillProblem& problem, const FactoredPart& part,
                                 const RankedPlaces& places, const SearchLimits& limits,
                                 const GoesOn& goes_on) {
  std::vector<Layout> layouts;
  if (limits.count == 1) {
    for (std::size_t place = 0; place < places.sites.size(); ++place) {
      layouts.push_back({{place}, places.gates[place].time.largest_w});
    }
  } else {
    std::vector<double> z;
    for (const NodeId node : places.sample) {
      z.push_back(part.z[part.unknown[node]]);
    }
    layouts = layouts_of_several(
        {problem, part, places, limits, goes_on, {part, places.gates, z, places.sample_of_gate}});
  }
  return apart_ones(problem, places, std::move(layouts), limits.apart, limits.best);
}

} // namespace tidemark
