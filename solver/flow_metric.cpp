#include "solver/flow_metric.hpp"

#include "solver/channel.hpp"

#include "solver/element_permeability.hpp"

#include <Eigen/Geometry>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <optional>

namespace tidemark {

namespace {

using Vector2 = Eigen::Vector2d;

/// 1/2 h det(K) (u . K^-1 v) / |u x v| with u and v given along and across K1.
double edge_term(const Vector2& u, const Vector2& v, double t1, double t2) {
  const double cross = std::abs(u.x() * v.y() - u.y() * v.x());
  return 0.5 * (t2 * u.x() * v.x() + t1 * u.y() * v.y()) / cross;
}

// Where properties vary within a region a flip blends those of two triangles. What differs by more
// than this is kept apart, as at the border of two regions: between h K that differ by a quarter
// the arithmetic mean is 1.2 % above the harmonic one, which is right across the edge.
constexpr double most_alike_ratio = 1.25;
constexpr double least_cosine_of_turn = 0.94; // 20 degrees

bool are_alike(double one, double other) {
  return std::max(one, other) <= most_alike_ratio * std::min(one, other);
}

constexpr std::int32_t no_triangle = -1;

/// Where a triangle meets its neighbour: across the edge opposite each corner.
using Neighbours = PerTriangle<std::array<std::int32_t, 3>>;

struct HalfEdge {
  std::int32_t low, high; // nodes
  std::int32_t triangle;
  int side; // opposite this corner
};

std::vector<HalfEdge> sorted_half_edges(const PerTriangle<FlowTriangle>& triangles) {
  std::vector<HalfEdge> half_edges;
  half_edges.reserve(3 * triangles.size());
  for (const TriangleId id : triangles.ids()) {
    const auto& corners = triangles[id].corners;
    for (std::size_t side = 0; side < 3; ++side) {
      const auto [low, high] = std::minmax(corners[(side + 1) % 3], corners[(side + 2) % 3]);
      half_edges.push_back({low.value(), high.value(), id.value(), static_cast<int>(side)});
    }
  }
  std::ranges::sort(half_edges, {},
                    [](const HalfEdge& e) { return std::tuple(e.low, e.high, e.triangle); });
  return half_edges;
}

/// Neighbours across edges that may be flipped as far as their surroundings go: exactly two
/// triangles, of the same region, and not one of the channels, given in ascending order. Also
/// counts the edges.
Neighbours flippable_neighbours(const PerTriangle<FlowTriangle>& triangles,
                                const std::vector<std::array<NodeId, 2>>& channels,
                                std::size_t& edges) {
  Neighbours neighbours(triangles.size(), {no_triangle, no_triangle, no_triangle});
  const std::vector<HalfEdge> half_edges = sorted_half_edges(triangles);
  edges = 0;
  for (std::size_t first = 0; first < half_edges.size(); ++edges) {
    std::size_t last = first + 1;
    while (last < half_edges.size() && half_edges[last].low == half_edges[first].low &&
           half_edges[last].high == half_edges[first].high) {
      ++last;
    }
    if (last == first + 2) {
      const HalfEdge& one = half_edges[first];
      const HalfEdge& two = half_edges[first + 1];
      const std::array edge{NodeId(one.low), NodeId(one.high)};
      if (triangles[TriangleId(one.triangle)].region ==
              triangles[TriangleId(two.triangle)].region &&
          !std::ranges::binary_search(channels, edge)) {
        neighbours[TriangleId(one.triangle)][static_cast<std::size_t>(one.side)] = two.triangle;
        neighbours[TriangleId(two.triangle)][static_cast<std::size_t>(two.side)] = one.triangle;
      }
    }
    first = last;
  }
  return neighbours;
}

/// Two triangles abc and abd unfolded into a plane: a at the origin, b on the x axis, c above and
/// d below, with the permeability of the pair averaged.
struct UnfoldedPair {
  NodeId a, b, c, d;
  Vector2 at_b, at_c, at_d;
  double t1, t2;
  Vector2 along;     // unit vector of K1
  bool is_mean_good; // the two are alike enough for their mean to stand for both
  Vector3 direction; // the same in space, not yet projected
};

class EdgeFlipper {
public:
  /// varies: whether triangles of one region may differ in more than how the surface lies.
  EdgeFlipper(PerTriangle<FlowTriangle>& triangles, const PerNode<Vector3>& positions,
              Neighbours neighbours, bool varies)
      : triangles_(triangles), positions_(positions), neighbours_(std::move(neighbours)),
        varies_(varies) {}

