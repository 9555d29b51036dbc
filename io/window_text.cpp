#include "io/window_text.hpp"

#include "io/closing_direction.hpp"
#include "io/number_text.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/text_table.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

namespace tidemark {

namespace {

/// Told as "4:51 min", not in seconds or hours.
bool is_in_minutes(double seconds) {
  return as_minutes(seconds).find(':') != std::string::npos;
}

/// "4:51", without the unit; in seconds or hours with it.
std::string bare_minutes(double seconds) {
  const std::string text = as_minutes(seconds);
  return is_in_minutes(seconds) ? text.substr(0, text.find(' ')) : text;
}

std::string in_map(const TriedPoint& point) {
  if (point.outcome == Outcome::fills) {
    return point.fill_time ? bare_minutes(*point.fill_time) : "fills";
  }
  return map_word(point.outcome);
}

std::string litres_per_minute(double flow) {
  const std::string text = as_litres_per_minute(flow);
  return text.substr(0, text.find(' '));
}

/// At most nine of the points of an axis, evenly, with both ends.
std::vector<std::size_t> shown_points(std::size_t count) {
  constexpr std::size_t most = 9;
  std::vector<std::size_t> shown;
  const std::size_t steps = std::min(count, most) - 1;
  for (std::size_t k = 0; k <= steps; ++k) {
    shown.push_back((k * (count - 1) + steps / 2) / steps);
  }
  return shown;
}

/// What stands in the map, a line each.
std::string legend_of(const WindowMap& map) {
  const std::vector<std::size_t> shown = shown_points(map.shape.points);
  const bool all_in_minutes = std::ranges::all_of(shown, [&](std::size_t j) {
    return std::ranges::all_of(
        shown, [&](std::size_t i) { return is_in_minutes(map.grid(i, j).fill_time.value_or(60)); });
  });
  std::string text = all_in_minutes ? "  minutes: to fill\n"
                                    : "  a time: to fill, in minutes where no unit stands\n";
  for (const Outcome outcome : faults_in_order) {
    const bool is_there = std::ranges::any_of(shown, [&](std::size_t j) {
      return std::ranges::any_of(shown,
                                 [&](std::size_t i) { return map.grid(i, j).outcome == outcome; });
    });
    text += is_there
                ? std::string("  ") + map_word(outcome) + ": " + outcome_meaning(outcome) + "\n"
                : "";
  }
  return text;
}

/// To a hundredth where that tells the points of the axis apart.
std::string cap_text(const WindowShape& shape, double cap) {
  constexpr double wide = 2e4; // [Pa]
  if (shape.cap.high - shape.cap.low < wide) {
    return as_bar(cap);
  }
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.2f bar", cap / 1e5);
  return text.data();
}

} // namespace

std::vector<TextRow> window_map_rows(const WindowMap& map) {
  const std::vector<std::size_t> shown = shown_points(map.shape.points);
  std::vector<TextRow> table{{"cap"}};
  for (const std::size_t i : shown) {
    table.front().push_back(litres_per_minute(map.grid(i, 0).flow_rate));
  }
  table.front().back() += " L/min";
  for (auto j = shown.rbegin(); j != shown.rend(); ++j) {
    TextRow& row = table.emplace_back();
    row.push_back(cap_text(map.shape, map.grid(0, *j).pressure_cap));
    for (const std::size_t i : shown) {
      row.push_back(in_map(map.grid(i, *j)));
    }
  }
  return table;
}

std::vector<TextRow> window_time_rows(const WindowMap& map) {
  std::vector<double> times;
  for (const WindowLine& line : map.contours) {
    if (std::ranges::find(times, *line.fill_time) == times.end()) {
      times.push_back(*line.fill_time);
    }
  }
  if (times.empty()) {
    return {};
  }
  std::ranges::sort(times);
  std::vector<TextRow> table{{"cap"}};
  for (const double time : times) {
    table.front().push_back(bare_minutes(time));
  }
  table.front().back() += is_in_minutes(times.back()) ? " min" : "";
  const std::vector<std::size_t> shown = shown_points(map.shape.points);
  bool has_any = false; // where the caps alone decide on the time there is no flow to tell
  for (auto j = shown.rbegin(); j != shown.rend(); ++j) {
    TextRow& row = table.emplace_back(TextRow{cap_text(map.shape, map.grid(0, *j).pressure_cap)});
    for (const double time : times) {
      const auto flow = std::ranges::find_if(map.contour_flows, [&](const ContourFlow& contour) {
        return contour.row == *j && contour.fill_time == time;
      });
      has_any = has_any || flow != map.contour_flows.end();
      row.push_back(flow != map.contour_flows.end()
                        ? litres_per_minute(flow->flow_rate) + (flow->is_safe ? "" : " !")
                    : has_gap(map, *j) ? "?"
                                       : "-");
    }
  }
  return has_any ? table : std::vector<TextRow>{};
}

std::string window_times_heading(const WindowMap& map) {
  bool is_whole = true;
  for (std::size_t j = 0; j < map.shape.points; ++j) {
    is_whole = is_whole && !has_gap(map, j);
  }
  return std::string("The flow rate in L/min that fills the part in such a time (!: not safely; -: "
                     "none in the range") +
         (is_whole ? ")" : "; ?: not tried, the run was broken off)");
}

namespace {

std::string contour_table(const WindowMap& map) {
  const std::vector<TextRow> table = window_time_rows(map);
  return table.empty() ? "" : "\n" + window_times_heading(map) + ":\n" + table_text(table);
}

std::string ratio_text(double ratio) {
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.0f %%", 100 * std::abs(ratio - 1));
  return text.data();
}

/// "down to 0.8 L/min (-20 %): below, short: gel".
std::string margin_text(const Margin& margin, bool is_down, const std::string& limit,
                        double ratio) {
  const std::string word = is_down ? "down to " : "up to ";
  const std::string beyond = is_down ? "below: " : "above: ";
  return word + limit + " (" + (is_down ? "-" : "+") + ratio_text(ratio) + "; " +
         (margin.fault ? beyond + outcome_words(*margin.fault)
                       : std::string("the end of the range tried")) +
         ")";
}

/// What becomes of the part there, without the setting itself.
std::string point_text(const TriedPoint& point) {
  std::string text = outcome_words(point.outcome);
  if (text.starts_with("short")) {
    text = "is " + text;
  }
  if (point.fill_time) {
    text +=
        (point.outcome == Outcome::fills ? " in " : ", full at ") + as_minutes(*point.fill_time);
  }
  if (point.peak_head_pressure) {
    text += ", head up to " + as_bar(*point.peak_head_pressure);
  }
  if (point.time_cap_reached) {
    const bool is_at_once = *point.time_cap_reached < 1e-6 * point.fill_time.value_or(1);
    text += ", at the cap from " +
            (is_at_once ? std::string("the start") : as_minutes(*point.time_cap_reached));
  }
  if (point.peak_force) {
    text += *point.peak_force > 0 ? ", opening force up to " + as_kilonewtons(*point.peak_force)
                                  : std::string(", nothing pushes the mould open");
  }
  if (point.gel_share && *point.gel_share > 0) {
    text += ", gel at " + three_digits(1 / *point.gel_share) + " times the age of the oldest resin";
  }
  return text + ".\n";
}

std::string setting_text(const TriedPoint& point) {
  return as_litres_per_minute(point.flow_rate) + " and a cap of " + as_bar(point.pressure_cap);
}

/// A limit told in steps so large, rounded to the safe side; the end of what was tried as it is.
double told_limit(const Margin& margin, double step, bool is_down) {
  if (!margin.fault) {
    return margin.limit;
  }
  const double steps = margin.limit / step;
  const double rounding = 1e-9 * std::abs(steps);
  return step * (is_down ? std::ceil(steps - rounding) : std::floor(steps + rounding));
}

} // namespace

WindowMargins window_margins(const WindowMap& map) {
  const Recommendation& chosen = *map.recommended;
  const TriedPoint& point = map.points[chosen.point];
  const double front = map.shape.cap.zero;
  const auto flow = [&](const Margin& margin, bool is_down) {
    const double unit = std::pow(10, std::floor(std::log10(6e4 * margin.limit)) - 2) / 6e4;
    return margin_text(margin, is_down, as_litres_per_minute(told_limit(margin, unit, is_down)),
                       margin.limit / point.flow_rate);
  };
  const auto cap = [&](const Margin& margin, bool is_down) {
    const double unit = std::abs(margin.limit) < 1e4 ? 10 : 1e3; // as as_bar tells it [Pa]
    return margin_text(margin, is_down, as_bar(told_limit(margin, unit, is_down)),
                       (margin.limit - front) / (point.pressure_cap - front));
  };
  return {flow(chosen.flow_down, true), flow(chosen.flow_up, false), cap(chosen.cap_down, true),
          cap(chosen.cap_up, false)};
}

namespace {

/// A full part comes to the cap of a pump that stays on.
std::string stop_text(const WindowLimits& limits, const TriedPoint& point) {
  const bool opens_later = limits.hold_down_force && point.outcome != Outcome::opens_mould &&
                           point.force_left_on > *limits.hold_down_force;
  return opens_later
             ? "  Stop the pump when the part is full: left on, it would push the mould open.\n"
             : "";
}

std::string recommended_text(const WindowFacts& facts, const WindowMap& map) {
  if (!map.recommended) {
    return facts.was_interrupted ? "" : "\nNo setting of this range is safe.\n";
  }
  const Recommendation& chosen = *map.recommended;
  const TriedPoint& point = map.points[chosen.point];
  const double front = map.shape.cap.zero;
  std::string text =
      "\nIn the middle of what is safe: " + setting_text(point) + ".\n  It " + point_text(point);
  std::array<char, 40> clearance{};
  std::snprintf(clearance.data(), clearance.size(), "%.2f", chosen.clearance);
  text += "  The nearest border or end of the range is a factor of " +
          std::string(clearance.data()) + " away, of flow rate and of cap above the air (" +
          as_bar(front) + ").\n";
  const WindowMargins margins = window_margins(map);
  text += "  Flow rate alone: " + margins.flow_down + ", " + margins.flow_up + ".\n";
  text += "  Cap alone: " + margins.cap_down + ", " + margins.cap_up + ".\n";
  return text + stop_text(facts.limits, point);
}

} // namespace

std::string window_mould_text(const WindowFacts& facts) {
  const WindowLimits& limits = facts.limits;
  if (limits.is_seen_edge_on) {
    return std::string("How hard the resin pushes the mould open cannot be told: ") + edge_on_text +
           ". Whether it is pushed open was not looked at.\n";
  }
  if (!(limits.projected_area > 0)) {
    return "";
  }
  if (!limits.hold_down_force) {
    return "It is not said what holds the mould shut: whether it is pushed open was not looked "
           "at.\n";
  }
  std::string text = "The mould is held shut with " + as_kilonewtons(*limits.hold_down_force) +
                     (limits.mould_margin > 0
                          ? ", " + plain_number(100 * limits.mould_margin) + " %" + " kept in hand"
                          : "") +
                     ".";
  if (limits.fibre_force > 0) {
    text += " The fibres alone push it open with " + as_kilonewtons(limits.fibre_force) +
            ", which counts in every opening force here.";
  }
  const std::string uncounted =
      limits.uncounted_fibres.empty() ? "" : " " + limits.uncounted_fibres + ".";
  if (!(limits.safe_cap > 0.0)) {
    text += " Only vacuum in the cavity could keep it shut.";
  } else if (limits.has_one_cap) {
    text += " A cap below " + as_bar_at_most(*limits.safe_cap) +
            " cannot open it, even if the pump stays on when the part is full.";
  }
  return text + uncounted + "\n";
}

namespace {

std::string force_text(const WindowOfValue& window) {
  const auto& by_curve = window.map.points[window.check->point].peak_force;
  const auto& by_run = window.check->run.peak_force;
  return by_curve && by_run
             ? ", in the highest opening force by " +
                   as_kilonewtons(std::abs(*by_curve - *by_run)) +
                   " (it climbs while the last cells fill, where either takes steps of its own)"
             : "";
}

std::string check_text(const WindowOfValue& window) {
  if (!window.check) {
    return "";
  }
  const auto& by_curve = window.map.points[window.check->point].fill_time;
  const auto& by_run = window.check->run.fill_time;
  if (!by_curve || !by_run) {
    return "";
  }
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.2g %%", 100 * std::abs(*by_curve / *by_run - 1));
  return "  A full run there differs in fill time by " + std::string(text.data()) +
         force_text(window) + ".\n";
}

} // namespace

std::string window_how_text(const WindowFacts& facts) {
  if (facts.curve) {
    return "All points follow from the resistance curve of one filling, exact but for the steps: "
           "one head, one air\npressure, nothing switches on the way and the resin has one "
           "viscosity at a time, so that the wet\nshape depends on the injected volume alone.\n";
  }
  if (!facts.obstacle && !facts.full_runs_wanted) {
    return "";
  }
  return "Every point is a full run (" + counted(facts.runs, "run", "runs") + "), since " +
         (facts.obstacle ? obstacle_words(*facts.obstacle) : "--full-runs asks for it") + ".\n" +
         (facts.obstacle == CurveObstacle::schedule
              ? "The axes set what the pump begins with; what the schedule sets later stays.\n"
              : "");
}

std::string window_range_text(const WindowFacts& facts) {
  const WindowShape& shape = facts.shape;
  const WindowLimits& limits = facts.limits;
  const auto origin = [](bool is_given, bool is_cut) {
    return std::string(is_given ? ""
                       : is_cut ? ", round the case's, as far as the machine goes"
                                : ", from half to twice the case's") +
           ".\n";
  };
  const auto ends_at = [](const WindowAxis& axis, const std::optional<double>& most) {
    return most && axis.high == *most;
  };
  return "Flow rate from " + as_litres_per_minute(shape.flow.low) + " to " +
         as_litres_per_minute(shape.flow.high) +
         origin(facts.is_flow_given, ends_at(shape.flow, limits.max_flow_rate)) +
         "Pressure cap from " + as_bar(shape.cap.low) + " to " + as_bar(shape.cap.high) +
         ", with air of " + as_bar(shape.cap.zero) + " ahead of the resin" +
         origin(facts.is_cap_given, ends_at(shape.cap, limits.max_pressure));
}

std::string window_value_text(const WindowFacts& facts, const WindowOfValue& window) {
  return facts.third_axis.empty()
             ? ""
             : "At " + window.value + " (" + facts.third_axis + "): viscosity " +
                   as_viscosity(window.viscosity) +
                   (window.gel_time ? ", gel at " + as_minutes(*window.gel_time) : "");
}

std::string window_choice_text(const WindowFacts& facts, const WindowOfValue& window) {
  std::string text = recommended_text(facts, window.map);
  text += window.map.recommended ? check_text(window) : "";
  if (window.as_set) {
    const TriedPoint& point = window.map.points[*window.as_set];
    text += "As the case is set, " + setting_text(point) + ": it " + point_text(point) +
            stop_text(facts.limits, point);
  }
  return text + (window.map.recommended ? "" : check_text(window));
}

std::string window_tolerance_text(const WindowFacts& facts) {
  std::array<char, 40> tolerance{};
  std::snprintf(tolerance.data(), tolerance.size(), "%g %%", 100 * facts.shape.tolerance);
  const std::size_t usual = facts.curve ? points_by_curve : points_by_full_runs;
  const std::string points = std::to_string(facts.shape.points);
  return "Borders are known to " + std::string(tolerance.data()) +
         " of the flow rate or of the cap above the air" +
         (facts.shape.points < usual
              ? " on the lines of the grid.\nWith " + points +
                    " points along each axis (left out: " + std::to_string(usual) +
                    ") they may be farther off in between: with 3 up to 7 %.\n"
              : ".\n");
}

namespace {

std::string one_map(const WindowFacts& facts, const WindowOfValue& window) {
  const std::string value = window_value_text(facts, window);
  std::string text = "\n" + (value.empty() ? "" : value + "\n");
  text += table_text(window_map_rows(window.map)) + legend_of(window.map) +
          window_choice_text(facts, window);
  return text + contour_table(window.map);
}

} // namespace

std::string window_text(const WindowFacts& facts) {
  std::string text =
      facts.title + ": process window\n\n" + window_range_text(facts) + window_how_text(facts);
  for (const WindowOfValue& window : facts.maps) {
    text += one_map(facts, window);
  }
  text += facts.maps.empty() ? "" : "\n" + window_tolerance_text(facts);
  text += window_mould_text(facts) + (facts.air_caution.empty() ? "" : facts.air_caution + "\n") +
          warnings_text(facts.warnings);
  return text + "\nFabrics of one kind commonly scatter by 30 to 45 % in permeability, and borders "
                "follow.\n"
                "A prediction is no substitute for a trial shot. Never exceed the rating of mould, "
                "clamps, hoses and pump.\n";
}

} // namespace tidemark
