// The map of a window whose borders are known: where they are found, and the setting in the middle.
#include "io/window_map.hpp"
#include "io/window_text.hpp"
#include "tests/support/closeness.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>

using namespace tidemark;
using namespace tidemark::test;

namespace {

using Rule = std::function<Outcome(double flow, double cap)>;

/// Points get the outcome of the rule and the time 100 / flow, if they fill.
TryPoints by_rule(const Rule& rule) {
  return [rule](std::vector<TriedPoint>& points) {
    for (TriedPoint& point : points) {
      point.outcome = rule(point.flow_rate, point.pressure_cap);
      if (point.outcome == Outcome::fills) {
        point.fill_time = 100 / point.flow_rate;
      }
    }
  };
}

WindowMap map_of(const Rule& rule, const WindowShape& shape, bool exact = true) {
  return mapped_window(shape, by_rule(rule), exact);
}

/// Flow 2 to 8 and cap 3 to 12 are safe, in a range of 1 to 16 both.
Outcome in_rectangle(double flow, double cap) {
  if (cap > 12) {
    return Outcome::opens_mould;
  }
  if (cap < 3) {
    return Outcome::short_pressure;
  }
  return flow < 2 ? Outcome::short_gel : flow > 8 ? Outcome::beyond_machine : Outcome::fills;
}

const WindowShape wide{{1, 16}, {1, 16}, 10, 0.005};

const TriedPoint& recommended(const WindowMap& map) {
  REQUIRE(map.recommended);
  return map.points[map.recommended->point];
}

} // namespace

TEST_CASE("window axis: equal ratios above the zero, ends exact") {
  const WindowAxis axis{-2e4, 1e5, -5e4}; // 3e4 to 15e4 above the zero
  CHECK(axis.at(0) == -2e4);
  CHECK(axis.at(1) == 1e5);
  CHECK(relative_error(axis.at(0.5) + 5e4, 3e4 * std::sqrt(5)) <= 1e-12);
  CHECK(relative_error(axis.share_of(axis.at(0.3)), 0.3) <= 1e-12);
}

TEST_CASE("window map: a safe rectangle, its borders, its middle and the margins") {
  const WindowMap map = map_of(in_rectangle, wide);
  // Its middle in ratios is the root of the product of its ends: 4 and 6; a factor of 2 to each.
  const TriedPoint& middle = recommended(map);
  CHECK(middle.outcome == Outcome::fills);
  CHECK(relative_error(middle.flow_rate, 4) <= 0.03);
  CHECK(relative_error(middle.pressure_cap, 6) <= 0.03);
  CHECK(relative_error(map.recommended->clearance, 2) <= 0.03);
  const Recommendation& chosen = *map.recommended;
  const auto is_known = [](const Margin& margin, double limit, Outcome fault) {
    CHECK(relative_error(margin.limit, limit) <= 0.005);
    CHECK(margin.fault == fault);
  };
  is_known(chosen.flow_down, 2, Outcome::short_gel);
  is_known(chosen.flow_up, 8, Outcome::beyond_machine);
  is_known(chosen.cap_down, 3, Outcome::short_pressure);
  is_known(chosen.cap_up, 12, Outcome::opens_mould);
  CHECK(chosen.flow_down.limit >= 2); // the last that is safe
  CHECK(chosen.cap_up.limit <= 12);
  int between_fill_and_gel = 0;
  for (const BorderPoint& border : map.border_points) {
    const TriedPoint& from = map.points[border.from];
    const TriedPoint& to = map.points[border.to];
    CHECK(from.outcome != to.outcome);
    const double flow_ratio = to.flow_rate / from.flow_rate;
    const double cap_ratio = to.pressure_cap / from.pressure_cap;
    CHECK(flow_ratio * cap_ratio <= 1.005 * (1 + 1e-9)); // one of them is 1
    CHECK(flow_ratio * cap_ratio > 1);
    if (from.outcome == Outcome::short_gel && to.outcome == Outcome::fills) {
      CHECK(from.flow_rate < 2);
      CHECK(to.flow_rate >= 2);
      ++between_fill_and_gel;
    }
  }
  CHECK(between_fill_and_gel >= 3);
  const auto gel_border = std::ranges::find_if(map.borders, [](const WindowLine& line) {
    return line.between == std::array{Outcome::fills, Outcome::short_gel};
  });
  REQUIRE(gel_border != map.borders.end());
  // All of it but its ends, which lie within the meshes where three outcomes meet.
  for (std::size_t i = 1; i + 1 < gel_border->places.size(); ++i) {
    CHECK(relative_error(wide.flow.at(gel_border->places[i].flow), 2) <= 0.005);
  }
}

