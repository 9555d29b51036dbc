#include "io/filling_course.hpp"

#include "io/resin_use.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace tidemark {

bool has_common_pump(const FillProblem& problem) {
  return std::ranges::any_of(problem.gates, [](const Gate& gate) { return !gate.own_injector; });
}

const Injector& injector_of(const FillProblem& problem, const CoursePump& pump) {
  return pump.gate ? *problem.gates[*pump.gate].own_injector : problem.injector;
}

CapTime cap_time_of(const FillResult& result, const CoursePump& pump) {
  return pump.gate ? result.gates[*pump.gate].at_cap
                   : CapTime{result.time_at_cap, result.time_cap_reached};
}

std::string place_of_head(const FillProblem& problem, const CoursePump& pump) {
  return pump.gate ? "the pump of gate " + problem.gates[*pump.gate].name : "the mixing head";
}

namespace {

/// Mean over the step of a row [m3/s].
double flow_of_pump(const FillProblem& problem, const HistoryRow& row, const CoursePump& pump) {
  if (pump.gate) {
    return row.gates[*pump.gate].flow_rate;
  }
  double flow = 0;
  for (std::size_t g = 0; g < row.gates.size(); ++g) {
    flow += problem.gates[g].own_injector ? 0 : row.gates[g].flow_rate;
  }
  return flow;
}

PumpReading reading_of(const FillProblem& problem, const HistoryRow& row, const CoursePump& pump) {
  return {flow_of_pump(problem, row, pump),
          pump.gate ? row.gates[*pump.gate].head.value_or(row.gates[*pump.gate].pressure)
                    : row.head_pressure,
          0};
}

/// The state at the end of a step; volumes from the mean flows of the steps so far.
CoursePoint point_after(const FillProblem& problem, const std::vector<CoursePump>& pumps,
                        const CoursePoint& before, const HistoryRow& row) {
  CoursePoint point{row.filled_fraction, row.time, {}};
  for (std::size_t p = 0; p < pumps.size(); ++p) {
    PumpReading reading = reading_of(problem, row, pumps[p]);
    const double volume_before = before.pumps.empty() ? 0 : before.pumps[p].volume;
    reading.volume = volume_before + reading.flow_rate * (row.time - before.time);
    point.pumps.push_back(reading);
  }
  return point;
}

/// Resin that filled a gate's own cells at once as it opened, which the flow of no step tells [m3].
double filled_at_once(const FillResult& result, std::size_t gate) {
  double volume = result.gates[gate].injected;
  double time = 0;
  for (const HistoryRow& row : result.history) {
    volume -= row.gates[gate].flow_rate * (row.time - time);
    time = row.time;
  }
  return std::max(volume, 0.0);
}

void add_what_fills_at_once(const FillProblem& problem, const FillResult& result,
                            const std::vector<CoursePump>& pumps,
                            std::vector<CoursePoint>& points) {
  for (std::size_t g = 0; g < result.gates.size(); ++g) {
    const auto pump = std::ranges::find_if(pumps, [&](const CoursePump& one) {
      return one.gate ? *one.gate == g : !problem.gates[g].own_injector;
    });
    const double volume = filled_at_once(result, g);
    for (CoursePoint& point : points) {
      const bool is_after = result.gates[g].opened_at && point.time > *result.gates[g].opened_at;
      point.pumps[static_cast<std::size_t>(pump - pumps.begin())].volume += is_after ? volume : 0;
    }
  }
}

} // namespace

std::vector<CoursePoint> course_points(const FillProblem& problem, const FillResult& result) {
  const std::vector<CoursePump> pumps = course_pumps(problem);
  std::vector<CoursePoint> points;
  for (const HistoryRow& row : result.history) {
    points.push_back(
        point_after(problem, pumps, points.empty() ? CoursePoint{} : points.back(), row));
  }
  add_what_fills_at_once(problem, result, pumps, points);
  if (!points.empty()) {
    CoursePoint start = points.front();
    start.filled_fraction = 0;
    start.time = 0;
    std::ranges::for_each(start.pumps, [](PumpReading& reading) { reading.volume = 0; });
    points.insert(points.begin(), start);
  }
  return points;
}

