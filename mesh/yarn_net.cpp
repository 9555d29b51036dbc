#include "mesh/yarn_net.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Geometry>

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <numbers>
#include <queue>
#include <tuple>
#include <utility>

namespace tidemark {

using std::numbers::pi;

namespace {

constexpr double smallest_angle = pi / 18; // between yarns [rad]
constexpr double closest_other = 0.7;      // to another part of the net, in steps
constexpr int farthest_neighbour = 3;      // in the fabric, that may lie so close
constexpr double closed = 1e-13;           // gap of two ways that meet, in steps
constexpr double nearly_closed = 0.1;      // gap that the bend of the mesh at a node may leave
constexpr int most_tries = 16;             // to make two ways meet

std::uint64_t key_of(NetPlace place) {
  return static_cast<std::uint64_t>(static_cast<std::uint32_t>(place.warp)) << 32 |
         static_cast<std::uint32_t>(place.weft);
}

int ring_of(NetPlace place) {
  return std::abs(place.warp) + std::abs(place.weft);
}

/// What may be done next, the cheapest to trust first: cells before yarns on their own, then by
/// distance from the start, then in order of appearance.
struct Task {
  bool is_cell; // close the cell between two ways, or lay the yarn on
  int ring;     // of the place to be laid
  std::int64_t sequence;
  std::int32_t crossing;
  YarnWay way; // the first of the cell's two ways from the crossing; or that of the yarn
  bool operator<(const Task& other) const { // top of the queue: what is done first
    return std::tuple(!is_cell, ring, sequence) >
           std::tuple(!other.is_cell, other.ring, other.sequence);
  }
};

/// Two straight ways from two crossings, and how far apart they end.
struct Meeting {
  std::array<Heading, 2> starts;
  std::array<Heading, 2> ends;
  double gap; // [m]
};

std::optional<Meeting> meeting_of(const WalkSurface& surface, const std::array<Heading, 2>& starts,
                                  double step) {
  const Walk one = walk_straight(surface, starts[0], step);
  const Walk two = walk_straight(surface, starts[1], step);
  if (!one.complete || !two.complete) {
    return std::nullopt;
  }
  return Meeting{starts, {one.end, two.end}, (one.end.position - two.end.position).norm()};
}

/// By how much to turn both ways to close the gap: on flat ground the ends of ways of length s move
/// sideways by s times the angle. Least squares, since across a crease the gap is out of plane.
Eigen::Vector2d turns_to_meet(const Meeting& meeting, double step) {
  Eigen::Matrix<double, 3, 2> moves;
  moves.col(0) = step * meeting.ends[0].normal.cross(meeting.ends[0].direction);
  moves.col(1) = -step * meeting.ends[1].normal.cross(meeting.ends[1].direction);
  const Vector3 gap = meeting.ends[0].position - meeting.ends[1].position;
  return (moves.transpose() * moves).ldlt().solve(-moves.transpose() * gap);
}

/// Turns two ways of one step until they end at one place: Newton's method, the step halved while
/// it does not help (a node that is not flat lies between the ways, say). The best found; nothing
/// if the first guess already leaves the surface.
std::optional<Meeting> meet(const WalkSurface& surface, const std::array<Heading, 2>& guess,
                            double step) {
  std::optional<Meeting> best = meeting_of(surface, guess, step);
  if (!best) {
    return best;
  }
  Eigen::Vector2d turns = turns_to_meet(*best, step);
  for (int tried = 0; tried < most_tries && best->gap > closed * step; ++tried) {
    if (!turns.allFinite()) {
      break;
    }
    std::array<Heading, 2> starts = best->starts;
    starts[0].direction = turned(starts[0], turns[0]).normalized();
    starts[1].direction = turned(starts[1], turns[1]).normalized();
    const std::optional<Meeting> next = meeting_of(surface, starts, step);
    if (next && next->gap < best->gap) {
      best = next;
      turns = turns_to_meet(*best, step);
    } else {
      turns /= 2;
    }
  }
  return best;
}

/// Moves a heading along a vector, its direction carried along.
Heading moved(const WalkSurface& surface, const Heading& heading, const Vector3& by) {
  const Vector3 in_plane = by - by.dot(heading.normal) * heading.normal;
  const double length = in_plane.norm();
  constexpr double rounding = 1e-6; // of a way along the normal: it need not lie in the plane
  if (length <= rounding * by.norm()) {
    return heading;
  }
  const double angle = angle_between(in_plane, heading.direction, heading.normal);
  Heading end =
      walk_straight(surface,
                    {heading.triangle, heading.position, in_plane / length, heading.normal}, length)
          .end;
  end.direction = turned(end, angle);
  return end;
}

/// A direction turned as one unit normal turns into another by the shortest way (Rodrigues'
/// formula). Between opposite normals no way is the shortest; the direction is in the plane of
/// both.
Vector3 turned_with(const Vector3& from, const Vector3& to, const Vector3& direction) {
  const Vector3 axis = from.cross(to); // as long as the sine of the angle
  const double cosine = from.dot(to);
  if (1 + cosine < 1e-12) {
    return direction;
  }
  return cosine * direction + axis.cross(direction) + axis.dot(direction) / (1 + cosine) * axis;
}

/// Both headings of a meeting brought to the place in the middle of their gap and into one plane.
std::array<Heading, 2> joined(const WalkSurface& surface, const Meeting& meeting) {
  const Vector3 half = 0.5 * (meeting.ends[1].position - meeting.ends[0].position);
  const Heading one = moved(surface, meeting.ends[0], half);
  Heading two = moved(surface, meeting.ends[1], -half);
  if (two.triangle != one.triangle) {
    two.direction = turned_with(two.normal, one.normal, two.direction);
  }
  two.direction = (two.direction - two.direction.dot(one.normal) * one.normal).normalized();
  return {one, two};
}

bool is_open(double angle) {
  return angle >= smallest_angle && angle <= pi - smallest_angle;
}

/// Finds crossings by triangle and place, however many lie on one large triangle: in cells a step
/// wide, hashed.
class Occupancy {
public:
  Occupancy(double step, std::size_t most_crossings)
      : step_(step), heads_(std::bit_ceil(most_crossings / 8 + 1), -1) {}

