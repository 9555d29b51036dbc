#include "io/window_map.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <span>

namespace tidemark {

namespace {

constexpr int outcomes = 16; // more than there are, for keys of pairs

TriedPoint point_at(const WindowShape& shape, const WindowPlace& place, Purpose purpose) {
  TriedPoint point{place, shape.flow.at(place.flow), shape.cap.at(place.cap)};
  point.purpose = purpose;
  return point;
}

WindowPlace between(const WindowPlace& a, const WindowPlace& b, double share) {
  return {a.flow + share * (b.flow - a.flow), a.cap + share * (b.cap - a.cap)};
}

bool is_safe(const TriedPoint& point) {
  return point.outcome == Outcome::fills;
}

/// Distances in ln of the flow rate and of the cap above the air.
struct Metric {
  double flow, cap; // of the whole range
  [[nodiscard]] double distance(const WindowPlace& a, const WindowPlace& b) const {
    return std::hypot(flow * (a.flow - b.flow), cap * (a.cap - b.cap));
  }
  [[nodiscard]] double to_piece(const WindowPlace& p, const WindowPlace& a,
                                const WindowPlace& b) const {
    const double x = flow * (b.flow - a.flow);
    const double y = cap * (b.cap - a.cap);
    const double square = x * x + y * y;
    const double along = flow * (p.flow - a.flow) * x + cap * (p.cap - a.cap) * y;
    return distance(p, between(a, b, square > 0 ? std::clamp(along / square, 0.0, 1.0) : 0));
  }
};

Metric metric_of(const WindowShape& shape) {
  return {shape.flow.log_range(), shape.cap.log_range()};
}

/// Builds a map; each part takes up the points of those before.
class Mapper {
public:
  Mapper(const WindowShape& shape, const TryPoints& try_points)
      : try_(try_points), metric_(metric_of(shape)) {
    map_.shape = shape;
  }

  WindowMap run(bool exact_contours) {
    map_.has_exact_contours = exact_contours;
    try_grid();
    find_borders();
    find_contours(exact_contours);
    if (!was_stopped_) {
      recommend();
    }
    return std::move(map_);
  }

private:
  [[nodiscard]] std::size_t count() const { return map_.shape.points; }

  /// Tries points and keeps those that were run. Returns the index of each; none of those not run.
  std::vector<std::optional<std::size_t>> tried(std::vector<TriedPoint> points) {
    std::vector<std::optional<std::size_t>> indices;
    if (points.empty()) {
      return indices;
    }
    try_(points);
    for (TriedPoint& point : points) {
      const bool is_kept = point.outcome != Outcome::not_run || point.purpose == Purpose::grid;
      was_stopped_ = was_stopped_ || point.outcome == Outcome::not_run;
      indices.push_back(is_kept ? std::optional(map_.points.size()) : std::nullopt);
      if (is_kept) {
        map_.points.push_back(std::move(point));
      }
    }
    return indices;
  }

  void try_grid() {
    std::vector<TriedPoint> points;
    const auto last = static_cast<double>(count() - 1);
    for (std::size_t j = 0; j < count(); ++j) {
      for (std::size_t i = 0; i < count(); ++i) {
        points.push_back(point_at(map_.shape,
                                  {static_cast<double>(i) / last, static_cast<double>(j) / last},
                                  Purpose::grid));
      }
    }
    tried(std::move(points));
  }

  /// Calls use(side's list, one end, other end) for each side of the grid.
  template <class Use> void for_each_side(GridSides& sides, Use use) {
    for (std::size_t j = 0; j < count(); ++j) {
      for (std::size_t i = 0; i < count(); ++i) {
        const std::size_t at = j * count() + i;
        if (i + 1 < count()) {
          use(sides.along_flow[at], at, at + 1);
        }
        if (j + 1 < count()) {
          use(sides.along_cap[at], at, at + count());
        }
      }
    }
  }

  /// Part of a side on which the outcome changes.
  struct Interval {
    std::vector<SideCrossing>* side;
    std::size_t from, to;
  };

  [[nodiscard]] bool is_open(const Interval& interval) const {
    const Outcome from = map_.points[interval.from].outcome;
    const Outcome to = map_.points[interval.to].outcome;
    return from != to && from != Outcome::not_run && to != Outcome::not_run;
  }

  [[nodiscard]] bool is_wide(const Interval& interval) const {
    const double length =
        metric_.distance(map_.points[interval.from].place, map_.points[interval.to].place);
    return length > std::log1p(map_.shape.tolerance);
  }

