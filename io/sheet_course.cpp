#include "io/sheet_course.hpp"

#include "io/bleeding_text.hpp"
#include "io/filling_course.hpp"
#include "io/resin_use.hpp"
#include "io/shop_units.hpp"
#include "io/short_reason.hpp"
#include "io/spoken.hpp"
#include "io/vent_arrival.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <limits>

namespace tidemark {

namespace {

constexpr std::array<double, 5> fractions{0, 0.25, 0.5, 0.75, 1};
constexpr double never = std::numeric_limits<double>::infinity();

// Gates and vents, in the order things happen.

struct TimedEvent {
  double time; // [s], below 0 for what is done before the start
  SheetEvent event;
};

std::string port_name(const FillProblem& problem, const PortRef& port) {
  return port.kind == PortRef::Kind::gate ? "gate " + name_of(problem.gates[port.index].name)
                                          : "vent " + name_of(problem.vents[port.index].name);
}

/// As many names as a line holds, then how many more there are.
std::string names_of(const std::vector<std::string>& names) {
  std::string text;
  for (std::size_t i = 0; i < names.size(); ++i) {
    const std::string name = (i > 0 ? ", " : "") + name_of(names[i]);
    if (text.size() + name.size() > longest_list) {
      return text + " and " + std::to_string(names.size() - i) + " more";
    }
    text += name;
  }
  return text;
}

bool opens_at_start(const Gate& gate) {
  return !gate.opens.reached && gate.opens.time.value_or(0) <= 0;
}

void add_before_start(std::vector<TimedEvent>& events, const FillProblem& problem) {
  std::vector<double> pressures;
  for (const Vent& vent : problem.vents) {
    if (std::ranges::find(pressures, vent.pressure) == pressures.end()) {
      pressures.push_back(vent.pressure);
    }
  }
  for (const double pressure : pressures) {
    std::vector<std::string> names;
    for (const Vent& vent : problem.vents) {
      if (vent.pressure == pressure) {
        names.push_back(vent.name);
      }
    }
    events.push_back({-1,
                      {"before the start", "",
                       "Open " + std::string(names.size() == 1 ? "vent " : "vents ") +
                           names_of(names) + " to " + as_bar(pressure) + " gauge."}});
  }
  std::vector<std::string> shut;
  std::vector<std::string> open;
  for (const Gate& gate : problem.gates) {
    (opens_at_start(gate) ? open : shut).push_back(gate.name);
  }
  if (!shut.empty()) {
    events.push_back(
        {-1,
         {"before the start", "",
          std::string(shut.size() == 1 ? "Gate " : "Gates ") + names_of(shut) + " shut."}});
  }
  events.push_back({0,
                    {"0:00 min", "",
                     open.empty() ? "Start the clock; no gate is open yet."
                                  : "Open " + std::string(open.size() == 1 ? "gate " : "gates ") +
                                        names_of(open) + ", start the pump and the clock."}});
}

/// "at 1:00 min" as it was set, or what is seen then.
std::string cause_text(const FillProblem& problem, const Moment& moment, std::size_t gate) {
  if (!moment.reached) {
    return "";
  }
  const PortRef& port = *moment.reached;
  if (port == PortRef{PortRef::Kind::gate, gate}) {
    return is_of_several_places(problem, port) ? ", as the resin has come to all of it"
                                               : ", as the resin arrives there";
  }
  return (is_of_several_places(problem, port) ? ", when the resin has come to all of "
                                              : ", when the resin shows at ") +
         port_name(problem, port);
}

/// The prediction takes resin mixed inline in a late pump's hose for fresh.
std::string fresh_hose_text(const Shot& shot, const Gate& gate) {
  const bool has_hose = gate.own_injector && !gate.own_injector->line.empty();
  return has_hose && shot.problem().resin.mixing == Mixing::inline_head
             ? " Fill its hose with resin just mixed shortly before: the prediction counts on it."
             : "";
}

void add_opening(std::vector<TimedEvent>& events, const Shot& shot, std::size_t g) {
  const Gate& gate = shot.problem().gates[g];
  const GateResult& done = shot.result.gates[g];
  const std::string name = "gate " + name_of(gate.name);
  if (!done.opened_at) {
    events.push_back({never, {"not expected", "", "To open " + name + ": it stays shut."}});
    return;
  }
  if (!opens_at_start(gate)) {
    events.push_back(
        {*done.opened_at,
         {as_minutes(*done.opened_at),
          band_or_never(
              shot, [&](const FillResult& r) { return r.gates[g].opened_at; }, as_minutes),
          "Open " + name + (gate.own_injector ? " and start its pump" : "") +
              cause_text(shot.problem(), gate.opens, g) + "." + fresh_hose_text(shot, gate)}});
  }
}

/// Whether a gate's pump has no other one to give through once it closes.
bool leaves_its_pump_none(const Shot& shot, std::size_t g) {
  const FillProblem& problem = shot.problem();
  if (problem.gates[g].own_injector) {
    return true;
  }
  const double closed_at = *shot.result.gates[g].closed_at;
  for (std::size_t other = 0; other < problem.gates.size(); ++other) {
    const GateResult& done = shot.result.gates[other];
    const bool is_open = done.opened_at && *done.opened_at <= closed_at &&
                         !(done.closed_at && *done.closed_at <= closed_at);
    if (other != g && !problem.gates[other].own_injector && is_open) {
      return false;
    }
  }
  return true;
}

void add_closing(std::vector<TimedEvent>& events, const Shot& shot, std::size_t g) {
  const Gate& gate = shot.problem().gates[g];
  const GateResult& done = shot.result.gates[g];
  const bool may_close = gate.closes.time || gate.closes.reached;
  if (may_close && has_closed(shot.problem(), shot.result, g)) {
    const auto closed_at = [&](const FillResult& r) {
      const auto& at = r.gates[g].closed_at;
      return has_closed(shot.problem(), r, g) ? at : std::nullopt;
    };
    const bool stops = leaves_its_pump_none(shot, g);
    events.push_back(
        {*done.closed_at,
         {as_minutes(*done.closed_at), band_or_never(shot, closed_at, as_minutes),
          (stops ? "Stop the pump of gate " : "Close gate ") + name_of(gate.name) +
              (stops ? " and close it" : "") + cause_text(shot.problem(), gate.closes, g) + "."}});
  }
}

/// What to do once resin shows at a vent.
std::string after_arrival(const FillProblem& problem, const FillResult& result, std::size_t v) {
  const Vent& vent = problem.vents[v];
  const double bled = bled_before_gel(problem, result, v);
  if (vent.bleed <= 0) {
    return "close it";
  }
  if (std::isfinite(vent.bleed)) {
    const bool is_less = result.bleeding && result.bleeding->reason != ShortReason::time_limit &&
                         bled < 0.999 * vent.bleed;
    return "let " + as_small_litres(vent.bleed) + " run out, then close it" +
           (is_less ? "; " + (bled > 0 ? "no more than " + as_small_litres(bled) : "nothing") +
                          " is expected to come"
                    : "");
  }
  return "leave it open; " + as_small_litres(bled) + " are expected to run out by " +
         as_minutes(result.end_time) + ", and more as long as the pump runs";
}

void add_vent_event(std::vector<TimedEvent>& events, const Shot& shot, std::size_t v) {
  const FillProblem& problem = shot.problem();
  const std::string name = "vent " + name_of(problem.vents[v].name);
  const VentArrival arrival = vent_arrival(problem, shot.result, v);
  const auto add = [&](std::optional<double> VentArrival::*time, const std::string& what) {
    const auto time_in = [&](const FillResult& result) {
      return vent_arrival(problem, result, v).*time;
    };
    const auto& at = arrival.*time;
    events.push_back(
        at ? TimedEvent{*at, {as_minutes(*at), band_or_never(shot, time_in, as_minutes), what}}
           : TimedEvent{never, {"not expected", "", what}});
  };
  if (!arrival.first) {
    add(&VentArrival::first, "Resin at " + name + ".");
    return;
  }
  const std::string then = after_arrival(problem, shot.result, v) + ".";
  if (!comes_bit_by_bit(arrival)) {
    add(&VentArrival::all, "Resin shows at " + name + ": " + then);
    return;
  }
  add(&VentArrival::first, "Resin first shows at " + name + ": leave it open.");
  add(&VentArrival::all, "Resin has come to all of " + name + ": " + then);
}

void add_end_of_bleeding(std::vector<TimedEvent>& events, const Shot& shot) {
  const FillResult& result = shot.result;
  if (!result.bleeding || result.bleeding->reason == ShortReason::time_limit) {
    return;
  }
  if (const auto gels_at = gels_while_bleeding(shot.problem(), result)) {
    events.push_back({*gels_at,
                      {as_minutes(*gels_at), "",
                       "Before that, stop the pump and close all vents: the resin gels or is too "
                       "thick then."}});
    return;
  }
  const auto ended_at = [](const FillResult& r) {
    return r.bleeding ? r.bleeding->ended_at : std::nullopt;
  };
  if (const auto end = ended_at(result)) {
    events.push_back({*end,
                      {as_minutes(*end), band_of(full_results(shot), ended_at, as_minutes),
                       "The last vent that bleeds has let out what it should: it is closed."}});
    return;
  }
  events.push_back({result.end_time,
                    {as_minutes(result.end_time), "",
                     "No more comes out of the vents, though they have not let out what they "
                     "should: close them."}});
}

} // namespace

std::vector<SheetEvent> order_of(const Shot& shot) {
  std::vector<TimedEvent> events;
  add_before_start(events, shot.problem());
  // At the same time one opens before another closes: no pump is left without a way out.
  for (std::size_t g = 0; g < shot.problem().gates.size(); ++g) {
    add_opening(events, shot, g);
  }
  for (std::size_t g = 0; g < shot.problem().gates.size(); ++g) {
    add_closing(events, shot, g);
  }
  for (std::size_t v = 0; v < shot.problem().vents.size(); ++v) {
    add_vent_event(events, shot, v);
  }
  add_end_of_bleeding(events, shot);
  std::ranges::stable_sort(events, {}, &TimedEvent::time);
  std::vector<SheetEvent> order;
  const std::size_t count = events.size();
  const std::size_t hidden = count > most_events ? count - most_events : 0;
  for (std::size_t i = 0; i < count; ++i) { // the last one says when to stop: it is always shown
    if (i + 1 < most_events || i + 1 == count) {
      order.push_back(events[i].event);
    } else if (i + 1 == most_events) {
      order.push_back({"", "",
                       "and " + std::to_string(hidden) +
                           " more in between, which the page has no room for: tidemark fill tells "
                           "all."});
    }
  }
  return order;
}

namespace {

// The course.

/// As a gauge is read: hundredths of a bar, more where all pressures are low. highest: in the
/// filling [Pa].
std::string gauge_text(double pressure, double highest) {
  if (highest < 2e4) {
    return as_bar(pressure);
  }
  const double shown = std::abs(pressure) < 500 ? 0 : pressure / 1e5; // no minus before a zero
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.2f bar", shown);
  return text.data();
}

std::string strokes_text(double strokes) {
  return strokes < 9.95 ? rough_number(std::round(10 * strokes) / 10)
                        : rough_number(std::round(strokes));
}

template <class Number, class Text>
SheetCell course_cell(const Shot& shot, double fraction, Number number, Text text) {
  const auto value = [&](const FillResult& result) -> std::optional<double> {
    const auto point = course_at(shot.problem(), result, fraction);
    return point ? std::optional(number(*point)) : std::nullopt;
  };
  const auto expected = value(shot.result);
  return {expected ? text(*expected) : "", band_or_never(shot, value, text)};
}

std::vector<SheetCell> course_row(const Shot& shot, double fraction, std::size_t pumps) {
  const auto& stroke = shot.input.machine.stroke_volume;
  std::vector<SheetCell> row{{rough_number(100 * fraction) + " %", ""}};
  row.push_back(course_cell(
      shot, fraction, [](const CoursePoint& p) { return p.time; }, as_minutes));
  for (std::size_t p = 0; p < pumps; ++p) {
    const auto flow = [p](const CoursePoint& point) { return point.pumps[p].flow_rate; };
    const auto pressure = [p](const CoursePoint& point) { return point.pumps[p].pressure; };
    row.push_back(course_cell(shot, fraction, flow, as_litres_per_minute));
    const auto gauge = [&](double value) {
      return gauge_text(value, shot.result.peak_head_pressure);
    };
    row.push_back(course_cell(shot, fraction, pressure, gauge));
  }
  if (stroke && has_common_pump(shot.problem())) {
    const auto strokes = [&](const CoursePoint& p) { return p.pumps.front().volume / *stroke; };
    row.push_back(course_cell(shot, fraction, strokes, strokes_text));
  }
  return row;
}

} // namespace

SheetTable course_of(const Shot& shot) {
  const std::vector<CoursePump> all = course_pumps(shot.problem());
  const std::size_t pumps = std::min(all.size(), most_pumps);
  SheetTable table;
  table.headings = {"Filled", "Time"};
  for (std::size_t p = 0; p < pumps; ++p) {
    const auto& gate = all[p].gate;
    const std::string name = gate ? "gate " + name_of(shot.problem().gates[*gate].name) : "";
    table.headings.push_back(gate ? "Flow, " + name : "Flow");
    table.headings.push_back(gate ? "Head pressure, " + name : "Head pressure");
  }
  if (shot.input.machine.stroke_volume && has_common_pump(shot.problem())) {
    table.headings.emplace_back("Strokes so far");
  }
  for (const double fraction : fractions) {
    table.rows.push_back(course_row(shot, fraction, pumps));
  }
  return table;
}

std::string band_text(const Shot& shot) {
  const std::string factor = rough_number(shot.band.factor);
  return "In brackets: the same filling computed with reinforcement " + factor +
         " times less and " + factor +
         " times more permeable (runners and gaps as they are); fabrics of one kind commonly "
         "scatter by 30 to 45 % (common practice, no source). Other faults are not in it. Flow and "
         "pressure at 0 % are those after 1 % of the time, at 100 % those at 99 %.";
}

} // namespace tidemark