namespace {

double between(double from, double to, double share) {
  return from + share * (to - from);
}

CoursePoint between(const CoursePoint& from, const CoursePoint& to, double fraction) {
  const double span = to.filled_fraction - from.filled_fraction;
  const double share = span > 0 ? (fraction - from.filled_fraction) / span : 1;
  CoursePoint point{fraction, between(from.time, to.time, share), {}};
  for (std::size_t p = 0; p < to.pumps.size(); ++p) {
    const PumpReading& a = from.pumps[p];
    const PumpReading& b = to.pumps[p];
    point.pumps.push_back({between(a.flow_rate, b.flow_rate, share),
                           between(a.pressure, b.pressure, share),
                           between(a.volume, b.volume, share)});
  }
  return point;
}

/// Straight between the rows; number(row) rises from 0.
template <class From, class To>
double read_off(const std::vector<HistoryRow>& history, double at, From from, To to) {
  double from_before = 0;
  double to_before = 0;
  for (const HistoryRow& row : history) {
    if (from(row) >= at) {
      const double span = from(row) - from_before;
      return between(to_before, to(row), span > 0 ? (at - from_before) / span : 1);
    }
    from_before = from(row);
    to_before = to(row);
  }
  return to_before;
}

/// Filled fraction from which flows are told, see near_start.
double told_start(const std::vector<HistoryRow>& history) {
  const auto time = [](const HistoryRow& row) { return row.time; };
  const auto filled = [](const HistoryRow& row) { return row.filled_fraction; };
  const double all = history.back().filled_fraction;
  const double at_end = read_off(history, near_end * all, filled, time);
  return std::max(near_start * all, read_off(history, near_start * at_end, time, filled));
}

double told_fraction(const std::vector<HistoryRow>& history, double filled_fraction) {
  const double last = near_end * history.back().filled_fraction;
  return std::clamp(filled_fraction, std::min(told_start(history), last), last);
}

/// Straight in 1 / flow, or in the flow where there is none at one end.
double flow_between(double from, double to, double share) {
  return from > 0 && to > 0 ? 1 / between(1 / from, 1 / to, share) : between(from, to, share);
}

CoursePoint state_at(const std::vector<CoursePoint>& points, double fraction) {
  const auto after = std::ranges::find_if(
      points, [&](const CoursePoint& point) { return point.filled_fraction >= fraction; });
  if (after == points.end()) {
    return points.back();
  }
  return after == points.begin() ? *after : between(*(after - 1), *after, fraction);
}

/// Some steps of the history together.
struct Stretch {
  double from, to; // filled fraction
  double volume = 0, duration = 0;

  double middle() const { return 0.5 * (from + to); }
  double flow() const { return duration > 0 ? volume / duration : 0; }
};

/// Rows of a history from first to before end.
struct RowRange {
  std::size_t first, end;
};

double filled_before(const std::vector<HistoryRow>& history, std::size_t row) {
  return row > 0 ? history[row - 1].filled_fraction : 0;
}

double time_before(const std::vector<HistoryRow>& history, std::size_t row) {
  return row > 0 ? history[row - 1].time : 0;
}

/// Steps joined to half a per cent and more: of a few cells alone the flow goes up and down. Steps
/// in which nothing is filled are left out.
std::vector<Stretch> stretches_of(const std::vector<HistoryRow>& history, RowRange range,
                                  const std::function<double(const HistoryRow&)>& flow_of) {
  const double least = 0.005 * history.back().filled_fraction;
  std::vector<Stretch> stretches;
  double time = time_before(history, range.first);
  double filled = filled_before(history, range.first);
  for (std::size_t i = range.first; i < range.end; ++i) {
    const HistoryRow& row = history[i];
    if (row.filled_fraction > filled) {
      const bool is_last = history[range.end - 1].filled_fraction - filled < least;
      const bool is_begun =
          !stretches.empty() && (is_last || stretches.back().to - stretches.back().from < least);
      if (!is_begun) {
        stretches.push_back({filled, filled});
      }
      Stretch& stretch = stretches.back();
      stretch.to = row.filled_fraction;
      stretch.volume += flow_of(row) * (row.time - time);
      stretch.duration += row.time - time;
      filled = row.filled_fraction;
    }
    time = row.time;
  }
  return stretches;
}

/// Gates that were opened or closed and stages that took over before a step that begins there.
std::size_t switches_before(const FillProblem& problem, const FillResult& result,
                            const std::vector<CoursePump>& pumps, const CoursePoint& begin) {
  constexpr double slack = 1 + 1e-9; // steps end at a switch, to rounding
  const double time = begin.time * slack;
  std::size_t count = 0;
  for (const GateResult& gate : result.gates) {
    count += gate.opened_at && *gate.opened_at <= time ? 1 : 0;
    count += gate.closed_at && *gate.closed_at <= time ? 1 : 0;
  }
  for (std::size_t p = 0; p < pumps.size(); ++p) {
    const std::vector<InjectorStage>& stages = injector_of(problem, pumps[p]).stages;
    const auto waiting = std::ranges::find_if(stages, [&](const InjectorStage& stage) {
      return stage.from_time.value_or(0) > time ||
             stage.from_volume.value_or(0) > begin.pumps[p].volume * slack;
    });
    count += static_cast<std::size_t>(waiting - stages.begin());
  }
  return count;
}

/// The rows before the first switch of a gate or a stage, those from there to the next, and so on.
std::vector<RowRange> between_switches(const FillProblem& problem, const FillResult& result) {
  const std::vector<CoursePump> pumps = course_pumps(problem);
  const std::vector<CoursePoint> points = course_points(problem, result); // one more than rows
  std::vector<RowRange> ranges;
  std::size_t count = 0;
  for (std::size_t i = 0; i < result.history.size(); ++i) {
    const std::size_t before = switches_before(problem, result, pumps, points[i]);
    if (ranges.empty() || before != count) {
      ranges.push_back({i, i});
    }
    ranges.back().end = i + 1;
    count = before;
  }
  return ranges;
}

/// Age at the end of what came last into a pump's hose of this volume [s].
double age_behind(const std::vector<CoursePoint>& points, std::size_t pump, double volume) {
  const CoursePoint& end = points.back();
  const double wanted = end.pumps[pump].volume - volume; // let in when that resin passed the head
  for (std::size_t i = 1; i < points.size(); ++i) {
    const double before = points[i - 1].pumps[pump].volume;
    const double after = points[i].pumps[pump].volume;
    if (after > wanted) {
      const double share = std::max(0.0, (wanted - before) / (after - before));
      return end.time - between(points[i - 1].time, points[i].time, share);
    }
  }
  return 0;
}

} // namespace