  std::size_t run() {
    std::vector<std::pair<std::int32_t, std::size_t>> queue;
    queue.reserve(3 * triangles_.size());
    for (std::size_t t = triangles_.size(); t-- > 0;) {
      for (std::size_t side = 0; side < 3; ++side) {
        queue.emplace_back(static_cast<std::int32_t>(t), side);
      }
    }
    // On a curved surface the averaged metric differs from pair to pair, so that the flips could
    // in principle chase each other: the count is bounded.
    const std::size_t most = 30 * triangles_.size();
    std::size_t flipped = 0;
    while (!queue.empty() && flipped < most) {
      const auto [t, side] = queue.back();
      queue.pop_back();
      const std::int32_t other = neighbours_[TriangleId(t)][side];
      if (other == no_triangle) {
        continue;
      }
      const auto pair = unfold(TriangleId(t), side, TriangleId(other));
      if (pair && (!varies_ || pair->is_mean_good) && wants_flip(*pair)) {
        flip(*pair, TriangleId(t), TriangleId(other));
        ++flipped;
        for (std::size_t k = 0; k < 3; ++k) {
          queue.emplace_back(t, k);
          queue.emplace_back(other, k);
        }
      }
    }
    return flipped;
  }

private:
  std::optional<UnfoldedPair> unfold(TriangleId one, std::size_t side, TriangleId two) const {
    static const double least_cosine = std::cos(20 * std::acos(-1.0) / 180);
    const FlowTriangle& first = triangles_[one];
    const FlowTriangle& second = triangles_[two];
    UnfoldedPair pair;
    pair.c = first.corners[side];
    pair.a = first.corners[(side + 1) % 3];
    pair.b = first.corners[(side + 2) % 3];
    pair.d =
        *std::ranges::find_if(second.corners, [&](NodeId n) { return n != pair.a && n != pair.b; });
    if (pair.c == pair.d) {
      return std::nullopt; // the same triangle twice
    }
    const Vector3 origin = positions_[pair.a];
    const Vector3 to_b = positions_[pair.b] - origin;
    const double length = to_b.norm();
    const Vector3 x = to_b / length;
    const Vector3 to_c = positions_[pair.c] - origin;
    const Vector3 to_d = positions_[pair.d] - origin;
    const Vector3 up_c = to_c - to_c.dot(x) * x;
    const Vector3 up_d = -(to_d - to_d.dot(x) * x);
    const double height_c = up_c.norm();
    const double height_d = up_d.norm();
    if (up_c.dot(up_d) < least_cosine * height_c * height_d) {
      return std::nullopt; // a crease, or folded back
    }
    pair.at_b = {length, 0};
    pair.at_c = {to_c.dot(x), height_c};
    pair.at_d = {to_d.dot(x), -height_d};
    average_permeability(first, second, x, up_c / height_c, up_d / height_d, pair);
    return pair;
  }

  static void average_permeability(const FlowTriangle& first, const FlowTriangle& second,
                                   const Vector3& x, const Vector3& up_first,
                                   const Vector3& up_second, UnfoldedPair& pair) {
    pair.t1 = 0.5 * (first.transmissivity_1 + second.transmissivity_1);
    pair.t2 = 0.5 * (first.transmissivity_2 + second.transmissivity_2);
    const Vector2 one(first.direction_1.dot(x), first.direction_1.dot(up_first));
    const Vector2 two(second.direction_1.dot(x), second.direction_1.dot(up_second));
    const double sign = one.dot(two) < 0 ? -1 : 1;
    const Vector2 sum = one + sign * two;
    pair.along = sum.norm() > 0 ? Vector2(sum.normalized()) : one;
    pair.is_mean_good =
        are_alike(first.transmissivity_1, second.transmissivity_1) &&
        are_alike(first.transmissivity_2, second.transmissivity_2) &&
        (std::abs(one.dot(two)) > least_cosine_of_turn || are_alike(pair.t1, pair.t2));
    pair.direction = first.direction_1 + sign * second.direction_1;
  }

  static bool wants_flip(const UnfoldedPair& pair) {
    const auto turned = [&](const Vector2& v) {
      return Vector2(v.dot(pair.along), pair.along.x() * v.y() - pair.along.y() * v.x());
    };
    const auto term = [&](const Vector2& u, const Vector2& v) {
      return edge_term(turned(u), turned(v), pair.t1, pair.t2);
    };
    const double at_c = term(-pair.at_c, pair.at_b - pair.at_c);
    const double at_d = term(-pair.at_d, pair.at_b - pair.at_d);
    if (at_c + at_d >= -1e-10 * std::sqrt(pair.t1 * pair.t2)) { // right angles: a tie
      return false;
    }
    // Convex: the new edge cd crosses ab strictly between a and b.
    const double share = pair.at_c.y() / (pair.at_c.y() - pair.at_d.y());
    const double crossing = pair.at_c.x() + share * (pair.at_d.x() - pair.at_c.x());
    return crossing > 1e-9 * pair.at_b.x() && crossing < (1 - 1e-9) * pair.at_b.x();
  }

