#include "io/scatter_text.hpp"

#include "io/scatter_writer.hpp"
#include "io/wording.hpp"

#include "io/closing_direction.hpp"
#include "io/mould_text.hpp"
#include "io/number_text.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/text_table.hpp"
#include "solver/mould_load.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

namespace tidemark {

std::string share_text(double share) {
  const double percent = 100 * share;
  const double least = std::min(percent, 100 - percent);
  int digits = percent > 0 && percent < 9.95 ? 1 : 0;
  if (least > 0 && least < 0.5) { // 99.75, 0.01
    digits = std::clamp(1 - static_cast<int>(std::floor(std::log10(least))), 1, 12);
  }
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.*f %%", digits, percent);
  return text.data();
}

std::string variation_text(const ScatteredInput& input) {
  std::string text = law_word(input.law) + std::string(", ");
  text += is_temperature(input) ? rough_number(input.mean - 273.15) + " degC with a deviation of " +
                                      plain_number(input.spread) + " K"
                                : "variation " + rough_number(100 * input.spread) + " %";
  if (input.correlation_length) {
    text += ", from place to place over " + as_millimetres(*input.correlation_length);
  }
  return text;
}

namespace {

/// What stands for values that are not given, each once.
std::vector<std::string> sources_of(const Case& input) {
  std::vector<std::string> sources;
  for (const ScatteredInput& scattered : input.scatter.inputs) {
    if (!scattered.source.empty() &&
        std::ranges::find(sources, scattered.source) == sources.end()) {
      sources.push_back(scattered.source);
    }
  }
  return sources;
}

std::string inputs_text(const Case& input) {
  if (input.scatter.inputs.empty()) {
    return "Nothing scatters: all variations are 0.\n";
  }
  const std::vector<std::string> sources = sources_of(input);
  std::vector<TextRow> rows;
  for (const ScatteredInput& scattered : input.scatter.inputs) {
    const auto source = std::ranges::find(sources, scattered.source);
    const auto mark = static_cast<std::size_t>(source - sources.begin()) + 1;
    rows.push_back(
        {"  " + scattered.name, variation_text(scattered) +
                                    (source == sources.end() ? "" : " " + std::string(mark, '*'))});
  }
  std::string text = "What scatters from part to part:\n" + table_text(rows);
  for (std::size_t i = 0; i < sources.size(); ++i) {
    text += "  " + std::string(i + 1, '*') + " " + sources[i] + "\n";
  }
  return text;
}

} // namespace

std::string event_text(const std::string& what, const EventShare& event) {
  return "Probability of " + what + ": " + share_text(event.share) + " (" +
         share_text(event.interval.low) + " to " + share_text(event.interval.high) +
         " with 95 % confidence), " + std::to_string(event.events) + " of " +
         counted(event.samples, "sample", "samples") + ".\n";
}

std::string dry_spot_text(const Case& input, const ScatterSummary& summary) {
  const std::string air = air_caution(input.problem);
  return air.empty() ? event_text("a dry spot, with its air shut in", summary.dry_spot)
                     : air + "\n";
}

std::string opening_text(const Case& input, const ScatterSummary& summary) {
  if (!summary.opening) {
    return "";
  }
  if (is_seen_edge_on(input.problem)) {
    return std::string("How likely the mould is pushed open cannot be told: ") + edge_on_text +
           ".\n";
  }
  const std::string missing = uncounted_fibres_text(fibre_push(input.problem));
  return event_text("a mould pushed open, held shut with " +
                        as_kilonewtons(input.problem.mould->hold_down_force),
                    *summary.opening) +
         (missing.empty() ? "" : "  " + missing + ".\n");
}

namespace {

/// How much of the part was filled where it is short.
std::string filled_text(const std::vector<ScatterSample>& samples) {
  std::vector<double> fractions;
  for (const ScatterSample& sample : samples) {
    if (sample.state == SampleState::short_fill) {
      fractions.push_back(sample.filled_fraction);
    }
  }
  return " Half of them are filled to " + as_percent(quantile(fractions, 0.5)) +
         " or more, the worst to " + as_percent(quantile(fractions, 0)) + ".\n";
}

/// What counts as filled though a little of it stays dry; empty where nothing may.
std::string allowed_text(const ScatterOutcome& outcome) {
  if (!(outcome.allowed > 0)) {
    return "";
  }
  const auto count = static_cast<std::size_t>(std::ranges::count_if(
      outcome.samples, [](const ScatterSample& sample) { return sample.left_dry > 0; }));
  return "  Up to " + as_small_litres(outcome.allowed) +
         " of pores may stay dry with their air shut in: " +
         counted(count, "sample counts", "samples count") + " as filled with that.\n";
}

} // namespace

std::string short_reasons_text(const ScatterOutcome& outcome) {
  const ScatterSummary& summary = outcome.summary;
  std::string text;
  for (const ShortReasonCount& reason : summary.reasons) {
    text +=
        (text.empty() ? "  Short by " : ", ") + reason.reason + ": " + std::to_string(reason.count);
  }
  return (text.empty() ? "" : text + "." + filled_text(outcome.samples)) + allowed_text(outcome);
}

std::string figure_text(std::string_view key, double value) {
  if (key == "fill_time_s") {
    return as_minutes(value);
  }
  return key == "peak_opening_force_n" ? as_kilonewtons(value) : as_bar(value);
}

namespace {

/// The row of a figure; empty if no sample has it.
TextRow distribution_row(const Distribution& figure, const std::optional<ScatterSample>& as_it_is) {
  if (figure.samples == 0) {
    return {};
  }
  const auto text = [&](double value) { return figure_text(figure.key, value); };
  const bool is_told = figure.standard_error > 1e-9 * std::abs(figure.mean); // else it is rounding
  const auto own = as_it_is ? figure_of(*as_it_is, figure.key) : std::nullopt;
  return {figure.name,
          text(figure.quantiles[0].value),
          text(figure.quantiles[2].value),
          text(figure.quantiles[4].value),
          text(figure.mean),
          figure.samples > 1 ? text(is_told ? figure.standard_error : 0) : "-",
          own ? text(*own) : "-",
          std::to_string(figure.samples)};
}

} // namespace

std::vector<TextRow> distribution_rows(const ScatterOutcome& outcome) {
  std::vector<TextRow> rows{
      {"", "5 % below", "half below", "95 % below", "mean", "its error", "as it is", "samples"}};
  for (const Distribution& figure : outcome.summary.distributions) {
    TextRow row = distribution_row(figure, outcome.as_it_is);
    if (!row.empty()) {
      rows.push_back(std::move(row));
    }
  }
  return rows;
}

namespace {

std::string distributions_text(const ScatterOutcome& outcome) {
  const std::vector<TextRow> rows = distribution_rows(outcome);
  return rows.size() == 1 ? "" : "\n" + table_text(rows);
}

} // namespace

std::string correlation_text(double value) {
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%+.2f", value);
  return text.data();
}

namespace {

std::string importance_text(const Case& input, const Importance& importance) {
  constexpr std::size_t most = 5;
  std::string inputs;
  std::size_t told = 0;
  for (const InputWeight& weight : importance.weights) {
    if (std::abs(weight.rank_correlation) > importance.chance && told < most) {
      inputs += (inputs.empty() ? "" : ", ") + input.scatter.inputs[weight.input].name + " (" +
                correlation_text(weight.rank_correlation) + ")";
      ++told;
    }
  }
  if (importance.weights.empty()) {
    return "";
  }
  return std::string("For ") + importance.name + ": " +
         (inputs.empty() ? "nothing told from chance" : inputs) + ".\n";
}

std::string all_importance_text(const Case& input, const ScatterSummary& summary) {
  std::string text;
  double chance = 0;
  for (const Importance& importance : summary.importance) {
    text += importance_text(input, importance);
    chance = importance.weights.empty() ? chance : std::max(chance, importance.chance);
  }
  if (text.empty()) {
    return "";
  }
  return "\nWhat matters most (rank correlation, +1 or -1 at most; up to " +
         rough_number(std::round(100 * chance) / 100) + " may be chance):\n" + text;
}

} // namespace

std::string also_late_text(const FrequentPlace& place, std::size_t computed) {
  return place.late == 0
             ? ""
             : ", among the last to fill in another " +
                   share_text(static_cast<double>(place.late) / static_cast<double>(computed));
}

namespace {

std::string places_text(const Case& input, const std::string& heading,
                        const std::vector<FrequentPlace>& places, std::size_t computed) {
  std::string text = places.empty() ? "" : heading + "\n";
  for (const FrequentPlace& place : places) {
    text +=
        "  in " + share_text(static_cast<double>(place.events) / static_cast<double>(computed)) +
        " of the samples at " + place_text(input, input.problem.mesh.positions[place.node]) +
        " in region " + region_name(input, place.region) + also_late_text(place, computed) + "\n";
  }
  return text;
}

} // namespace

std::string failures_text(const std::vector<ScatterSample>& samples) {
  constexpr std::size_t most = 3;
  std::size_t failed = 0;
  std::string text;
  for (const ScatterSample& sample : samples) {
    if (sample.state == SampleState::failed && ++failed <= most) {
      text += "  sample " + std::to_string(sample.number) + ": " + sample.error + "\n";
    }
  }
  if (failed == 0) {
    return "";
  }
  return "Warning: " + counted(failed, "sample", "samples") + " could not be computed and " +
         (failed == 1 ? "is" : "are") + " left out of all figures:\n" + text +
         (failed > most ? "  and more, in scatter.csv\n" : "");
}

std::string samples_text(const ScatterOutcome& outcome) {
  const std::size_t done = outcome.samples.size();
  return std::to_string(done) +
         (done < outcome.wanted ? " of " + std::to_string(outcome.wanted) : "") +
         (outcome.wanted == 1 ? " sample" : " samples") + ", Latin hypercube, seed " +
         std::to_string(outcome.seed) + ".";
}

namespace {

std::string head_text(const Case& input, const ScatterOutcome& outcome) {
  const std::size_t done = outcome.samples.size();
  std::string text = input.title + "\n\n" + samples_text(outcome) + "\n";
  if (done < outcome.wanted) {
    text += "Not all samples are done: the figures are those of the ones that are. The same "
            "command goes on where this ended.\n";
  }
  return text + inputs_text(input) + "\n";
}

} // namespace

std::string scatter_text(const Case& input, const ScatterOutcome& outcome) {
  const ScatterSummary& summary = outcome.summary;
  std::string text =
      head_text(input, outcome) + warnings_text(input.warnings) + failures_text(outcome.samples);
  if (summary.computed == 0) {
    return text + "No sample was computed: nothing can be said.\n";
  }
  text += event_text("a short fill", summary.short_fill) + short_reasons_text(outcome) +
          dry_spot_text(input, summary) + opening_text(input, summary) +
          distributions_text(outcome) + all_importance_text(input, summary) + "\n" +
          places_text(input, "Dry at the end most often:", summary.dry_places, summary.computed) +
          places_text(input,
                      "Among the last 5 % of the volume to fill most often:", summary.late_places,
                      summary.computed);
  return text + "\n" + scatter_interval_note +
         "\nA prediction is no substitute for a trial shot. Never exceed the rating of mould, "
         "clamps, "
         "hoses and pump.\n";
}

} // namespace tidemark