std::vector<CoursePump> course_pumps(const FillProblem& problem) {
  std::vector<CoursePump> pumps;
  for (std::size_t g = 0; g < problem.gates.size(); ++g) {
    if (problem.gates[g].own_injector) {
      pumps.push_back({g});
    }
  }
  if (pumps.size() < problem.gates.size()) {
    pumps.insert(pumps.begin(), CoursePump{});
  }
  return pumps;
}

namespace {

double flow_at(const std::vector<Stretch>& stretches, double wanted) {
  const auto after = std::ranges::find_if(
      stretches, [&](const Stretch& stretch) { return stretch.middle() >= wanted; });
  if (after == stretches.begin() || after == stretches.end()) {
    return stretches.empty() ? 0 : (after == stretches.end() ? stretches.back() : *after).flow();
  }
  const Stretch& before = *(after - 1);
  return flow_between(before.flow(), after->flow(),
                      (wanted - before.middle()) / (after->middle() - before.middle()));
}

/// As told_flows, of rows between two switches.
std::vector<double> flows_between(const FillResult& result, const RowRange& range,
                                  const std::function<double(const HistoryRow&)>& flow_of) {
  const std::vector<HistoryRow>& history = result.history;
  const std::vector<Stretch> stretches = stretches_of(history, range, flow_of);
  std::vector<double> flows;
  for (std::size_t i = range.first; i < range.end; ++i) {
    const double filled = history[i].filled_fraction;
    const double told = told_fraction(history, filled);
    const double flow = flow_of(history[i]);
    const bool is_noise = result.verdict == Verdict::filled && told != filled &&
                          filled > filled_before(history, i) && flow > 0;
    flows.push_back(is_noise ? flow_at(stretches, told) : flow);
  }
  return flows;
}

} // namespace

double flow_when(const std::vector<HistoryRow>& history, double filled_fraction,
                 const std::function<double(const HistoryRow&)>& flow_of) {
  return history.empty() ? 0
                         : flow_at(stretches_of(history, {0, history.size()}, flow_of),
                                   told_fraction(history, filled_fraction));
}

std::vector<ToldFlow> told_flows(const FillProblem& problem, const FillResult& result,
                                 const std::function<double(const HistoryRow&)>& flow_of) {
  std::vector<ToldFlow> told;
  for (const RowRange& range : between_switches(problem, result)) {
    const std::vector<double> flows = flows_between(result, range, flow_of);
    if (range.first > 0) {
      told.push_back({range.first - 1, flows.front()});
    }
    for (std::size_t i = 0; i < flows.size(); ++i) {
      told.push_back({range.first + i, flows[i]});
    }
  }
  return told;
}