  void find_borders() {
    GridSides sides(count());
    std::vector<Interval> open;
    for_each_side(sides, [&](std::vector<SideCrossing>& side, std::size_t a, std::size_t b) {
      if (is_open({&side, a, b})) {
        open.push_back({&side, a, b});
      }
    });
    while (!was_stopped_ && std::ranges::any_of(open, [&](const auto& i) { return is_wide(i); })) {
      open = halved(open);
    }
    for (const Interval& interval : open) {
      const TriedPoint& from = map_.points[interval.from];
      const TriedPoint& to = map_.points[interval.to];
      const WindowPlace middle = between(from.place, to.place, 0.5);
      const auto [low, high] = std::minmax(from.outcome, to.outcome);
      map_.border_points.push_back({interval.from, interval.to, middle});
      interval.side->push_back({middle, outcomes * static_cast<int>(low) + static_cast<int>(high)});
    }
    net_ = joined(sides);
    for (KeyedLine& line : chained(net_)) {
      map_.borders.push_back(
          {{static_cast<Outcome>(line.key / outcomes), static_cast<Outcome>(line.key % outcomes)},
           std::nullopt,
           std::move(line.places)});
    }
  }

  std::vector<Interval> halved(const std::vector<Interval>& open) {
    std::vector<TriedPoint> middles;
    for (const Interval& interval : open) {
      if (is_wide(interval)) {
        middles.push_back(
            point_at(map_.shape,
                     between(map_.points[interval.from].place, map_.points[interval.to].place, 0.5),
                     Purpose::border));
      }
    }
    const auto indices = tried(std::move(middles));
    std::vector<Interval> halves;
    std::size_t next = 0;
    for (const Interval& interval : open) {
      const auto middle = is_wide(interval) ? indices[next++] : std::nullopt;
      if (!middle) {
        halves.push_back(interval);
        continue;
      }
      for (const Interval& half : {Interval{interval.side, interval.from, *middle},
                                   Interval{interval.side, *middle, interval.to}}) {
        if (is_open(half)) {
          halves.push_back(half);
        }
      }
    }
    return halves;
  }

  /// A place on a side where the fill time is sought.
  struct Bracket {
    std::vector<SideCrossing>* side;
    WindowPlace from, to;
    double from_time, to_time; // [s]
    int level;
    std::size_t row; // of the grid, if it lies along the flow; else its count
    bool is_done = false;
    [[nodiscard]] double share(double time) const {
      return std::log(time / from_time) / std::log(to_time / from_time);
    }
  };

  void find_contours(bool is_exact) {
    const std::vector<double> levels = contour_levels();
    GridSides sides(count());
    std::vector<Bracket> brackets;
    for_each_side(sides, [&](std::vector<SideCrossing>& side, std::size_t a, std::size_t b) {
      const TriedPoint& from = map_.points[a];
      const TriedPoint& to = map_.points[b];
      for (std::size_t k = 0; k < levels.size(); ++k) {
        if (has_fill_time(from) && has_fill_time(to) &&
            (*from.fill_time < levels[k]) != (*to.fill_time < levels[k])) {
          brackets.push_back({&side, from.place, to.place, *from.fill_time, *to.fill_time,
                              static_cast<int>(k), b == a + 1 ? a / count() : count()});
        }
      }
    });
    constexpr int most_rounds = 20;
    for (int round = 0; is_exact && round < most_rounds && !was_stopped_; ++round) {
      narrow(brackets, levels, round);
    }
    for (const Bracket& bracket : brackets) {
      const double time = levels[static_cast<std::size_t>(bracket.level)];
      const WindowPlace place = between(bracket.from, bracket.to, bracket.share(time));
      bracket.side->push_back({place, bracket.level});
      if (bracket.row < count()) {
        map_.contour_flows.push_back(
            {bracket.row, time, map_.shape.flow.at(place.flow), lies_safe_in_row(place)});
      }
    }
    for (KeyedLine& line : chained(joined(sides))) {
      map_.contours.push_back(
          {{}, levels[static_cast<std::size_t>(line.key)], std::move(line.places)});
    }
  }

  /// Whether the nearest points tried at the same cap are safe, on either side.
  [[nodiscard]] bool lies_safe_in_row(const WindowPlace& place) const {
    const TriedPoint* below = nullptr;
    const TriedPoint* above = nullptr;
    for (const TriedPoint& point : map_.points) {
      if (point.place.cap != place.cap || point.outcome == Outcome::not_run) {
        continue;
      }
      if (point.place.flow <= place.flow &&
          (below == nullptr || point.place.flow > below->place.flow)) {
        below = &point;
      }
      if (point.place.flow >= place.flow &&
          (above == nullptr || point.place.flow < above->place.flow)) {
        above = &point;
      }
    }
    return below != nullptr && above != nullptr && is_safe(*below) && is_safe(*above);
  }