TEST_CASE("window map: a safe disc, with caps counted from the air") {
  // In ln(flow) and ln(cap + 5), about flow 3 and cap 1: radius ln 1.8.
  const Rule rule = [](double flow, double cap) {
    return std::hypot(std::log(flow / 3), std::log((cap + 5) / 6)) < std::log(1.8)
               ? Outcome::fills
               : Outcome::short_gel;
  };
  const WindowMap map = map_of(rule, {{1, 10}, {-3, 13, -5}, 17, 0.002});
  const TriedPoint& middle = recommended(map);
  CHECK(relative_error(middle.flow_rate, 3) <= 0.05);
  CHECK(relative_error(middle.pressure_cap + 5, 6) <= 0.05);
  CHECK(relative_error(map.recommended->clearance, 1.8) <= 0.05);
  CHECK(relative_error(map.recommended->cap_up.limit + 5, 6 * 1.8) <= 0.01);
  REQUIRE(map.borders.size() == 1);
  const auto& line = map.borders.front().places;
  CHECK(line.front().flow == line.back().flow);
  for (const WindowPlace& place : line) {
    const double radius = std::hypot(std::log(map.shape.flow.at(place.flow) / 3),
                                     std::log((map.shape.cap.at(place.cap) + 5) / 6));
    CHECK(relative_error(radius, std::log(1.8)) <= 0.004); // 0.2 % of a ratio, over ln 1.8
  }
}

TEST_CASE("window map: of many equally good settings the middle one") {
  // Safe at any flow from 1 to 64 if the cap is 3 to 12: the circle may lie anywhere between.
  const Rule rule = [](double, double cap) {
    return cap < 3 ? Outcome::short_gel : cap > 12 ? Outcome::opens_mould : Outcome::fills;
  };
  const WindowMap map = map_of(rule, {{1, 64}, {1, 30}, 9, 0.005});
  CHECK(relative_error(recommended(map).flow_rate, 8) <= 0.05);
  CHECK(relative_error(recommended(map).pressure_cap, 6) <= 0.03);
  CHECK(!map.recommended->flow_down.fault); // the end of the range
  CHECK(map.recommended->flow_down.limit == 1);
  CHECK(map.recommended->flow_up.limit == 64);
}

TEST_CASE("window map: an area that is not convex has its middle inside") {
  // An L: flow below 3 at any cap, or cap below 3 at any flow.
  const Rule rule = [](double flow, double cap) {
    return flow < 3 || cap < 3 ? Outcome::fills : Outcome::opens_mould;
  };
  const WindowMap map = map_of(rule, wide);
  CHECK(recommended(map).outcome == Outcome::fills);
  // In the corner of the L a circle between the ends of the range and the corner (3, 3) is the
  // largest: r = (ln 3 - r) sqrt 2, r = 0.6436 = ln 1.9033.
  CHECK(relative_error(map.recommended->clearance, 1.9033) <= 0.05);
  CHECK(recommended(map).flow_rate < 3);
  CHECK(recommended(map).pressure_cap < 3);
}

TEST_CASE("window map: nothing safe, everything safe, a safe sliver between the points") {
  const WindowMap none = map_of([](double, double) { return Outcome::short_gel; }, wide);
  CHECK(!none.recommended);
  CHECK(none.points.size() == 100);
  CHECK(none.borders.empty());
  CHECK(none.contours.empty());
  const WindowMap all = map_of([](double, double) { return Outcome::fills; }, wide);
  CHECK(relative_error(recommended(all).flow_rate, 4) <= 0.03);
  CHECK(relative_error(recommended(all).pressure_cap, 4) <= 0.03);
  // Safe only about one point of the grid, 16^(5 / 9) = 4.6662.
  const Rule sliver = [](double flow, double) {
    return std::abs(std::log(flow / 4.6662)) < 0.02 ? Outcome::fills : Outcome::short_gel;
  };
  const WindowMap thin = map_of(sliver, wide);
  CHECK(recommended(thin).outcome == Outcome::fills);
  CHECK(relative_error(recommended(thin).flow_rate, 4.6662) <= 0.02);
}

