// The areas of a map of a process window.
#include "io/window_areas.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <map>
#include <vector>

using namespace tidemark;

namespace {

double size_of(const WindowArea& area) {
  double twice = 0;
  for (std::size_t k = 0; k < area.corners.size(); ++k) {
    const WindowPlace& a = area.corners[k];
    const WindowPlace& b = area.corners[(k + 1) % area.corners.size()];
    twice += a.flow * b.cap - b.flow * a.cap;
  }
  return twice / 2;
}

/// By outcome; what is counter-clockwise is positive.
std::map<Outcome, double> sizes_of(const WindowMap& map) {
  std::map<Outcome, double> sizes;
  for (const WindowArea& area : window_areas(map)) {
    CHECK(size_of(area) > 0);
    sizes[area.outcome] += size_of(area);
  }
  return sizes;
}

/// A map whose outcome follows from the place, with axes of shares.
template <typename Rule> WindowMap map_of(std::size_t points, Rule rule) {
  const WindowShape shape{{1, std::exp(1.0)}, {1, std::exp(1.0)}, points, 1e-4};
  return mapped_window(
      shape,
      [&](std::vector<TriedPoint>& tried) {
        for (TriedPoint& point : tried) {
          point.outcome = rule(point.place);
        }
      },
      false);
}

} // namespace

TEST_CASE("window areas: one outcome is one strip for each row of meshes") {
  const WindowMap map = map_of(5, [](const WindowPlace&) { return Outcome::fills; });
  CHECK(window_areas(map).size() == 4);
  CHECK(sizes_of(map)[Outcome::fills] == doctest::Approx(1));
}

TEST_CASE("window areas: a straight border cuts meshes where it is, not at points of the grid") {
  // Left of flow = 0.3 + 0.2 cap lies a trapezium of (0.3 + 0.5) / 2.
  const WindowMap map = map_of(6, [](const WindowPlace& place) {
    return place.flow < 0.3 + 0.2 * place.cap ? Outcome::short_gel : Outcome::fills;
  });
  std::map<Outcome, double> sizes = sizes_of(map);
  CHECK(sizes[Outcome::short_gel] == doctest::Approx(0.4).epsilon(1e-3));
  CHECK(sizes[Outcome::fills] == doctest::Approx(0.6).epsilon(1e-3));
}

TEST_CASE("window areas: a band within one row of meshes") {
  // Both borders of 0.42 < cap < 0.55 lie between the rows 0.4 and 0.6: the corners are alike, and
  // the band is not seen. That of 0.37 < cap < 0.55 is.
  const auto band = [](double low) {
    return map_of(6, [low](const WindowPlace& place) {
      return place.cap > low && place.cap < 0.55 ? Outcome::opens_mould : Outcome::fills;
    });
  };
  CHECK(sizes_of(band(0.42)).count(Outcome::opens_mould) == 0);
  CHECK(sizes_of(band(0.37))[Outcome::opens_mould] == doctest::Approx(0.18).epsilon(1e-2));
}

TEST_CASE("window areas: three outcomes that meet, and a corner cut off") {
  const WindowMap map = map_of(4, [](const WindowPlace& place) {
    if (place.cap > 0.5) {
      return place.flow > 0.5 ? Outcome::opens_mould : Outcome::fills;
    }
    return Outcome::short_gel;
  });
  std::map<Outcome, double> sizes = sizes_of(map);
  // The three meet at (0.5, 0.5); drawn are the ends of borders on the rim of the middle mesh,
  // whose mean is (1/2, 5/9): a triangle of 1/3 x 1/18 / 2 goes to the gel from the others.
  const double triangle = 1.0 / 3 * (1.0 / 18) / 2;
  CHECK(sizes[Outcome::short_gel] == doctest::Approx(0.5 + triangle).epsilon(2e-3));
  CHECK(sizes[Outcome::opens_mould] == doctest::Approx(0.25 - triangle / 2).epsilon(2e-3));
  CHECK(sizes[Outcome::fills] == doctest::Approx(0.25 - triangle / 2).epsilon(2e-3));
  const WindowMap corner = map_of(2, [](const WindowPlace& place) {
    return place.flow + place.cap > 1.5 ? Outcome::failed : Outcome::fills;
  });
  CHECK(sizes_of(corner)[Outcome::failed] == doctest::Approx(0.125).epsilon(1e-3));
}

TEST_CASE("window areas: a checkerboard's corners are cut off where the ends lie nearest") {
  const WindowMap map = map_of(2, [](const WindowPlace& place) {
    const bool is_low = place.flow + place.cap < 0.4;
    const bool is_high = place.flow + place.cap > 1.6;
    return is_low || is_high ? Outcome::short_gel : Outcome::fills;
  });
  // Two triangles with legs of 0.4.
  CHECK(sizes_of(map)[Outcome::short_gel] == doctest::Approx(0.16).epsilon(1e-3));
}

TEST_CASE("window areas: where runs were left out, half-way between the points") {
  WindowMap map = map_of(3, [](const WindowPlace&) { return Outcome::fills; });
  map.points[8].outcome = Outcome::not_run; // the last corner: of a mesh of 1/4 a triangle of 1/8
  CHECK(sizes_of(map)[Outcome::not_run] == doctest::Approx(1.0 / 32));
}
