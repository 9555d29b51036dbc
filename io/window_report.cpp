#include "io/window_report.hpp"

#include "io/comparison_report.hpp"
#include "io/fill_report.hpp"
#include "io/number_text.hpp"
#include "io/sheet_html.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/window_areas.hpp"
#include "io/window_text.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

/// As many digits as the page shows, or a line is drawn with.
double short_number(double value) {
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.5g", value);
  return std::strtod(text.data(), nullptr);
}

Json short_or_null(const std::optional<double>& value) {
  return value ? Json(short_number(*value)) : Json();
}

Json line_json(const std::vector<WindowPlace>& places) {
  Json line = Json::array();
  for (const WindowPlace& place : places) {
    line.push_back(short_number(place.flow));
    line.push_back(short_number(place.cap));
  }
  return line;
}

// the map as the scripts draw it

/// What becomes of the part, in the order of io/report/window_map.js.
Json point_json(const TriedPoint& point) {
  return {static_cast<int>(point.outcome),         short_or_null(point.fill_time),
          short_or_null(point.peak_head_pressure), short_or_null(point.time_cap_reached),
          short_or_null(point.peak_force),         short_or_null(point.gel_share)};
}

Json marked_point_json(const TriedPoint& point) {
  return {{"flow", point.flow_rate},
          {"cap", point.pressure_cap},
          {"at", {short_number(point.place.flow), short_number(point.place.cap)}},
          {"values", point_json(point)}};
}

Json axis_json(const WindowAxis& axis) {
  return {{"low", axis.low}, {"high", axis.high}, {"zero", axis.zero}};
}

Json outcomes_json() {
  Json outcomes = Json::array();
  for (int k = 0; k <= static_cast<int>(Outcome::not_run); ++k) {
    const auto outcome = static_cast<Outcome>(k);
    outcomes.push_back({{"word", map_word(outcome)},
                        {"words", outcome_words(outcome)},
                        {"meaning", outcome_meaning(outcome)}});
  }
  return outcomes;
}

Json map_chart(const WindowFacts& facts, const WindowOfValue& window) {
  const WindowMap& map = window.map;
  Json chart;
  chart["kind"] = "window";
  chart["label"] =
      "Map of flow rate and pressure cap" +
      (window.value.empty() ? "" : " at " + window.value + " (" + facts.third_axis + ")");
  chart["flow"] = axis_json(map.shape.flow);
  chart["cap"] = axis_json(map.shape.cap);
  chart["points"] = map.shape.points;
  chart["outcomes"] = outcomes_json();
  chart["grid"] = Json::array();
  for (std::size_t k = 0; k < map.shape.points * map.shape.points; ++k) {
    chart["grid"].push_back(point_json(map.points[k]));
  }
  chart["areas"] = Json::array();
  for (const WindowArea& area : window_areas(map)) {
    chart["areas"].push_back({static_cast<int>(area.outcome), line_json(area.corners)});
  }
  chart["borders"] = Json::array();
  for (const WindowLine& line : map.borders) {
    chart["borders"].push_back(line_json(line.places));
  }
  chart["contours"] = Json::array();
  for (const WindowLine& line : map.contours) {
    chart["contours"].push_back(
        {{"time", short_or_null(line.fill_time)}, {"line", line_json(line.places)}});
  }
  chart["as_set"] = window.as_set ? marked_point_json(map.points[*window.as_set]) : Json();
  chart["middle"] =
      map.recommended ? marked_point_json(map.points[map.recommended->point]) : Json();
  return chart;
}

// words

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  for (std::size_t from = 0; from < text.size();) {
    const std::size_t end = std::min(text.find('\n', from), text.size());
    const std::size_t start = text.find_first_not_of(' ', from);
    if (start < end) {
      lines.push_back(text.substr(start, end - start));
    }
    from = end + 1;
  }
  return lines;
}

std::string words_html(const std::vector<std::string>& lines) {
  std::string text = lines.empty() ? "" : "<ul class=\"words\">\n";
  for (const std::string& line : lines) {
    text += "<li>" + html_text(line) + "</li>\n";
  }
  return lines.empty() ? "" : text + "</ul>\n";
}

std::string setting_text(const TriedPoint& point) {
  return as_litres_per_minute(point.flow_rate) + " and a cap of " + as_bar(point.pressure_cap);
}