  /// One more point in each bracket: where a line in logarithms says, and half-way now and then.
  void narrow(std::vector<Bracket>& brackets, const std::vector<double>& levels, int round) {
    constexpr double close_enough = 2e-4;
    std::vector<TriedPoint> points;
    for (const Bracket& bracket : brackets) {
      if (!bracket.is_done) {
        const double share = bracket.share(levels[static_cast<std::size_t>(bracket.level)]);
        points.push_back(point_at(map_.shape,
                                  between(bracket.from, bracket.to, round % 3 == 2 ? 0.5 : share),
                                  Purpose::contour));
      }
    }
    const auto indices = tried(std::move(points));
    std::size_t next = 0;
    for (Bracket& bracket : brackets) {
      const auto index = bracket.is_done ? std::nullopt : indices[next++];
      if (!index || !has_fill_time(map_.points[*index])) {
        bracket.is_done = true;
        continue;
      }
      const TriedPoint& point = map_.points[*index];
      const double level = levels[static_cast<std::size_t>(bracket.level)];
      const bool is_from = (bracket.from_time < level) == (*point.fill_time < level);
      (is_from ? bracket.from : bracket.to) = point.place;
      (is_from ? bracket.from_time : bracket.to_time) = *point.fill_time;
      bracket.is_done = std::abs(*point.fill_time / level - 1) < close_enough;
    }
  }

  /// Round times among those of the safe points of the grid, or of all: a few very long ones, close
  /// to where it fills no more, do not count.
  [[nodiscard]] std::vector<double> contour_levels() const {
    for (const bool only_safe : {true, false}) {
      std::vector<double> times;
      for (const TriedPoint& point : map_.points) {
        if (point.purpose == Purpose::grid && has_fill_time(point) &&
            (!only_safe || is_safe(point))) {
          times.push_back(*point.fill_time);
        }
      }
      std::ranges::sort(times);
      if (!times.empty() && times.back() > times.front()) {
        constexpr double share = 0.95;
        const auto last =
            static_cast<std::size_t>(std::ceil(share * static_cast<double>(times.size() - 1)));
        return round_times(times.front(), times[last]);
      }
    }
    return {};
  }

  /// Multiples of the smallest round step that makes six at most, and is a fiftieth of the times:
  /// closer ones say nothing, and print alike.
  static std::vector<double> round_times(double low, double high) {
    std::vector<double> steps;
    for (int power = -9; power < 1; ++power) {
      for (const double digit : {1, 2, 5}) {
        steps.push_back(digit * std::pow(10, power));
      }
    }
    for (const double step :
         {10,   15,   20,   30,   60,    120,   180,   300,   600,    900,
          1200, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 864000, 8640000}) {
      steps.push_back(step);
    }
    constexpr double most = 6;
    constexpr double least_share = 0.02;
    std::vector<double> times;
    for (const double step : steps) {
      if (high > low && (high - low) / step <= most && step >= least_share * low) {
        for (double k = std::floor(low / step) + 1; k * step < high; ++k) {
          times.push_back(k * step);
        }
        break;
      }
    }
    return times;
  }

  // the setting in the middle

  [[nodiscard]] static bool bounds_safe(const LineNet::Piece& piece) {
    return piece.key / outcomes == static_cast<int>(Outcome::fills) ||
           piece.key % outcomes == static_cast<int>(Outcome::fills);
  }

  /// Distance to the nearest border of what is safe and to the ends of the range.
  [[nodiscard]] double clearance(const WindowPlace& place) const {
    double least = std::min({metric_.flow * place.flow, metric_.flow * (1 - place.flow),
                             metric_.cap * place.cap, metric_.cap * (1 - place.cap)});
    for (const LineNet::Piece& piece : net_.pieces) {
      if (bounds_safe(piece)) {
        least =
            std::min(least, metric_.to_piece(place, net_.nodes[piece.from], net_.nodes[piece.to]));
      }
    }
    return least;
  }

  static bool do_cross(const WindowPlace& a, const WindowPlace& b, const WindowPlace& c,
                       const WindowPlace& d) {
    const auto side = [](const WindowPlace& p, const WindowPlace& q, const WindowPlace& r) {
      return (q.flow - p.flow) * (r.cap - p.cap) - (q.cap - p.cap) * (r.flow - p.flow) > 0;
    };
    return side(a, b, c) != side(a, b, d) && side(c, d, a) != side(c, d, b);
  }

