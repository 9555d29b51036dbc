// What the samples of a scatter tell together.
#pragma once

#include "io/case_file.hpp"
#include "io/scatter_run.hpp"
#include "io/statistics.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// How often something came.
struct EventShare {
  std::size_t events = 0;
  std::size_t samples = 0; // that were computed
  double share = 0;
  ConfidenceInterval interval{0, 1}; // of its probability, 95 %
};

struct QuantileValue {
  double share;
  double value;
  ConfidenceInterval interval; // 95 %
};

/// How a figure is spread over the samples that have it.
struct Distribution {
  const char* key;  // "fill_time_s"
  const char* name; // "fill time"
  std::size_t samples = 0;
  double mean = 0, standard_error = 0, standard_deviation = 0, least = 0, largest = 0;
  std::vector<QuantileValue> quantiles; // of 5, 25, 50, 75, 95 %; empty without samples
};

/// How much one input has to do with a figure.
struct InputWeight {
  std::size_t input;       // in ScatterFacts::inputs
  double rank_correlation; // Spearman's
  double rank_regression;  // standardised coefficient of the regression on all ranks
};

struct Importance {
  const char* key;  // "fill_time_s", "short"
  const char* name; // "the fill time", "whether it is short"
  std::size_t samples = 0;
  double chance = 1;                // rank correlations nearer to 0 may come from chance
  double determination = 0;         // R^2 of the regression
  std::vector<InputWeight> weights; // by rank correlation, largest first; empty if it says nothing
};

/// A place where something often happens.
struct FrequentPlace {
  NodeId node;
  RegionId region;
  std::size_t events;
  std::size_t late; // of a dry place: the samples in which it is among the last to fill instead
};

struct ShortReasonCount {
  std::string reason;
  std::size_t count;
};

struct ScatterSummary {
  std::size_t computed = 0; // that filled or are short
  EventShare short_fill;
  EventShare dry_spot;
  std::optional<EventShare> opening;     // of the mould; none if it is not said what holds it shut
  std::vector<ShortReasonCount> reasons; // of the short ones, most frequent first
  std::vector<Distribution> distributions;
  std::vector<Importance> importance;
  PerNode<double> dry_probability;                    // share of the computed samples [-]
  PerNode<double> late_probability;                   // as above
  std::vector<FrequentPlace> dry_places, late_places; // apart from each other, most often first
};

/// samples: those drawn that are done, in the order of their numbers.
ScatterSummary summarise_scatter(const Case& input, const std::vector<ScatterSample>& samples);

/// A figure of a sample under the key of a distribution; none where it has none.
std::optional<double> figure_of(const ScatterSample& sample, std::string_view key);

} // namespace tidemark
