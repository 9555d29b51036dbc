#include "io/scatter_summary.hpp"

#include "io/filling_course.hpp"
#include "solver/last_filled.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

namespace tidemark {

namespace {

struct FigureName {
  const char* key;
  const char* name;
};

/// Of several pumps the highest head counts.
std::array<FigureName, 4> figures_named(const FillProblem& problem) {
  const bool is_one = course_pumps(problem).size() < 2;
  return {{
      {"fill_time_s", "fill time"},
      {"peak_head_pressure_pa", is_one ? "peak at the mixing head" : "peak of the highest head"},
      {"end_head_pressure_pa", is_one ? "mixing head at the end" : "highest head at the end"},
      {"peak_opening_force_n", "force that opens the mould"},
  }};
}

constexpr std::array<double, 5> shares{0.05, 0.25, 0.5, 0.75, 0.95};

bool is_computed(const ScatterSample& sample) {
  return sample.state != SampleState::failed;
}

EventShare share_of(std::size_t events, std::size_t samples) {
  EventShare share{events, samples};
  if (samples > 0) {
    share.share = static_cast<double>(events) / static_cast<double>(samples);
    share.interval = probability_interval(events, samples);
  }
  return share;
}

template <class IsOne>
EventShare share_where(const std::vector<ScatterSample>& samples, const IsOne& is_one) {
  std::size_t events = 0;
  std::size_t computed = 0;
  for (const ScatterSample& sample : samples) {
    computed += is_computed(sample) ? 1 : 0;
    events += is_computed(sample) && is_one(sample) ? 1 : 0;
  }
  return share_of(events, computed);
}

/// A part that fills may open the mould, and a short one too.
std::optional<EventShare> opening_share(const std::optional<Mould>& mould,
                                        const std::vector<ScatterSample>& samples) {
  if (!mould || !(mould->hold_down_force > 0)) {
    return std::nullopt;
  }
  return share_where(samples, [&](const ScatterSample& sample) {
    return sample.peak_force && *sample.peak_force > mould->hold_down_force;
  });
}

std::vector<ShortReasonCount> reasons_of(const std::vector<ScatterSample>& samples) {
  std::vector<ShortReasonCount> reasons;
  for (const ScatterSample& sample : samples) {
    if (sample.state != SampleState::short_fill) {
      continue;
    }
    const auto known = std::ranges::find(reasons, sample.reason, &ShortReasonCount::reason);
    if (known == reasons.end()) {
      reasons.push_back({sample.reason, 1});
    } else {
      ++known->count;
    }
  }
  std::ranges::stable_sort(reasons, std::ranges::greater{}, &ShortReasonCount::count);
  return reasons;
}

Distribution distribution_of(const FigureName& figure, const std::vector<ScatterSample>& samples) {
  Distribution distribution{.key = figure.key, .name = figure.name, .quantiles = {}};
  std::vector<double> values;
  for (const ScatterSample& sample : samples) {
    if (const auto value = figure_of(sample, figure.key)) {
      values.push_back(*value);
    }
  }
  distribution.samples = values.size();
  if (values.empty()) {
    return distribution;
  }
  distribution.mean = mean_of(values);
  distribution.standard_error = standard_error(values);
  distribution.standard_deviation = standard_deviation(values);
  distribution.least = std::ranges::min(values);
  distribution.largest = std::ranges::max(values);
  for (const double share : shares) {
    distribution.quantiles.push_back(
        {share, quantile(values, share), quantile_interval(values, share)});
  }
  return distribution;
}

/// Whether values differ by rounding alone, as a pressure that is held does.
bool is_rounding(const std::vector<double>& values) {
  const auto [least, largest] = std::ranges::minmax(values);
  return largest - least <= 1e-9 * std::max(std::abs(least), std::abs(largest));
}

/// Nothing where the figure, or every input, is the same in all samples.
Importance importance_of(const FigureName& figure, const Case& input,
                         const std::vector<ScatterSample>& samples,
                         const std::vector<double>& values) {
  Importance importance{.key = figure.key, .name = figure.name, .weights = {}};
  importance.samples = values.size();
  if (values.size() < 3 || is_rounding(values)) {
    return importance;
  }
  std::vector<std::vector<double>> inputs(input.scatter.inputs.size());
  for (const ScatterSample& sample : samples) {
    for (std::size_t i = 0; i < inputs.size(); ++i) {
      inputs[i].push_back(sample.values[i]);
    }
  }
  const RankRegression regression = rank_regression(inputs, values);
  importance.chance = chance_correlation(values.size(), inputs.size());
  importance.determination = regression.determination;
  for (std::size_t i = 0; i < inputs.size(); ++i) {
    importance.weights.push_back(
        {i, rank_correlation(inputs[i], values), regression.coefficients[i]});
  }
  std::ranges::stable_sort(
      importance.weights, std::ranges::greater{},
      [](const InputWeight& weight) { return std::abs(weight.rank_correlation); });
  return importance;
}

template <class Value>
Importance importance_over(const FigureName& figure, const Case& input,
                           const std::vector<ScatterSample>& samples, const Value& value) {
  std::vector<ScatterSample> with_value;
  std::vector<double> values;
  for (const ScatterSample& sample : samples) {
    const std::optional<double> own = is_computed(sample) ? value(sample) : std::nullopt;
    if (own) {
      with_value.push_back(sample);
      values.push_back(*own);
    }
  }
  return importance_of(figure, input, with_value, values);
}

std::vector<Importance> all_importance(const Case& input,
                                       const std::vector<ScatterSample>& samples) {
  const auto as_figure = [](const char* key) {
    return [key](const ScatterSample& sample) { return figure_of(sample, key); };
  };
  const auto as_event = [](bool is_one) { return std::optional(is_one ? 1.0 : 0.0); };
  return {
      importance_over({"fill_time_s", "the fill time"}, input, samples, as_figure("fill_time_s")),
      importance_over({"peak_head_pressure_pa", "the peak pressure"}, input, samples,
                      as_figure("peak_head_pressure_pa")),
      importance_over({"short", "whether it is short"}, input, samples,
                      [&](const ScatterSample& sample) {
                        return as_event(sample.state == SampleState::short_fill);
                      }),
      importance_over({"dry_spot", "whether a dry spot stays"}, input, samples,
                      [&](const ScatterSample& sample) { return as_event(sample.dry_spots > 0); })};
}

/// In how many of the samples each node is named.
PerNode<std::size_t> counts_of(const Case& input, const std::vector<ScatterSample>& samples,
                               std::vector<NodeRange> ScatterSample::*ranges) {
  PerNode<std::size_t> counts(input.problem.mesh.positions.size(), 0);
  for (const ScatterSample& sample : samples) {
    for (const NodeRange& range : sample.*ranges) {
      for (std::int32_t i = 0; i < range.count; ++i) {
        ++counts.values().at(static_cast<std::size_t>(range.first + i));
      }
    }
  }
  return counts;
}

PerNode<double> shares_of(const PerNode<std::size_t>& counts, std::size_t samples) {
  PerNode<double> result;
  for (const std::size_t count : counts) {
    result.push_back(samples == 0 ? 0 : static_cast<double>(count) / static_cast<double>(samples));
  }
  return result;
}

/// In how many samples a node is among the last to fill without staying dry: one that is filled in
/// part may be both.
std::size_t late_but_not_dry(const std::vector<ScatterSample>& samples, NodeId node) {
  const auto at = static_cast<std::int32_t>(node.position());
  const auto has = [at](const std::vector<NodeRange>& ranges) {
    return std::ranges::any_of(ranges, [at](const NodeRange& range) {
      return range.first <= at && at < range.first + range.count;
    });
  };
  return static_cast<std::size_t>(std::ranges::count_if(
      samples, [&](const ScatterSample& sample) { return has(sample.late) && !has(sample.dry); }));
}

/// The nodes named most often, a fifth of the part from each other; `most` of them.
std::vector<FrequentPlace> places_of(const Case& input, const PerNode<std::size_t>& counts,
                                     std::size_t most) {
  const ShellMesh& mesh = input.problem.mesh;
  const double apart = mesh_extent(mesh) / 5;
  const PerNode<RegionId> regions = node_regions(input.problem);
  std::vector<NodeId> nodes;
  for (const NodeId node : counts.ids()) {
    if (counts[node] > 0) {
      nodes.push_back(node);
    }
  }
  std::ranges::stable_sort(nodes, std::ranges::greater{},
                           [&](NodeId node) { return counts[node]; });
  std::vector<FrequentPlace> places;
  for (const NodeId node : nodes) {
    const bool is_apart = std::ranges::all_of(places, [&](const FrequentPlace& place) {
      return (mesh.positions[place.node] - mesh.positions[node]).norm() > apart;
    });
    if (is_apart) {
      places.push_back({node, regions[node], counts[node], 0});
    }
    if (places.size() == most) {
      break;
    }
  }
  return places;
}

} // namespace

std::optional<double> figure_of(const ScatterSample& sample, std::string_view key) {
  if (!is_computed(sample)) {
    return std::nullopt;
  }
  if (key == "fill_time_s") {
    return sample.fill_time;
  }
  if (key == "peak_head_pressure_pa") {
    return sample.peak_head_pressure;
  }
  return key == "end_head_pressure_pa" ? std::optional(sample.end_head_pressure)
                                       : sample.peak_force;
}

ScatterSummary summarise_scatter(const Case& input, const std::vector<ScatterSample>& samples) {
  ScatterSummary summary;
  summary.short_fill = share_where(
      samples, [](const ScatterSample& sample) { return sample.state == SampleState::short_fill; });
  summary.dry_spot =
      share_where(samples, [](const ScatterSample& sample) { return sample.dry_spots > 0; });
  summary.opening = opening_share(input.problem.mould, samples);
  summary.computed = summary.short_fill.samples;
  summary.reasons = reasons_of(samples);
  for (const FigureName& figure : figures_named(input.problem)) {
    const bool is_there =
        figure.key != std::string_view("peak_opening_force_n") || input.problem.mould.has_value();
    if (is_there) {
      summary.distributions.push_back(distribution_of(figure, samples));
    }
  }
  summary.importance = all_importance(input, samples);
  const PerNode<std::size_t> dry = counts_of(input, samples, &ScatterSample::dry);
  const PerNode<std::size_t> late = counts_of(input, samples, &ScatterSample::late);
  summary.dry_probability = shares_of(dry, summary.computed);
  summary.late_probability = shares_of(late, summary.computed);
  constexpr std::size_t most_dry = 6;
  constexpr std::size_t most_late = 3;
  summary.dry_places = places_of(input, dry, most_dry);
  summary.late_places = places_of(input, late, most_late);
  for (FrequentPlace& place : summary.dry_places) {
    place.late = late_but_not_dry(samples, place.node);
  }
  return summary;
}

} // namespace tidemark
