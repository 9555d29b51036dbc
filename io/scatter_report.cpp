#include "io/scatter_report.hpp"

#include "io/closing_direction.hpp"
#include "io/comparison_report.hpp"
#include "io/fill_report.hpp"
#include "io/json_values.hpp"
#include "io/report_view.hpp"
#include "io/scatter_text.hpp"
#include "io/sheet_html.hpp"
#include "io/spoken.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

// words

std::string headline_of(const ScatterOutcome& outcome) {
  const ScatterSummary& summary = outcome.summary;
  if (summary.computed == 0) {
    return "No sample was computed: nothing can be said.";
  }
  std::string text = event_text("a short fill", summary.short_fill);
  if (summary.opening && summary.opening->events > 0) {
    text.back() = ' ';
    text += event_text("a mould pushed open", *summary.opening);
  }
  text.erase(text.find_last_not_of("\n") + 1);
  return outcome.samples.size() < outcome.wanted ? "Not all samples are done; so far: " + text
                                                 : text;
}

std::string interval_text(const EventShare& event) {
  return share_text(event.interval.low) + " to " + share_text(event.interval.high);
}

std::vector<ReportFact> facts_of(const Case& input, const ScatterOutcome& outcome) {
  const ScatterSummary& summary = outcome.summary;
  std::vector<ReportFact> facts = {
      {"Probability of a short fill (95 % confidence)", interval_text(summary.short_fill)}};
  if (input.problem.sealed_air) {
    facts.push_back(
        {"Probability of a dry spot (95 % confidence)", interval_text(summary.dry_spot)});
  }
  if (summary.opening && !is_seen_edge_on(input.problem)) {
    facts.push_back(
        {"Probability of a mould pushed open (95 % confidence)", interval_text(*summary.opening)});
  }
  for (const Distribution& figure : summary.distributions) {
    const std::string_view key = figure.key;
    if (figure.samples == 0) {
      continue;
    }
    if (key == "fill_time_s") {
      facts.push_back({"Fill time, half below", figure_text(key, figure.quantiles[2].value)});
      facts.push_back({"Fill time, 95 % below", figure_text(key, figure.quantiles[4].value)});
    } else if (key == "peak_head_pressure_pa") {
      facts.push_back({with_capital(figure.name) + ", 95 % below",
                       figure_text(key, figure.quantiles[4].value)});
    }
  }
  return facts;
}

std::vector<std::string> sentences_of(const Case& input, const ScatterOutcome& outcome) {
  const ScatterSummary& summary = outcome.summary;
  std::vector<std::string> sentences = {short_reasons_text(outcome), dry_spot_text(input, summary),
                                        opening_text(input, summary)};
  if (outcome.as_it_is) {
    const ScatterSample& own = *outcome.as_it_is;
    sentences.push_back(
        own.state == SampleState::filled && own.fill_time
            ? "With the values of the case itself the part fills in " +
                  figure_text("fill_time_s", *own.fill_time) + "."
        : own.state == SampleState::short_fill
            ? "With the values of the case itself the part is short: " + own.reason + "."
            : "With the values of the case itself the computation failed: " + own.error);
  }
  sentences.push_back(samples_text(outcome));
  sentences.emplace_back(scatter_interval_note);
  std::erase_if(sentences, [](const std::string& sentence) { return sentence.empty(); });
  return sentences;
}

std::string verdict_of(const Case& input, const ScatterOutcome& outcome) {
  std::vector<std::string> warnings = input.warnings;
  if (const std::string failures = failures_text(outcome.samples); !failures.empty()) {
    warnings.push_back(failures);
  }
  std::string text = outcome.summary.computed > 0 ? facts_html(facts_of(input, outcome)) : "";
  text += warnings.empty()
              ? ""
              : "<div class=\"warnings\"><h3>Warnings</h3>\n" + list_html(warnings) + "</div>\n";
  if (outcome.summary.computed > 0) {
    text += "<ul class=\"words\">\n";
    for (const std::string& sentence : sentences_of(input, outcome)) {
      text += "<li>" + html_text(sentence) + "</li>\n";
    }
    text += "</ul>\n";
  }
  return text;
}

// how figures spread

/// The kind of quantity numbers.js knows.
const char* unit_of(std::string_view key) {
  return key == "fill_time_s" ? "time" : key == "peak_opening_force_n" ? "force" : "pressure";
}

/// Whether a figure differs by more than rounding, so that there is something to draw.
bool is_spread(const Distribution& figure) {
  return figure.samples > 1 &&
         figure.largest - figure.least >
             1e-6 * std::max(std::abs(figure.least), std::abs(figure.largest));
}