std::optional<double> opening_force_when(const std::vector<HistoryRow>& history,
                                         double filled_fraction) {
  double filled = 0;
  double middle_before = 0;
  std::optional<double> force_before;
  for (const HistoryRow& row : history) {
    const double middle = 0.5 * (filled + row.filled_fraction);
    filled = row.filled_fraction;
    if (!row.opening_force) {
      return std::nullopt;
    }
    if (middle >= filled_fraction) {
      return force_before && middle > middle_before
                 ? between(*force_before, *row.opening_force,
                           (filled_fraction - middle_before) / (middle - middle_before))
                 : *row.opening_force;
    }
    middle_before = middle;
    force_before = row.opening_force;
  }
  return std::nullopt;
}

FlowEnds flow_ends(const std::vector<HistoryRow>& history) {
  const auto all = [](const HistoryRow& row) { return row.flow_rate; };
  return {flow_when(history, 0, all), flow_when(history, 1, all)};
}

std::optional<CoursePoint> course_at(const FillProblem& problem, const FillResult& result,
                                     double filled_fraction) {
  const std::vector<CoursePoint> points = course_points(problem, result);
  if (points.empty()) {
    return std::nullopt;
  }
  const bool is_end = filled_fraction >= 1;
  if (is_end ? result.verdict != Verdict::filled
             : points.back().filled_fraction < filled_fraction) {
    return std::nullopt;
  }
  const double all = points.back().filled_fraction; // rows in which vents bleed on come after it
  CoursePoint point = state_at(points, is_end ? all : filled_fraction);
  const CoursePoint told = state_at(points, told_fraction(result.history, filled_fraction));
  const std::vector<CoursePump> pumps = course_pumps(problem);
  for (std::size_t p = 0; p < pumps.size(); ++p) {
    point.pumps[p].pressure = told.pumps[p].pressure;
    point.pumps[p].flow_rate =
        flow_when(result.history, filled_fraction,
                  [&](const HistoryRow& row) { return flow_of_pump(problem, row, pumps[p]); });
  }
  return point;
}

std::optional<CoursePoint> course_end(const FillProblem& problem, const FillResult& result) {
  const std::vector<CoursePoint> points = course_points(problem, result);
  return points.empty() ? std::nullopt : std::optional(points.back());
}

namespace {

/// The cap at which a pump without a hose fills the cells of a gate at once; none if it did not.
std::optional<double> cap_at_once(const FillProblem& problem, const FillResult& result,
                                  std::size_t gate) {
  constexpr double rounding = 1e-9;
  const std::optional<Injector>& own = problem.gates[gate].own_injector;
  return filled_at_once(result, gate) > rounding * result.gates[gate].injected
             ? (own ? *own : problem.injector).pressure_cap
             : std::nullopt;
}

} // namespace

GatePressures gate_pressures(const FillProblem& problem, const FillResult& result, std::size_t g) {
  const GateResult& gate = result.gates[g];
  GatePressures highest;
  double idle = -std::numeric_limits<double>::infinity();
  for (const HistoryRow& row : result.history) {
    if (g >= row.gates.size()) {
      continue;
    }
    const double flow_rate = row.gates[g].flow_rate;
    const double pressure = row.gates[g].pressure;
    const bool is_open = gate.opened_at && row.time > *gate.opened_at &&
                         row.time <= gate.closed_at.value_or(result.end_time);
    if (flow_rate != 0) {
      highest.giving = std::max(highest.giving.value_or(pressure), pressure);
    } else {
      idle = std::max(idle, pressure);
      highest.shut = is_open ? std::max(highest.shut.value_or(pressure), pressure) : highest.shut;
    }
  }
  if (idle < gate.peak_pressure) { // it comes from the gate's own pump, perhaps between two rows
    return {gate.peak_pressure, std::nullopt};
  }
  if (const auto cap = cap_at_once(problem, result, g)) {
    highest.giving = std::max(highest.giving.value_or(*cap), *cap);
  }
  if (highest.giving && highest.shut.value_or(0) <= *highest.giving) {
    highest.shut.reset();
  }
  return highest;
}

