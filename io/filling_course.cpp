#include "io/filling_course.hpp"

#include "io/resin_use.hpp"

#include <algorithm>

namespace tidemark {

namespace {

PumpReading reading_of(const FillProblem& problem, const HistoryRow& row, const CoursePump& pump) {
  if (pump.gate) {
    const GateSample& gate = row.gates[*pump.gate];
    return {gate.flow_rate, gate.pressure, 0};
  }
  double flow = 0;
  for (std::size_t g = 0; g < row.gates.size(); ++g) {
    flow += problem.gates[g].own_injector ? 0 : row.gates[g].flow_rate;
  }
  return {flow, row.head_pressure, 0};
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

std::vector<CoursePoint> points_of(const FillProblem& problem, const FillResult& result) {
  const std::vector<CoursePump> pumps = course_pumps(problem);
  std::vector<CoursePoint> points;
  for (const HistoryRow& row : result.history) {
    points.push_back(
        point_after(problem, pumps, points.empty() ? CoursePoint{} : points.back(), row));
  }
  if (!points.empty()) {
    CoursePoint start = points.front();
    start.filled_fraction = 0;
    start.time = 0;
    std::ranges::for_each(start.pumps, [](PumpReading& reading) { reading.volume = 0; });
    points.insert(points.begin(), start);
  }
  return points;
}

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

std::optional<CoursePoint> course_at(const FillProblem& problem, const FillResult& result,
                                     double filled_fraction) {
  const std::vector<CoursePoint> points = points_of(problem, result);
  if (points.empty()) {
    return std::nullopt;
  }
  if (filled_fraction >= 1) {
    return result.verdict == Verdict::filled ? std::optional(points.back()) : std::nullopt;
  }
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (points[i].filled_fraction >= filled_fraction) {
      return i == 0 ? points[i] : between(points[i - 1], points[i], filled_fraction);
    }
  }
  return std::nullopt;
}

double oldest_in_hoses(const FillProblem& problem, const FillResult& result) {
  const std::vector<CoursePump> pumps = course_pumps(problem);
  const std::vector<CoursePoint> points = points_of(problem, result);
  double oldest = 0;
  for (std::size_t p = 0; p < pumps.size() && !points.empty(); ++p) {
    const Injector& injector =
        pumps[p].gate ? *problem.gates[*pumps[p].gate].own_injector : problem.injector;
    if (const double volume = volume_of(injector.line); volume > 0) {
      oldest = std::max(oldest, age_behind(points, p, volume));
    }
  }
  return oldest;
}

} // namespace tidemark