  /// Crossings are added in order of their indices.
  void add(TriangleId triangle, const Vector3& position) {
    std::int32_t& head = heads_[slot(triangle, cell(position))];
    next_.push_back(head);
    head = static_cast<std::int32_t>(next_.size()) - 1;
  }

  /// True if the test is true of any crossing in the cells of a triangle within reach of a point;
  /// it is asked of a few others, too.
  template <class Test>
  [[nodiscard]] bool any_of(TriangleId triangle, const Vector3& point, double reach,
                            const Test& test) const {
    const Cell low = cell(point - Vector3::Constant(reach));
    const Cell high = cell(point + Vector3::Constant(reach));
    for (std::int64_t x = low.x(); x <= high.x(); ++x) {
      for (std::int64_t y = low.y(); y <= high.y(); ++y) {
        for (std::int64_t z = low.z(); z <= high.z(); ++z) {
          for (std::int32_t id = heads_[slot(triangle, {x, y, z})]; id >= 0;
               id = next_[static_cast<std::size_t>(id)]) {
            if (test(id)) {
              return true;
            }
          }
        }
      }
    }
    return false;
  }

private:
  using Cell = Eigen::Matrix<std::int64_t, 3, 1>;

  [[nodiscard]] Cell cell(const Vector3& position) const {
    return (position / step_).array().floor().matrix().cast<std::int64_t>();
  }

  [[nodiscard]] std::size_t slot(TriangleId triangle, const Cell& cell) const {
    auto hash = static_cast<std::uint64_t>(triangle.value());
    for (const std::int64_t part : {cell.x(), cell.y(), cell.z()}) {
      hash = (hash ^ static_cast<std::uint64_t>(part)) * 0x9e3779b97f4a7c15ULL;
      hash ^= hash >> 32;
    }
    return hash & (heads_.size() - 1);
  }

  double step_;
  std::vector<std::int32_t> heads_; // the last crossing in each slot, or -1
  std::vector<std::int32_t> next_;  // the one before each crossing in its slot, or -1
};

/// A cell of which one crossing is missing.
struct Cell {
  std::int32_t corner = -1; // the crossing opposite
  NetPlace place = {};      // of the missing one
  std::int32_t one = -1;    // beyond `way` from the corner; `other` leads on to the place
  std::int32_t two = -1;    // beyond `other`; `way` leads on
  YarnWay way = YarnWay::warp;
  YarnWay other = YarnWay::weft; // counter-clockwise of `way`
};

class Weaver {
public:
  Weaver(const WalkSurface& surface, double step, std::size_t most_crossings)
      : surface_(surface), surroundings_(surface), most_crossings_(most_crossings),
        occupancy_(step, most_crossings) {
    net_.step = step;
  }

  YarnNet woven(const Heading& start) {
    lay_start(start);
    for (const YarnWay way : yarn_ways) {
      lay_generator(start, way);
    }
    while (!tasks_.empty()) {
      const Task task = tasks_.top();
      tasks_.pop();
      if (task.is_cell) {
        close_cell(task.crossing, task.way);
      } else {
        lay_on(task.crossing, task.way);
      }
    }
    return std::move(net_);
  }

private:
  Crossing& crossing(std::int32_t id) { return net_.crossings[static_cast<std::size_t>(id)]; }