  /// As its mesh's first corner, but for the borders between.
  [[nodiscard]] bool lies_safe(const WindowPlace& place,
                               const std::vector<std::vector<std::size_t>>& pieces_in) const {
    const auto meshes = static_cast<double>(count() - 1);
    const auto mesh_of = [&](double share) {
      return std::min(static_cast<std::size_t>(share * meshes), count() - 2);
    };
    const std::size_t mesh = mesh_of(place.cap) * count() + mesh_of(place.flow);
    bool safe = is_safe(map_.points[mesh]);
    for (const std::size_t p : pieces_in[mesh]) {
      const LineNet::Piece& piece = net_.pieces[p];
      if (do_cross(place, map_.points[mesh].place, net_.nodes[piece.from], net_.nodes[piece.to])) {
        safe = !safe;
      }
    }
    return safe;
  }

  struct Candidate {
    WindowPlace place;
    double clearance;
  };

  /// Of a fine grid, those that lie safe.
  [[nodiscard]] std::vector<Candidate> candidates() const {
    std::vector<std::vector<std::size_t>> pieces_in(count() * count());
    for (std::size_t p = 0; p < net_.pieces.size(); ++p) {
      if (bounds_safe(net_.pieces[p])) {
        pieces_in[net_.pieces[p].mesh].push_back(p);
      }
    }
    constexpr int divisions = 160;
    std::vector<Candidate> found;
    for (int j = 1; j < divisions; ++j) {
      for (int i = 1; i < divisions; ++i) {
        const WindowPlace place{i / double(divisions), j / double(divisions)};
        if (lies_safe(place, pieces_in)) {
          found.push_back({place, clearance(place)});
        }
      }
    }
    return found;
  }

  /// The middle of those that are nearly as far from the borders as any.
  [[nodiscard]] std::optional<WindowPlace> middle_of(std::span<const Candidate> all) const {
    double most = 0;
    for (const Candidate& candidate : all) {
      most = std::max(most, candidate.clearance);
    }
    std::vector<Candidate> best;
    WindowPlace middle;
    for (const Candidate& candidate : all) {
      if (candidate.clearance >= 0.97 * most) {
        best.push_back(candidate);
        middle.flow += candidate.place.flow;
        middle.cap += candidate.place.cap;
      }
    }
    if (best.empty()) {
      return std::nullopt;
    }
    middle.flow /= static_cast<double>(best.size());
    middle.cap /= static_cast<double>(best.size());
    return std::ranges::min(best, {},
                            [&](const Candidate& candidate) {
                              return metric_.distance(candidate.place, middle);
                            })
        .place;
  }

  /// The same with figures that can be set: two digits of the flow rate in L/min and caps on a
  /// twentieth of a bar, or finer if that is too far off.
  [[nodiscard]] TriedPoint rounded(const WindowPlace& place) const {
    constexpr double litre_per_minute = 1e-3 / 60;
    constexpr double bar = 1e5;
    const double may_move = 0.2 * clearance(place);
    TriedPoint point = point_at(map_.shape, place, Purpose::recommended);
    const auto round = [&](double& value, double& share, double unit, const WindowAxis& axis) {
      const double shorter = std::round(value / unit) * unit;
      const bool is_near = shorter > axis.low && shorter < axis.high &&
                           std::abs(axis.share_of(shorter) - share) * axis.log_range() <= may_move;
      if (is_near) {
        share = axis.share_of(shorter);
        value = shorter;
      }
      return is_near;
    };
    const double decade = std::pow(10, std::floor(std::log10(point.flow_rate / litre_per_minute)));
    for (const double unit : {0.1, 0.01, 0.001}) {
      if (round(point.flow_rate, point.place.flow, unit * decade * litre_per_minute,
                map_.shape.flow)) {
        break;
      }
    }
    for (const double unit : {0.05, 0.01, 0.001}) {
      if (round(point.pressure_cap, point.place.cap, unit * bar, map_.shape.cap)) {
        break;
      }
    }
    return point;
  }