TEST_CASE("window map: contours lie at their fill times") {
  // t = 100 / flow, 6.25 to 100: the fill time t at the flow 100 / t, at any cap.
  for (const bool exact : {true, false}) {
    const WindowMap map = map_of([](double, double) { return Outcome::fills; }, wide, exact);
    CHECK(map.has_exact_contours == exact);
    CHECK(map.contours.size() >= 3);
    for (const WindowLine& line : map.contours) {
      CHECK(line.places.size() == 10);
      for (const WindowPlace& place : line.places) {
        CHECK(relative_error(wide.flow.at(place.flow), 100 / *line.fill_time) <= 3e-4);
      }
    }
  }
}

TEST_CASE("window map: what is not run leaves a whole map without a recommendation") {
  int left = 60;
  const TryPoints stops = [&](std::vector<TriedPoint>& points) {
    for (TriedPoint& point : points) {
      point.outcome =
          left > 0 ? in_rectangle(point.flow_rate, point.pressure_cap) : Outcome::not_run;
      --left;
    }
  };
  const WindowMap map = mapped_window(wide, stops, false);
  CHECK(map.points.size() == 100);
  CHECK(!map.recommended);
  CHECK(map.grid(9, 9).outcome == Outcome::not_run);
  CHECK(map.grid(0, 0).outcome == Outcome::short_pressure);
  CHECK(has_gap(map, 9));
  CHECK(!has_gap(map, 0));
}

TEST_CASE("window map: few points call no flow of a contour unsafe that lies on the safe side") {
  const TryPoints opens_above = [](std::vector<TriedPoint>& points) {
    for (TriedPoint& point : points) {
      const bool is_safe = point.flow_rate < 9 || point.pressure_cap < 2;
      point.outcome = is_safe ? Outcome::fills : Outcome::opens_mould;
      point.fill_time = 100 / point.flow_rate;
    }
  };
  const WindowShape coarse{{1, 16}, {1, 16}, 3, 0.005}; // between 4 and 16 lies no point
  const WindowMap map = mapped_window(coarse, opens_above, false);
  bool has_between = false;
  for (const ContourFlow& contour : map.contour_flows) {
    CAPTURE(contour.flow_rate);
    CHECK(contour.is_safe == (contour.row == 0 || contour.flow_rate < 9));
    has_between =
        has_between || (contour.row > 0 && contour.flow_rate > 4 && contour.flow_rate < 9);
  }
  CHECK(has_between);
  CHECK(!has_gap(map, 0));
}

TEST_CASE("window map: times that hardly differ get no contours") {
  const auto times = [](double spread) {
    return mapped_window(
        wide,
        [spread](std::vector<TriedPoint>& points) {
          for (TriedPoint& point : points) {
            point.outcome = Outcome::fills;
            point.fill_time = 399 + spread * point.place.flow;
          }
        },
        false);
  };
  CHECK(times(0.4).contours.empty());
  CHECK(times(0.4).contour_flows.empty());
  CHECK(!times(40).contours.empty());
}

TEST_CASE("window text: a limit is told on its safe side, the end of the range as it is") {
  WindowMap map;
  map.points.resize(1);
  map.points[0].flow_rate = 2e-5; // 1.2 L/min
  map.points[0].pressure_cap = 2e5;
  Recommendation chosen;
  chosen.flow_down = {1.0004e-5, Outcome::short_gel}; // 0.60024 L/min
  chosen.flow_up = {3.9996e-5, Outcome::opens_mould}; // 2.39976 L/min
  chosen.cap_down = {1.2012e5, Outcome::short_pressure};
  chosen.cap_up = {3.1188e5, std::nullopt};
  map.recommended = chosen;
  const WindowMargins margins = window_margins(map);
  CHECK(margins.flow_down.starts_with("down to 0.601 L/min (-50 %; below: "));
  CHECK(margins.flow_up.starts_with("up to 2.39 L/min (+100 %; above: "));
  CHECK(margins.cap_down.starts_with("down to 1.21 bar (-40 %; below: "));
  CHECK(margins.cap_up.starts_with("up to 3.12 bar (+56 %; the end of the range tried"));
}
