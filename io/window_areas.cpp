#include "io/window_areas.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <utility>

namespace tidemark {

namespace {

/// A corner of a mesh, or a place on its rim where the outcome changes.
struct RimPoint {
  WindowPlace place;
  Outcome behind; // from here on, counter-clockwise
  std::optional<std::pair<Outcome, Outcome>> border = {};
};

using Rim = std::vector<RimPoint>;
using Chord = std::pair<std::size_t, std::size_t>; // indices in a Rim

/// Places where the outcome changes on the sides of the grid, each side from its low end on.
class BorderSides {
public:
  explicit BorderSides(const WindowMap& map)
      : map_(map), count_(map.shape.points), along_flow_(count_ * count_),
        along_cap_(count_ * count_) {
    for (const BorderPoint& border : map.border_points) {
      const bool is_along_flow =
          map.points[border.from].place.cap == map.points[border.to].place.cap;
      (is_along_flow ? along_flow_ : along_cap_)[side_of(border.place, is_along_flow)].push_back(
          border);
    }
    for (auto* const sides : {&along_flow_, &along_cap_}) {
      for (auto& side : *sides) {
        std::ranges::sort(
            side, {}, [](const BorderPoint& point) { return point.place.flow + point.place.cap; });
      }
    }
  }

  /// Round the mesh whose low corner is the point (i, j).
  [[nodiscard]] Rim rim_of(std::size_t i, std::size_t j) const {
    Rim rim;
    const std::size_t at = j * count_ + i;
    add_side(rim, at, at + 1, along_flow_[at]);
    add_side(rim, at + 1, at + 1 + count_, along_cap_[at + 1]);
    add_side(rim, at + 1 + count_, at + count_, along_flow_[at + count_]);
    add_side(rim, at + count_, at, along_cap_[at]);
    return rim;
  }

private:
  [[nodiscard]] std::size_t side_of(const WindowPlace& place, bool is_along_flow) const {
    const double meshes = static_cast<double>(count_ - 1);
    const double flow = place.flow * meshes;
    const double cap = place.cap * meshes;
    const double i = is_along_flow ? std::floor(flow) : std::round(flow);
    const double j = is_along_flow ? std::round(cap) : std::floor(cap);
    return static_cast<std::size_t>(j) * count_ + static_cast<std::size_t>(i);
  }

  /// From one point of the grid to the next, without the latter.
  void add_side(Rim& rim, std::size_t from, std::size_t to,
                const std::vector<BorderPoint>& borders) const {
    const TriedPoint& first = map_.points[from];
    const TriedPoint& last = map_.points[to];
    rim.push_back({first.place, first.outcome});
    const auto add = [&](const WindowPlace& place, Outcome before, Outcome behind) {
      rim.push_back({place, behind, std::minmax(before, behind)});
    };
    for (std::size_t k = 0; k < borders.size(); ++k) {
      const BorderPoint& border = borders[from < to ? k : borders.size() - 1 - k];
      const Outcome low = map_.points[border.from].outcome;
      const Outcome high = map_.points[border.to].outcome;
      add(border.place, from < to ? low : high, from < to ? high : low);
    }
    if (rim.back().behind != last.outcome) {
      add({0.5 * (first.place.flow + last.place.flow), 0.5 * (first.place.cap + last.place.cap)},
          rim.back().behind, last.outcome);
    }
  }