Json spread_chart(const ScatterOutcome& outcome, const Distribution& figure) {
  std::vector<double> values;
  for (const ScatterSample& sample : outcome.samples) {
    if (const auto value = figure_of(sample, figure.key)) {
      values.push_back(*value);
    }
  }
  std::ranges::sort(values);
  const auto own =
      outcome.as_it_is ? figure_of(*outcome.as_it_is, figure.key) : std::optional<double>();
  Json chart = {
      {"kind", "spread"}, {"title", with_capital(figure.name)}, {"unit", unit_of(figure.key)},
      {"values", values}, {"as_it_is", number_or_null(own)},    {"quantiles", Json::array()}};
  for (const QuantileValue& one : figure.quantiles) {
    chart["quantiles"].push_back({{"share", one.share}, {"value", one.value}});
  }
  return chart;
}

/// A row for each quantile, a column for each figure that differs.
ReportTable quantiles_table(const ScatterSummary& summary) {
  ReportTable table{"Quantiles, with 95 % confidence", {"Samples below"}, {}};
  for (const Distribution& figure : summary.distributions) {
    if (!is_spread(figure)) {
      continue;
    }
    table.headings.push_back(with_capital(figure.name));
    table.rows.resize(figure.quantiles.size());
    for (std::size_t k = 0; k < figure.quantiles.size(); ++k) {
      const QuantileValue& one = figure.quantiles[k];
      if (table.rows[k].empty()) {
        table.rows[k].push_back(rough_number(100 * one.share) + " %");
      }
      table.rows[k].push_back(figure_text(figure.key, one.value) + " (" +
                              figure_text(figure.key, one.interval.low) + " to " +
                              figure_text(figure.key, one.interval.high) + ")");
    }
  }
  return table;
}

std::string spread_section(ReportPage& page, const ScatterOutcome& outcome) {
  const ScatterSummary& summary = outcome.summary;
  std::string drawn;
  std::string same;
  for (const Distribution& figure : summary.distributions) {
    if (is_spread(figure)) {
      page.charts.push_back(spread_chart(outcome, figure));
      drawn += chart_html(page.charts.size() - 1);
    } else if (figure.samples > 0) {
      same += "<p>" + html_text(with_capital(figure.name)) + ": " +
              html_text(figure_text(figure.key, figure.mean)) + " in " +
              all_of(figure.samples, "sample", "samples") + ".</p>\n";
    }
  }
  const std::vector<TextRow> rows = distribution_rows(outcome);
  if (rows.size() == 1) {
    return "";
  }
  return (drawn.empty() ? "" : "<div class=\"plots\">\n" + drawn + "</div>\n") + same +
         table_html(report_table("How figures spread over the samples that have them", rows)) +
         table_html(quantiles_table(summary));
}

// what matters

std::string percent_of(double share) {
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.1f%%", 100 * share);
  return text.data();
}

/// A bar from the middle: to the left for a negative correlation; what may be chance is shaded.
std::string bar_html(double correlation, double chance) {
  const double half = std::min(std::abs(correlation), 1.0) / 2;
  const double shade = std::min(chance, 1.0) / 2;
  const auto piece = [](const char* kind, double from, double width) {
    return "<span class=\"" + std::string(kind) + "\" style=\"left:" + percent_of(from) +
           ";width:" + percent_of(width) + "\"></span>";
  };
  return "<span class=\"bar-track\" aria-hidden=\"true\">" +
         piece("bar-chance", 0.5 - shade, 2 * shade) +
         piece(correlation < 0 ? "bar-down" : "bar-up", correlation < 0 ? 0.5 - half : 0.5, half) +
         "<span class=\"bar-middle\"></span></span>";
}

std::string weights_html(const Case& input, const Importance& importance) {
  const std::string caption = "For " + std::string(importance.name);
  std::string text = "<div class=\"table\" tabindex=\"0\" role=\"group\" aria-label=\"" +
                     html_text(caption) + "\"><table class=\"weights\">\n<caption>" +
                     html_text(caption) +
                     "</caption>\n<thead><tr><th scope=\"col\">Input</th><th scope=\"col\">Rank "
                     "correlation</th><th scope=\"col\">-1 to +1</th><th "
                     "scope=\"col\">By itself</th><th scope=\"col\"></th></tr></thead>\n<tbody>\n";
  for (const InputWeight& weight : importance.weights) {
    const bool may_be_chance = std::abs(weight.rank_correlation) <= importance.chance;
    text += "<tr><th scope=\"row\">" + html_text(input.scatter.inputs[weight.input].name) +
            "</th><td>" + correlation_text(weight.rank_correlation) + "</td><td>" +
            bar_html(weight.rank_correlation, importance.chance) + "</td><td>" +
            correlation_text(weight.rank_regression) + "</td><td>" +
            (may_be_chance                 ? "may be chance"
             : weight.rank_correlation < 0 ? "more of it: less"
                                           : "more of it: more") +
            "</td></tr>\n";
  }
  return text + "</tbody></table></div>\n";
}