  /// Triangles abc and abd become adc and dbc, in the places of one and two.
  void flip(const UnfoldedPair& pair, TriangleId one, TriangleId two) {
    const auto across = [&](TriangleId t, NodeId corner) {
      const auto& corners = triangles_[t].corners;
      const auto at = std::ranges::find(corners, corner) - corners.begin();
      return neighbours_[t][static_cast<std::size_t>(at)];
    };
    const std::int32_t beyond_bc = across(one, pair.a);
    const std::int32_t beyond_ca = across(one, pair.b);
    const std::int32_t beyond_bd = across(two, pair.a);
    const std::int32_t beyond_da = across(two, pair.b);
    place(pair, one, {pair.a, pair.d, pair.c});
    place(pair, two, {pair.d, pair.b, pair.c});
    neighbours_[one] = {two.value(), beyond_ca, beyond_da};
    neighbours_[two] = {beyond_bc, one.value(), beyond_bd};
    redirect(beyond_da, two, one);
    redirect(beyond_bc, one, two);
  }

  void place(const UnfoldedPair& pair, TriangleId id, std::array<NodeId, 3> corners) {
    FlowTriangle& triangle = triangles_[id];
    triangle.corners = corners;
    triangle.transmissivity_1 = pair.t1;
    triangle.transmissivity_2 = pair.t2;
    const Vector3 normal =
        area_vector(positions_[corners[0]], positions_[corners[1]], positions_[corners[2]])
            .normalized();
    triangle.direction_1 = (pair.direction - pair.direction.dot(normal) * normal).normalized();
  }

  void redirect(std::int32_t triangle, TriangleId from, TriangleId to) {
    if (triangle != no_triangle) {
      std::ranges::replace(neighbours_[TriangleId(triangle)], from.value(), to.value());
    }
  }

  PerTriangle<FlowTriangle>& triangles_;
  const PerNode<Vector3>& positions_;
  Neighbours neighbours_;
  bool varies_;
};

PerTriangle<FlowTriangle> triangles_with_permeability(const FillProblem& problem,
                                                      const Triangulation& triangulation) {
  const PerElement<Vector3> directions = direction_1(problem);
  PerTriangle<FlowTriangle> triangles;
  triangles.reserve(triangulation.corners.size());
  for (const TriangleId id : triangulation.corners.ids()) {
    const ElementId element = triangulation.element[id];
    const RegionId region_id = problem.element_region[element];
    const Reinforcement local = reinforcement_at(problem, element);
    const auto& corners = triangulation.corners[id];
    const auto& positions = problem.mesh.positions;
    const Vector3 normal =
        area_vector(positions[corners[0]], positions[corners[1]], positions[corners[2]])
            .normalized();
    const Vector3& given = directions[element];
    triangles.push_back({corners, region_id, local.thickness * local.permeability_1,
                         local.thickness * local.permeability_2,
                         (given - given.dot(normal) * normal).normalized()});
  }
  return triangles;
}

} // namespace

std::array<double, 3> edge_terms(const FlowTriangle& triangle, const PerNode<Vector3>& positions) {
  const auto& [a, b, c] = triangle.corners;
  const Vector3 normal = area_vector(positions[a], positions[b], positions[c]).normalized();
  const Vector3 across = normal.cross(triangle.direction_1);
  const auto in_plane = [&](const Vector3& v) {
    return Vector2(v.dot(triangle.direction_1), v.dot(across));
  };
  std::array<double, 3> terms;
  for (std::size_t i = 0; i < 3; ++i) {
    const Vector3& tip = positions[triangle.corners[i]];
    const Vector2 u = in_plane(positions[triangle.corners[(i + 1) % 3]] - tip);
    const Vector2 v = in_plane(positions[triangle.corners[(i + 2) % 3]] - tip);
    terms[i] = edge_term(u, v, triangle.transmissivity_1, triangle.transmissivity_2);
  }
  return terms;
}

FlowTriangles flow_triangles(const FillProblem& problem, const Triangulation& triangulation) {
  FlowTriangles result;
  result.triangles = triangles_with_permeability(problem, triangulation);
  Neighbours neighbours =
      flippable_neighbours(result.triangles, channel_edges(problem), result.edges);
  EdgeFlipper flipper(result.triangles, problem.mesh.positions, std::move(neighbours),
                      !problem.reinforcement.empty());
  result.flipped = flipper.run();
  return result;
}

} // namespace tidemark