  [[nodiscard]] std::int32_t find(NetPlace place) const {
    const auto found = net_.index.find(key_of(place));
    return found == net_.index.end() ? -1 : found->second;
  }

  void lay_start(const Heading& start) {
    net_.start_warp = start.direction;
    add({.place = {},
         .triangle = start.triangle,
         .position = start.position,
         .normal = start.normal});
  }

  void lay_generator(const Heading& start, YarnWay way) {
    std::int32_t from = 0;
    Vector3 direction = turned(start, pi / 2 * double(way));
    while (from >= 0) {
      const Walk walk = walk_from(from, direction);
      from = walk.complete ? lay_end(from, way, direction, walk.end) : -1;
      direction = walk.end.direction;
    }
  }

  Walk walk_from(std::int32_t id, const Vector3& direction) {
    const Crossing& from = crossing(id);
    return walk_straight(surface_, {from.triangle, from.position, direction, from.normal},
                         net_.step);
  }

  /// A crossing at the end of a piece of yarn, if there is room: its index, or -1.
  std::int32_t lay_end(std::int32_t from, YarnWay way, const Vector3& direction,
                       const Heading& end) {
    const NetPlace place = crossing(from).place.beyond(way);
    if (!has_room(place, end)) {
      net_.seams.push_back(crossing(from).position);
      return -1;
    }
    const std::int32_t id = add(
        {.place = place, .triangle = end.triangle, .position = end.position, .normal = end.normal});
    link(from, way, direction, id, -end.direction);
    return id;
  }

  std::int32_t add(const Crossing& added) {
    const auto id = static_cast<std::int32_t>(net_.crossings.size());
    net_.crossings.push_back(added);
    net_.index.emplace(key_of(added.place), id);
    occupancy_.add(added.triangle, added.position);
    is_blocked_.push_back({});
    for (const YarnWay way : yarn_ways) {
      push(false, id, way, added.place.beyond(way));
    }
    return id;
  }

  void push(bool is_cell, std::int32_t id, YarnWay way, NetPlace target) {
    tasks_.push({is_cell, ring_of(target), sequence_++, id, way});
  }

  void link(std::int32_t from, YarnWay way, const Vector3& there, std::int32_t to,
            const Vector3& back) {
    crossing(from).yarns[std::size_t(way)] = there;
    crossing(to).yarns[std::size_t(opposite(way))] = back;
    for (const std::int32_t id : {from, to}) {
      const YarnWay along = id == from ? way : opposite(way);
      push_cell(id, along);
      push_cell(id, opposite(counter_clockwise(along)));
    }
  }

  /// The cell between two ways from a crossing becomes a task if only its fourth crossing is
  /// missing.
  void push_cell(std::int32_t id, YarnWay way) {
    const Crossing& corner = crossing(id);
    const NetPlace target = corner.place.beyond(way).beyond(counter_clockwise(way));
    if (corner.is_laid(way) && corner.is_laid(counter_clockwise(way)) && find(target) < 0) {
      push(true, id, way, target);
    }
  }

  /// False if the surface here already carries a part of the net that is far away in the fabric.
  bool has_room(NetPlace place, const Heading& at) {
    if (net_.crossings.size() >= most_crossings_) {
      return false;
    }
    const double reach = closest_other * net_.step;
    for (const LaidTriangle& laid : surroundings_.within(at, reach)) {
      const auto is_other_part = [&](std::int32_t id) {
        const NetPlace other = crossing(id).place;
        const int apart =
            std::max(std::abs(other.warp - place.warp), std::abs(other.weft - place.weft));
        return apart > farthest_neighbour && crossing(id).triangle == laid.triangle &&
               laid.planar(crossing(id).position).norm() < reach;
      };
      if (occupancy_.any_of(laid.triangle, laid.origin(), reach, is_other_part)) {
        return false;
      }
    }
    return true;
  }

  void close_cell(std::int32_t corner_id, YarnWay way) {
    const Crossing& corner = crossing(corner_id);
    const Cell cell{.corner = corner_id,
                    .place = corner.place.beyond(way).beyond(counter_clockwise(way)),
                    .one = find(corner.place.beyond(way)),
                    .two = find(corner.place.beyond(counter_clockwise(way))),
                    .way = way,
                    .other = counter_clockwise(way)};
    if (find(cell.place) < 0 && !lay_fourth(cell)) {
      is_blocked_[static_cast<std::size_t>(cell.one)][std::size_t(cell.other)] = true;
      is_blocked_[static_cast<std::size_t>(cell.two)][std::size_t(cell.way)] = true;
    }
  }