std::size_t safe_maps(const WindowFacts& facts) {
  return static_cast<std::size_t>(std::ranges::count_if(
      facts.maps, [](const WindowOfValue& window) { return window.map.recommended.has_value(); }));
}

std::string headline_of(const WindowFacts& facts) {
  const std::string before = facts.was_interrupted ? "Interrupted; so far: " : "";
  if (safe_maps(facts) == 0) {
    return facts.was_interrupted
               ? "Interrupted before a setting could be recommended."
               : "No setting of this range is safe" +
                     (facts.maps.size() > 1 ? ", at any " + facts.third_axis : std::string()) + ".";
  }
  if (facts.maps.size() == 1) {
    const WindowMap& map = facts.maps.front().map;
    const TriedPoint& point = map.points[map.recommended->point];
    return before + "set " + setting_text(point) + ". The part fills in about " +
           as_minutes(*point.fill_time) + ".";
  }
  return before + "at " + std::to_string(safe_maps(facts)) + " of " +
         std::to_string(facts.maps.size()) + " values of the " + facts.third_axis +
         " some setting is safe.";
}

std::string factor_text(double factor) {
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.2f", factor);
  return text.data();
}

std::vector<ReportFact> facts_of(const WindowMap& map) {
  const TriedPoint& point = map.points[map.recommended->point];
  std::vector<ReportFact> facts = {
      {"Flow rate", as_litres_per_minute(point.flow_rate)},
      {"Pressure cap", as_bar(point.pressure_cap)},
      {"Fill time", point.fill_time ? as_minutes(*point.fill_time) : "-"},
      {"Nearest border or end of the range", "factor " + factor_text(map.recommended->clearance)}};
  if (point.gel_share && *point.gel_share > 0) {
    facts.push_back({"Gel, in ages of the oldest resin", three_digits(1 / *point.gel_share)});
  }
  if (point.peak_force && *point.peak_force > 0) {
    facts.push_back({"Opening force up to", as_kilonewtons(*point.peak_force)});
  }
  return facts;
}

/// One row for each value of the third axis.
ReportTable values_table(const WindowFacts& facts) {
  ReportTable table{"The setting in the middle of what is safe, for each " + facts.third_axis,
                    {facts.third_axis == "catalyst" ? "Catalyst" : "Temperature", "Viscosity",
                     "Gel", "Flow rate", "Cap", "Fill time", "Nearest border: factor"},
                    {}};
  for (const WindowOfValue& window : facts.maps) {
    std::vector<std::string> row{window.value, as_viscosity(window.viscosity),
                                 window.gel_time ? as_minutes(*window.gel_time) : "none"};
    if (const auto& chosen = window.map.recommended) {
      const TriedPoint& point = window.map.points[chosen->point];
      row.insert(row.end(), {as_litres_per_minute(point.flow_rate), as_bar(point.pressure_cap),
                             point.fill_time ? as_minutes(*point.fill_time) : "-",
                             factor_text(chosen->clearance)});
    } else {
      row.insert(row.end(), {"none is safe", "-", "-", "-"});
    }
    table.rows.push_back(std::move(row));
  }
  return table;
}

/// What one should know before anything else: the sentences of the terminal.
std::string verdict_of(const WindowFacts& facts) {
  if (facts.maps.size() != 1) {
    return facts.maps.empty() ? "" : table_html(values_table(facts));
  }
  const WindowOfValue& window = facts.maps.front();
  return (window.map.recommended ? facts_html(facts_of(window.map)) : "") +
         words_html(lines_of(window_choice_text(facts, window)));
}

// tables

std::string heading_of(const WindowFacts& facts, const WindowOfValue& window) {
  const std::string value = window_value_text(facts, window);
  return value.empty() ? "" : "<h3>" + html_text(value) + "</h3>\n";
}

std::string caption_of(const std::string& text, const WindowOfValue& window) {
  return text + (window.value.empty() ? "" : ", " + window.value);
}

std::string map_section(ReportPage& page, const WindowFacts& facts) {
  std::string text;
  for (const WindowOfValue& window : facts.maps) {
    page.charts.push_back(map_chart(facts, window));
    text += heading_of(facts, window);
    text += facts.maps.size() > 1 ? words_html(lines_of(window_choice_text(facts, window))) : "";
    text += chart_html(page.charts.size() - 1);
  }
  return text;
}