  const WindowMap& map_;
  std::size_t count_;
  std::vector<std::vector<BorderPoint>> along_flow_, along_cap_;
};

double distance(const Rim& rim, std::size_t a, std::size_t b) {
  return std::hypot(rim[a].place.flow - rim[b].place.flow, rim[a].place.cap - rim[b].place.cap);
}

/// The nearest two of the places, taken out of them.
Chord take_nearest(const Rim& rim, std::vector<std::size_t>& places) {
  std::size_t a = 0;
  std::size_t b = 1;
  for (std::size_t i = 0; i < places.size(); ++i) {
    for (std::size_t j = i + 1; j < places.size(); ++j) {
      if (distance(rim, places[i], places[j]) < distance(rim, places[a], places[b])) {
        a = i;
        b = j;
      }
    }
  }
  const Chord chord{places[a], places[b]};
  places.erase(places.begin() + static_cast<std::ptrdiff_t>(b));
  places.erase(places.begin() + static_cast<std::ptrdiff_t>(a));
  return chord;
}

/// Pieces of borders across a mesh, as they are joined in io/window_lines, and the ends of borders
/// that meet in its middle.
struct MeshBorders {
  std::vector<Chord> chords;
  std::vector<std::size_t> ends;
};

MeshBorders borders_across(const Rim& rim) {
  std::map<std::pair<Outcome, Outcome>, std::vector<std::size_t>> by_border;
  for (std::size_t k = 0; k < rim.size(); ++k) {
    if (rim[k].border) {
      by_border[*rim[k].border].push_back(k);
    }
  }
  MeshBorders across;
  for (auto& [border, places] : by_border) {
    while (places.size() > 1 && !(places.size() == 3 && by_border.size() > 1)) {
      across.chords.push_back(take_nearest(rim, places));
    }
    across.ends.insert(across.ends.end(), places.begin(), places.end());
  }
  std::ranges::sort(across.ends);
  return across;
}

/// The polygon of rim points cut at a chord of two of them; itself if they are not both there.
std::vector<std::vector<std::size_t>> cut(const std::vector<std::size_t>& polygon,
                                          const Chord& chord) {
  const auto a = std::ranges::find(polygon, std::min(chord.first, chord.second));
  const auto b = std::ranges::find(polygon, std::max(chord.first, chord.second));
  if (a == polygon.end() || b == polygon.end()) {
    return {polygon};
  }
  std::vector<std::size_t> inner(a, b + 1);
  std::vector<std::size_t> outer(polygon.begin(), a + 1);
  outer.insert(outer.end(), b, polygon.end());
  return {inner, outer};
}

/// The outcome along the first piece of the rim that a polygon has.
Outcome outcome_of(const Rim& rim, const std::vector<std::size_t>& polygon) {
  for (std::size_t k = 0; k < polygon.size(); ++k) {
    const std::size_t next = polygon[(k + 1) % polygon.size()];
    if (next == (polygon[k] + 1) % rim.size()) {
      return rim[polygon[k]].behind;
    }
  }
  return rim[polygon.front()].behind;
}

/// The sectors between ends of borders that meet in the middle of them.
void add_sectors(const Rim& rim, const std::vector<std::size_t>& ends,
                 std::vector<WindowArea>& areas) {
  WindowPlace middle;
  for (const std::size_t end : ends) {
    middle.flow += rim[end].place.flow / static_cast<double>(ends.size());
    middle.cap += rim[end].place.cap / static_cast<double>(ends.size());
  }
  for (std::size_t e = 0; e < ends.size(); ++e) {
    const std::size_t last = ends[(e + 1) % ends.size()];
    WindowArea area{rim[ends[e]].behind, {middle}};
    for (std::size_t k = ends[e]; k != last; k = (k + 1) % rim.size()) {
      area.corners.push_back(rim[k].place);
    }
    area.corners.push_back(rim[last].place);
    areas.push_back(std::move(area));
  }
}

void add_mesh(const Rim& rim, std::vector<WindowArea>& areas) {
  const MeshBorders across = borders_across(rim);
  if (across.ends.size() > 1) { // rare beside others: then all meet
    std::vector<std::size_t> ends = across.ends;
    for (const Chord& chord : across.chords) {
      ends.insert(ends.end(), {chord.first, chord.second});
    }
    std::ranges::sort(ends);
    add_sectors(rim, ends, areas);
    return;
  }
  std::vector<std::size_t> all(rim.size());
  for (std::size_t k = 0; k < all.size(); ++k) {
    all[k] = k;
  }
  std::vector<std::vector<std::size_t>> polygons{all};
  for (const Chord& chord : across.chords) {
    std::vector<std::vector<std::size_t>> pieces;
    for (const auto& polygon : polygons) {
      for (auto& piece : cut(polygon, chord)) {
        pieces.push_back(std::move(piece));
      }
    }
    polygons = std::move(pieces);
  }
  for (const auto& polygon : polygons) {
    WindowArea area{outcome_of(rim, polygon), {}};
    for (const std::size_t k : polygon) {
      area.corners.push_back(rim[k].place);
    }
    areas.push_back(std::move(area));
  }
}

/// The area to the left, made as long as to take in a whole mesh of the same outcome.
bool grows(WindowArea& left, const Rim& rim) {
  const bool is_whole =
      rim.size() == 4 && left.corners.size() == 4 && left.outcome == rim.front().behind &&
      left.corners[1].flow == rim[0].place.flow && left.corners[2].flow == rim[3].place.flow &&
      left.corners[1].cap == rim[0].place.cap && left.corners[2].cap == rim[3].place.cap;
  if (is_whole) {
    left.corners[1] = rim[1].place;
    left.corners[2] = rim[2].place;
  }
  return is_whole;
}

} // namespace

std::vector<WindowArea> window_areas(const WindowMap& map) {
  const BorderSides sides(map);
  std::vector<WindowArea> areas;
  for (std::size_t j = 0; j + 1 < map.shape.points; ++j) {
    for (std::size_t i = 0; i + 1 < map.shape.points; ++i) {
      const Rim rim = sides.rim_of(i, j);
      if (areas.empty() || !grows(areas.back(), rim)) {
        add_mesh(rim, areas);
      }
    }
  }
  return areas;
}

} // namespace tidemark