namespace {

/// Highest pressure at the head of a pump while it gives resin [Pa gauge]; none if it never does.
std::optional<double> peak_of(const FillProblem& problem, const FillResult& result,
                              const CoursePump& pump) {
  std::optional<double> peak;
  for (const HistoryRow& row : result.history) {
    if (flow_of_pump(problem, row, pump) > 0) {
      const double pressure = reading_of(problem, row, pump).pressure;
      peak = std::max(peak.value_or(pressure), pressure);
    }
  }
  for (std::size_t g = 0; g < result.gates.size(); ++g) {
    const bool is_fed = pump.gate ? *pump.gate == g : !problem.gates[g].own_injector;
    const auto cap = is_fed ? cap_at_once(problem, result, g) : std::nullopt;
    peak = cap ? std::max(peak.value_or(*cap), *cap) : peak;
  }
  return peak;
}

/// As peak_till_near_end, of one pump whose peak that is.
double till_near_end_of(const FillProblem& problem, const FillResult& result,
                        const CoursePump& pump, double peak) {
  if (result.history.empty() || result.bleeding) {
    return peak;
  }
  const bool is_one = course_pumps(problem).size() < 2;
  const auto pressure_in = [&](const HistoryRow& row) {
    return is_one ? row.head_pressure : reading_of(problem, row, pump).pressure;
  };
  const double last = near_end * result.history.back().filled_fraction;
  double highest = -std::numeric_limits<double>::infinity();
  double after = highest;
  const HistoryRow* before = nullptr;
  for (const HistoryRow& row : result.history) {
    const double pressure = pressure_in(row);
    const bool gives = is_one || flow_of_pump(problem, row, pump) > 0;
    if (gives && row.filled_fraction <= last) {
      highest = std::max(highest, pressure);
    } else if (gives) {
      after = std::max(after, pressure);
    }
    if (before && before->filled_fraction <= last && row.filled_fraction > last) {
      const double share =
          (last - before->filled_fraction) / (row.filled_fraction - before->filled_fraction);
      highest = std::max(highest, between(pressure_in(*before), pressure, share));
    }
    before = &row;
  }
  return std::isfinite(highest) && after > highest ? std::min(highest, peak) : peak;
}

} // namespace

double peak_at_head(const FillProblem& problem, const FillResult& result) {
  const std::vector<CoursePump> pumps = course_pumps(problem);
  if (pumps.size() < 2 || pumps.front().gate) {
    return result.peak_head_pressure;
  }
  return peak_of(problem, result, pumps.front()).value_or(result.peak_head_pressure);
}

double peak_till_near_end(const FillProblem& problem, const FillResult& result) {
  const double peak = peak_at_head(problem, result);
  const std::vector<CoursePump> pumps = course_pumps(problem);
  const bool is_of_several = pumps.size() > 1 && pumps.front().gate; // the history has one of them
  return is_of_several ? peak : till_near_end_of(problem, result, pumps.front(), peak);
}

std::optional<double> time_of_share(const std::vector<HistoryRow>& history, double share) {
  double time = 0;
  double fraction = 0;
  for (const HistoryRow& row : history) {
    if (row.filled_fraction >= share) {
      const double rise = row.filled_fraction - fraction;
      return rise > 0 ? time + (row.time - time) * (share - fraction) / rise : row.time;
    }
    time = row.time;
    fraction = row.filled_fraction;
  }
  return std::nullopt;
}

HeadPeak mixing_head(const FillProblem& problem, const FillResult& result) {
  return {course_pumps(problem).front(), peak_at_head(problem, result),
          peak_till_near_end(problem, result)};
}

HeadPeak highest_head(const FillProblem& problem, const FillResult& result) {
  const std::vector<CoursePump> pumps = course_pumps(problem);
  HeadPeak highest = mixing_head(problem, result);
  std::optional<double> peak;
  for (const CoursePump& pump : pumps) {
    const auto own = pumps.size() > 1 ? peak_of(problem, result, pump) : std::nullopt;
    if (own && (!peak || *own > *peak)) {
      peak = own;
      highest = {pump, *own, till_near_end_of(problem, result, pump, *own)};
    }
  }
  return highest;
}

bool peaks_at_the_last(double peak, double till_near_end) {
  return peak - till_near_end > 0.1 * std::abs(till_near_end);
}

double oldest_in_hoses(const FillProblem& problem, const FillResult& result) {
  const std::vector<CoursePump> pumps = course_pumps(problem);
  const std::vector<CoursePoint> points = course_points(problem, result);
  double oldest = 0;
  for (std::size_t p = 0; p < pumps.size() && !points.empty(); ++p) {
    if (const double volume = volume_of(injector_of(problem, pumps[p]).line); volume > 0) {
      oldest = std::max(oldest, age_behind(points, p, volume));
    }
  }
  return oldest;
}

} // namespace tidemark