ReportTable margins_table(const WindowOfValue& window) {
  ReportTable table{caption_of("How far one may go from the setting in the middle", window),
                    {"Moved alone", "Downwards", "Upwards"},
                    {}};
  if (window.map.recommended) {
    const WindowMargins margins = window_margins(window.map);
    table.rows = {{"Flow rate", margins.flow_down, margins.flow_up},
                  {"Pressure cap", margins.cap_down, margins.cap_up}};
  }
  return table;
}

/// The words that stand in some map.
ReportTable outcomes_table(const WindowFacts& facts) {
  ReportTable table{"Words of the tables", {"Word", "Meaning"}, {{"4:51", "minutes to fill"}}};
  for (const Outcome outcome : faults_in_order) {
    const bool is_there = std::ranges::any_of(facts.maps, [&](const WindowOfValue& window) {
      return std::ranges::any_of(window.map.points,
                                 [&](const TriedPoint& point) { return point.outcome == outcome; });
    });
    if (is_there) {
      table.rows.push_back({map_word(outcome), outcome_meaning(outcome)});
    }
  }
  return table;
}

std::string tables_section(const WindowFacts& facts) {
  std::string text;
  for (const WindowOfValue& window : facts.maps) {
    text += table_html(margins_table(window));
    text += table_html(report_table(caption_of("Map: minutes to fill, or why not", window),
                                    window_map_rows(window.map)));
    const std::vector<TextRow> times = window_time_rows(window.map);
    text +=
        times.empty()
            ? ""
            : table_html(report_table(caption_of(window_times_heading(window.map), window), times));
  }
  return text.empty() ? ""
                      : text + table_html(outcomes_table(facts)) +
                            "<p class=\"note\">Every point that was tried stands in "
                            "window.csv.</p>\n";
}

ReportTable limits_table(const WindowFacts& facts) {
  const WindowLimits& limits = facts.limits;
  ReportTable table{"A setting is safe if the part fills and all of this holds", {}, {}};
  const auto add = [&](const char* name, const std::optional<double>& value, auto as_text,
                       const char* otherwise) {
    table.rows.push_back({name, value ? as_text(*value) : std::string(otherwise)});
  };
  add("Opening force at most", limits.hold_down_force, as_kilonewtons,
      limits.is_seen_edge_on      ? "not checked: the part is seen edge-on"
      : limits.projected_area > 0 ? "not checked: it is not said what holds the mould shut"
                                  : "not checked: the case has no [mould]");
  if (limits.hold_down_force) {
    table.rows.push_back({"of the force that holds the mould shut, kept in hand",
                          plain_number(100 * limits.mould_margin) + " %"});
  }
  add("Gel time over age of the oldest resin, at least", limits.gel_safety, rough_number,
      "not checked: no resin.gel_safety");
  add("Flow rate of the machine at most", limits.max_flow_rate, as_litres_per_minute, "not given");
  add("Pressure of the machine at most", limits.max_pressure, as_bar, "not given");
  add("Full before", limits.time_limit, as_minutes, "no time limit");
  return table;
}

std::string paragraph(const std::string& text) {
  return text.empty() ? "" : "<p>" + html_text(text) + "</p>\n";
}

std::string how_section(const WindowFacts& facts) {
  return paragraph(window_range_text(facts)) + paragraph(window_how_text(facts)) +
         paragraph(facts.maps.empty() ? "" : window_tolerance_text(facts)) +
         pairs_html(limits_table(facts)) + paragraph(window_mould_text(facts));
}

} // namespace

ReportPage window_report(const WindowFacts& facts) {
  ReportPage page;
  page.title = facts.title;
  page.kind = "Process window: flow rate and pressure cap";
  page.origin = "Made by tidemark " TIDEMARK_VERSION " from " + facts.case_file + ".";
  page.is_good = safe_maps(facts) > 0;
  page.headline = with_capital(headline_of(facts));
  page.verdict = verdict_of(facts) + paragraph(facts.air_caution);
  if (!facts.warnings.empty()) {
    page.verdict +=
        "<div class=\"warnings\"><h3>Warnings</h3>\n" + list_html(facts.warnings) + "</div>\n";
  }
  const std::string maps = map_section(page, facts);
  page.sections = {{"map", facts.maps.size() > 1 ? "Maps" : "Map", maps},
                   {"cautions", "Cautions", list_html(report_cautions())},
                   {"tables", "Tables", tables_section(facts)},
                   {"how", "What was tried, and how", how_section(facts)}};
  return page;
}

} // namespace tidemark