  /// The middle as it can be set, as it is, and the safe point of the grid farthest inside.
  void recommend() {
    std::vector<TriedPoint> trials;
    if (const auto middle = middle_of(candidates())) {
      trials.push_back(rounded(*middle));
      trials.push_back(point_at(map_.shape, *middle, Purpose::recommended));
    }
    const TriedPoint* best = nullptr;
    for (const TriedPoint& point : map_.points) {
      if (is_safe(point) && (best == nullptr || clearance(point.place) > clearance(best->place))) {
        best = &point;
      }
    }
    if (best != nullptr) {
      trials.push_back(point_at(map_.shape, best->place, Purpose::recommended));
    }
    for (TriedPoint& trial : trials) {
      const auto index = tried({trial}).front();
      if (!index) {
        return;
      }
      if (is_safe(map_.points[*index])) {
        map_.recommended = Recommendation{};
        map_.recommended->point = *index;
        map_.recommended->clearance = std::exp(clearance(map_.points[*index].place));
        find_margins();
        return;
      }
    }
  }

  /// A way from the recommended setting to an end of the range.
  struct Ray {
    Margin* margin;
    bool is_flow;
    WindowPlace safe, end; // the last place that is safe; where the fault begins, or the range ends
    bool has_fault = false;
  };

  void find_margins() {
    Recommendation& chosen = *map_.recommended;
    const WindowPlace from = map_.points[chosen.point].place;
    std::vector<Ray> rays{{&chosen.flow_down, true, from, {0, from.cap}},
                          {&chosen.flow_up, true, from, {1, from.cap}},
                          {&chosen.cap_down, false, from, {from.flow, 0}},
                          {&chosen.cap_up, false, from, {from.flow, 1}}};
    for (Ray& ray : rays) {
      go_to_fault(ray);
    }
    const auto is_wide = [&](const Ray& ray) {
      return ray.has_fault &&
             metric_.distance(ray.safe, ray.end) > std::log1p(map_.shape.tolerance);
    };
    while (!was_stopped_ && std::ranges::any_of(rays, is_wide)) {
      std::vector<TriedPoint> middles;
      std::vector<Ray*> wide;
      for (Ray& ray : rays) {
        if (is_wide(ray)) {
          wide.push_back(&ray);
          middles.push_back(point_at(map_.shape, between(ray.safe, ray.end, 0.5), Purpose::margin));
        }
      }
      const auto indices = tried(std::move(middles));
      for (std::size_t k = 0; k < wide.size(); ++k) {
        if (indices[k]) {
          take(*wide[k], map_.points[*indices[k]]);
        }
      }
    }
    for (const Ray& ray : rays) {
      ray.margin->limit =
          ray.is_flow ? map_.shape.flow.at(ray.safe.flow) : map_.shape.cap.at(ray.safe.cap);
    }
  }

  static void take(Ray& ray, const TriedPoint& point) {
    if (is_safe(point)) {
      ray.safe = point.place;
    } else {
      ray.end = point.place;
      ray.has_fault = true;
      ray.margin->fault = point.outcome;
    }
  }

  /// Steps as wide as the grid's until a fault or the end.
  void go_to_fault(Ray& ray) {
    const WindowPlace from = ray.safe;
    const WindowPlace end = ray.end;
    const double way = std::hypot(end.flow - from.flow, end.cap - from.cap);
    const int steps =
        std::max(1, static_cast<int>(std::ceil(way * static_cast<double>(count() - 1) - 1e-9)));
    std::vector<TriedPoint> points;
    for (int k = 1; k <= steps; ++k) {
      points.push_back(
          point_at(map_.shape, between(from, end, k / double(steps)), Purpose::margin));
    }
    for (const auto& index : tried(std::move(points))) {
      if (!index || ray.has_fault) {
        break;
      }
      take(ray, map_.points[*index]);
    }
  }

  const TryPoints& try_;
  Metric metric_;
  WindowMap map_;
  LineNet net_; // of the borders
  bool was_stopped_ = false;
};

} // namespace

bool has_gap(const WindowMap& map, std::size_t row) {
  for (std::size_t i = 0; i < map.shape.points; ++i) {
    if (map.grid(i, row).outcome == Outcome::not_run) {
      return true;
    }
  }
  return false;
}

double WindowAxis::at(double share) const {
  if (share <= 0 || share >= 1) {
    return share <= 0 ? low : high;
  }
  return zero + (low - zero) * std::exp(share * log_range());
}

double WindowAxis::share_of(double value) const {
  return std::log((value - zero) / (low - zero)) / log_range();
}

double WindowAxis::log_range() const {
  return std::log((high - zero) / (low - zero));
}

bool has_fill_time(const TriedPoint& point) {
  return point.fill_time.has_value();
}

WindowMap mapped_window(const WindowShape& shape, const TryPoints& try_points,
                        bool exact_contours) {
  return Mapper(shape, try_points).run(exact_contours);
}

} // namespace tidemark