std::string importance_section(const Case& input, const ScatterSummary& summary) {
  std::string text;
  for (const Importance& importance : summary.importance) {
    text += importance.weights.empty() ? "" : weights_html(input, importance);
  }
  return text.empty()
             ? ""
             : "<p>Rank correlation (Spearman) of each input with the figure, the largest first: "
               "+1 "
               "or -1 at most. What lies within the shaded band may be chance. By itself: the "
               "coefficient of a regression on the ranks of all inputs.</p>\n" +
                   text;
}

// the part

void mark_places(Json& view, const Case& input, const std::vector<FrequentPlace>& places,
                 const char* kind) {
  for (std::size_t i = 0; i < places.size(); ++i) {
    view["marks"].push_back({{"kind", kind},
                             {"label", std::to_string(i + 1)},
                             {"at", position_json(input.problem.mesh.positions[places[i].node])}});
  }
}

Json map_view(const Case& input, const ScatterSummary& summary) {
  const ReportField dry{"dry_probability", "Probability of staying dry", "share",
                        summary.dry_probability};
  const ReportField late{"late_probability", "Probability of being among the last 5 % to fill",
                         "share", summary.late_probability};
  std::vector<ReportField> fields;
  if (!summary.dry_places.empty()) { // else it is 0 everywhere
    fields.push_back(dry);
  }
  fields.push_back(late);
  Json view = part_view(input, fields);
  mark_places(view, input, summary.dry_places, "often_dry");
  mark_places(view, input, summary.late_places, "often_late");
  return view;
}

ReportTable places_table(const Case& input, const std::vector<FrequentPlace>& places,
                         std::size_t computed, const std::string& caption) {
  ReportTable table{caption, {"No.", "Of the samples", "Place", "Region"}, {}};
  for (std::size_t i = 0; i < places.size(); ++i) {
    const FrequentPlace& place = places[i];
    table.rows.push_back(
        {std::to_string(i + 1),
         share_text(static_cast<double>(place.events) / static_cast<double>(computed)) +
             also_late_text(place, computed),
         place_text(input, input.problem.mesh.positions[place.node]),
         region_name(input, place.region)});
  }
  return table;
}

std::string map_section(ReportPage& page, const Case& input, const ScatterSummary& summary) {
  if (summary.computed == 0) {
    return "";
  }
  page.panels.push_back(Json::array({map_view(input, summary)}));
  const std::string air = air_caution(input.problem);
  const std::string none = "<p>No place stayed dry in any sample." +
                           (air.empty() ? "" : " " + html_text(air)) + "</p>\n";
  return (summary.dry_places.empty() ? none : "") + panel_html(page.panels.size() - 1) +
         table_html(places_table(input, summary.dry_places, summary.computed,
                                 "Dry at the end most often")) +
         table_html(places_table(input, summary.late_places, summary.computed,
                                 "Among the last 5 % of the volume to fill most often"));
}

// what was drawn

std::string inputs_section(const Case& input) {
  if (input.scatter.inputs.empty()) {
    return "<p>Nothing scatters: all variations are 0.</p>\n";
  }
  ReportTable table{"What differs from part to part", {"Quantity", "By how much", "From"}, {}};
  for (const ScatteredInput& scattered : input.scatter.inputs) {
    table.rows.push_back({scattered.name, variation_text(scattered),
                          scattered.source.empty() ? "the case" : scattered.source});
  }
  return table_html(table) + "<p class=\"note\">Inputs are independent of each other. What was "
                             "drawn for every sample, and what came of it, stands in "
                             "scatter.csv.</p>\n";
}

} // namespace

ReportPage scatter_report(const Case& input, const ScatterOutcome& outcome) {
  const ScatterSummary& summary = outcome.summary;
  ReportPage page;
  page.title = input.title;
  page.kind = "How sure the filling is";
  page.origin = "Made by tidemark " TIDEMARK_VERSION " from " + input.file.string() + ".";
  page.is_good = summary.computed > 0 && summary.short_fill.events == 0 &&
                 (!summary.opening || summary.opening->events == 0);
  page.headline = headline_of(outcome);
  page.verdict = verdict_of(input, outcome);
  const std::string spread = spread_section(page, outcome);
  const std::string map = map_section(page, input, summary);
  page.sections = {{"spread", "How it spreads", spread},
                   {"matters", "What matters most", importance_section(input, summary)},
                   {"map", "Where it stays dry", map},
                   {"inputs", "What scatters", inputs_section(input)},
                   {"cautions", "Cautions", list_html(report_cautions())}};
  return page;
}

} // namespace tidemark