  /// Were the cell flat, its angles at the neighbours of the corner would be the corner's
  /// supplement: that is where the search for the fourth crossing begins.
  std::array<Heading, 2> flat_guess(const Cell& cell) {
    const Crossing& corner = crossing(cell.corner);
    const double supplement =
        pi - angle_between(corner.yarn(cell.way), corner.yarn(cell.other), corner.normal);
    const auto guess = [&](std::int32_t id, YarnWay from_corner, double angle) {
      const Crossing& neighbour = crossing(id);
      return Heading{neighbour.triangle, neighbour.position,
                     turned(neighbour.yarn(opposite(from_corner)), neighbour.normal, angle),
                     neighbour.normal};
    };
    return {guess(cell.one, cell.way, -supplement), guess(cell.two, cell.other, supplement)};
  }

  /// True if all angles of the closed cell are those of yarns that can still be told apart.
  bool is_sound(const Cell& cell, const Meeting& meeting, const std::array<Heading, 2>& ends) {
    const Crossing& one = crossing(cell.one);
    const Crossing& two = crossing(cell.two);
    return is_open(angle_between(meeting.starts[0].direction, one.yarn(opposite(cell.way)),
                                 one.normal)) &&
           is_open(angle_between(two.yarn(opposite(cell.other)), meeting.starts[1].direction,
                                 two.normal)) &&
           is_open(angle_between(-ends[1].direction, -ends[0].direction, ends[0].normal));
  }

  bool lay_fourth(const Cell& cell) {
    const std::optional<Meeting> meeting = meet(surface_, flat_guess(cell), net_.step);
    if (!meeting) {
      return false;
    }
    const std::array<Heading, 2> ends = joined(surface_, *meeting);
    if (meeting->gap > nearly_closed * net_.step || !is_sound(cell, *meeting, ends) ||
        !has_room(cell.place, ends[0])) {
      net_.seams.push_back(crossing(cell.corner).position);
      return false;
    }
    const std::int32_t fourth = add({.place = cell.place,
                                     .triangle = ends[0].triangle,
                                     .position = ends[0].position,
                                     .normal = ends[0].normal});
    link(cell.one, cell.other, meeting->starts[0].direction, fourth, -ends[0].direction);
    link(cell.two, cell.way, meeting->starts[1].direction, fourth, -ends[1].direction);
    return true;
  }

  void lay_on(std::int32_t id, YarnWay way) {
    const Crossing& from = crossing(id);
    const Vector3 direction = straight_on(from, way);
    if (find(from.place.beyond(way)) >= 0 || direction.isZero(0) ||
        is_blocked_[static_cast<std::size_t>(id)][std::size_t(way)]) {
      return;
    }
    const Walk walk = walk_from(id, direction);
    if (walk.complete) {
      lay_end(id, way, direction, walk.end);
    }
  }

  /// Where a yarn goes that nothing guides: straight on, or off at a right angle from the yarn it
  /// crosses. Zero if there is neither.
  static Vector3 straight_on(const Crossing& from, YarnWay way) {
    const YarnWay left = counter_clockwise(way);
    if (from.is_laid(opposite(way))) {
      return -from.yarn(opposite(way));
    }
    if (from.is_laid(left)) {
      return turned(from.yarn(left), from.normal, -pi / 2);
    }
    return turned(from.yarn(opposite(left)), from.normal, pi / 2);
  }

  const WalkSurface& surface_;
  Surroundings surroundings_;
  std::size_t most_crossings_;
  YarnNet net_;
  std::vector<std::array<bool, 4>> is_blocked_; // ways by which no yarn goes on by itself
  Occupancy occupancy_;
  std::priority_queue<Task> tasks_;
  std::int64_t sequence_ = 0;
};

} // namespace

NetPlace NetPlace::beyond(YarnWay way) const {
  switch (way) {
  case YarnWay::warp:
    return {warp + 1, weft};
  case YarnWay::weft:
    return {warp, weft + 1};
  case YarnWay::back_along_warp:
    return {warp - 1, weft};
  case YarnWay::back_along_weft:
    break;
  }
  return {warp, weft - 1};
}

const Crossing* YarnNet::at(NetPlace place) const {
  const auto found = index.find(key_of(place));
  return found == index.end() ? nullptr : &crossings[static_cast<std::size_t>(found->second)];
}

YarnNet lay_net(const WalkSurface& surface, const Heading& start, double step,
                std::size_t most_crossings) {
  return Weaver(surface, step, most_crossings).woven(start);
}

} // namespace tidemark
