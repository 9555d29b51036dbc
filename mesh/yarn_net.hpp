// A net of inextensible yarns laid over a surface: crossings a step apart along warp and weft.
#pragma once

#include "mesh/surface_walk.hpp"

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <unordered_map>
#include <vector>

namespace tidemark {

/// The four ways along the yarns from a crossing, counter-clockwise.
enum class YarnWay : std::uint8_t { warp, weft, back_along_warp, back_along_weft };
constexpr std::array<YarnWay, 4> yarn_ways{YarnWay::warp, YarnWay::weft, YarnWay::back_along_warp,
                                           YarnWay::back_along_weft};
constexpr YarnWay counter_clockwise(YarnWay way) {
  return yarn_ways[(std::size_t(way) + 1) % 4];
}
constexpr YarnWay opposite(YarnWay way) {
  return yarn_ways[(std::size_t(way) + 2) % 4];
}

/// Place of a crossing in the fabric before it is draped: steps along warp and weft from the start.
struct NetPlace {
  std::int32_t warp = 0;
  std::int32_t weft = 0;
  bool operator==(const NetPlace&) const = default;
  [[nodiscard]] NetPlace beyond(YarnWay way) const;
};

struct Crossing {
  NetPlace place;
  TriangleId triangle;
  Vector3 position; // [m]
  Vector3 normal;   // unit, the side of the fabric that the normal at the start shows
  /// Unit vectors in the plane of the triangle along the yarn to the next crossing; zero where the
  /// yarn has not been laid on.
  std::array<Vector3, 4> yarns{Vector3::Zero(), Vector3::Zero(), Vector3::Zero(), Vector3::Zero()};

  [[nodiscard]] const Vector3& yarn(YarnWay way) const { return yarns[std::size_t(way)]; }
  [[nodiscard]] bool is_laid(YarnWay way) const { return !yarn(way).isZero(0); }
};

struct YarnNet {
  double step = 0;    // [m]
  Vector3 start_warp; // direction of the warp at the first crossing
  std::vector<Crossing> crossings;
  std::vector<Vector3> seams; // crossings beyond which the net ends though the surface goes on [m]
  std::unordered_map<std::uint64_t, std::int32_t> index; // of a place in `crossings`

  [[nodiscard]] const Crossing* at(NetPlace place) const;
  /// The crossing at the other end of a laid piece of yarn.
  [[nodiscard]] const Crossing& next(const Crossing& crossing, YarnWay way) const {
    return *at(crossing.place.beyond(way));
  }
};

/// Lays a Chebyshev net from a start, whose direction is that of the warp; the weft leaves it at a
/// right angle to the left. All pieces of yarn are straight ways (walk_straight) of one length.
///  1. The two yarns through the start go straight on, both ways, until they leave the surface.
///  2. A cell with three crossings laid gets its fourth where ways of one step from its two
///     neighbours meet; cells near the start first.
///  3. Where no cell is left to close (behind holes, round corners), the yarn nearest to the start
///     that ended for want of neighbours goes straight on by one step; then 2 again.
/// A cell ends the net where its fourth crossing would lie off the surface, where warp and weft
/// would come closer than 10 degrees to one line, where no such place is found, or where the
/// surface already carries another part of the net (round a pipe, say); no yarn goes on from
/// there by rule 3.
/// Terminates: crossings closer than 0.7 steps that are four or more steps apart in the fabric are
/// not laid, and there are at most `most_crossings`.
YarnNet lay_net(const WalkSurface& surface, const Heading& start, double step,
                std::size_t most_crossings);

} // namespace tidemark
