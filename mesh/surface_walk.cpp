#include "mesh/surface_walk.hpp"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace tidemark {

namespace {

constexpr double rim_tolerance = 1e-6; // of the length of a way
constexpr int most_triangles_crossed = 100'000;

WalkTriangle prepared(const std::array<Vector3, 3>& corners) {
  WalkTriangle triangle;
  triangle.corners = corners;
  const Vector3 area = area_vector(corners[0], corners[1], corners[2]);
  double longest = 0;
  for (std::size_t i = 0; i < 3; ++i) {
    longest = std::max(longest, (corners[(i + 2) % 3] - corners[(i + 1) % 3]).squaredNorm());
  }
  if (!(area.norm() > 1e-12 * longest)) {
    return triangle;
  }
  triangle.area = area.norm();
  triangle.normal = area / triangle.area;
  for (std::size_t i = 0; i < 3; ++i) {
    triangle.along[i] = (corners[(i + 2) % 3] - corners[(i + 1) % 3]).normalized();
    triangle.outward[i] = triangle.along[i].cross(triangle.normal).normalized();
  }
  return triangle;
}

struct Side {
  NodeId low;
  NodeId high;
  TriangleId triangle;
  std::uint8_t edge;
  auto operator<=>(const Side&) const = default;
};

std::vector<Side> sides_of(const WalkSurface& surface, const Triangulation& triangulation) {
  std::vector<Side> sides;
  sides.reserve(3 * surface.triangles.size());
  for (const TriangleId id : surface.triangles.ids()) {
    if (surface.triangles[id].area == 0) {
      continue;
    }
    const auto& corners = triangulation.corners[id];
    for (std::uint8_t i = 0; i < 3; ++i) {
      const auto [low, high] = std::minmax(corners[(i + 1U) % 3], corners[(i + 2U) % 3]);
      sides.push_back({low, high, id, i});
    }
  }
  std::ranges::sort(sides);
  return sides;
}

const Vector3& outward_of(const WalkSurface& surface, const Side& side) {
  return surface.triangles[side.triangle].outward[side.edge];
}

void join(WalkSurface& surface, const Side& one, const Side& two) {
  surface.triangles[one.triangle].neighbours[one.edge] = two.triangle;
  surface.triangles[one.triangle].neighbour_edges[one.edge] = two.edge;
  surface.triangles[two.triangle].neighbours[two.edge] = one.triangle;
  surface.triangles[two.triangle].neighbour_edges[two.edge] = one.edge;
}

/// Joins pairs among the triangles at one edge, the flattest pair first.
void join_at_edge(WalkSurface& surface, std::vector<Side> sides) {
  while (sides.size() > 1) {
    std::size_t first = 0;
    std::size_t second = 1;
    double flattest = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < sides.size(); ++i) {
      for (std::size_t k = i + 1; k < sides.size(); ++k) {
        const Vector3 straight_on = -outward_of(surface, sides[k]);
        const double turn =
            2 * std::asin(std::min(1.0, (outward_of(surface, sides[i]) - straight_on).norm() / 2));
        if (turn < flattest - rim_tolerance) {
          flattest = turn;
          first = i;
          second = k;
        }
      }
    }
    join(surface, sides[first], sides[second]);
    sides.erase(sides.begin() + static_cast<std::ptrdiff_t>(second));
    sides.erase(sides.begin() + static_cast<std::ptrdiff_t>(first));
  }
}

/// Carries vectors of the plane of one triangle across its edge into the plane of the next.
class Hinge {
public:
  Hinge(const WalkTriangle& from, std::size_t edge, const WalkTriangle& to)
      : along_(from.along[edge]), out_(from.outward[edge]),
        in_(-to.outward[from.neighbour_edges[edge]]) {}
  [[nodiscard]] Vector3 carried(const Vector3& vector) const {
    return vector.dot(along_) * along_ + vector.dot(out_) * in_;
  }
  /// The next triangle's normal on the same side as the given normal of this one.
  [[nodiscard]] Vector3 carried_normal(const Vector3& normal, const Vector3& next) const {
    const bool same = (along_.cross(out_).dot(normal) > 0) == (along_.cross(in_).dot(next) > 0);
    return same ? next : Vector3(-next);
  }

private:
  const Vector3& along_;
  const Vector3& out_;
  Vector3 in_;
};

/// Distance to an edge, 0 for a place that rounding has put beyond it.
double distance_to_edge(const WalkTriangle& triangle, std::size_t edge, const Vector3& position) {
  return std::max(0.0, (triangle.corners[(edge + 1) % 3] - position).dot(triangle.outward[edge]));
}

struct Exit {
  std::size_t edge = 3; // 3: none, the way ends in the triangle
  double length = 0;    // to the edge, or all that is left
};

/// The edge a way leaves a triangle by. A way that has just come in across an edge does not leave
/// by it, whatever rounding says.
Exit exit_of(const WalkTriangle& triangle, const Heading& at, std::size_t entry, double left) {
  Exit exit;
  exit.length = left;
  for (std::size_t i = 0; i < 3; ++i) {
    const double rate = at.direction.dot(triangle.outward[i]);
    if (i == entry || rate <= 0) {
      continue;
    }
    const double length = distance_to_edge(triangle, i, at.position) / rate;
    if (length < exit.length) {
      exit = {i, length};
    }
  }
  return exit;
}

Vector3 nearest_on_segment(const Vector3& a, const Vector3& b, const Vector3& point) {
  const Vector3 side = b - a;
  return a + std::clamp((point - a).dot(side) / side.squaredNorm(), 0.0, 1.0) * side;
}

Vector3 nearest_in(const WalkTriangle& triangle, const Vector3& point) {
  bool inside = true;
  Vector3 nearest = Vector3::Zero();
  double least = std::numeric_limits<double>::infinity();
  for (std::size_t i = 0; i < 3; ++i) {
    const Vector3& a = triangle.corners[(i + 1) % 3];
    const Vector3& b = triangle.corners[(i + 2) % 3];
    inside = inside && (point - a).dot(triangle.outward[i]) <= 0;
    const Vector3 candidate = nearest_on_segment(a, b, point);
    if ((candidate - point).norm() < least) {
      least = (candidate - point).norm();
      nearest = candidate;
    }
  }
  if (!inside) {
    return nearest;
  }
  return point - (point - triangle.corners[0]).dot(triangle.normal) * triangle.normal;
}

double segment_distance(const Eigen::Vector2d& a, const Eigen::Vector2d& b) {
  const Eigen::Vector2d side = b - a;
  return (a + std::clamp(-a.dot(side) / side.squaredNorm(), 0.0, 1.0) * side).norm();
}

} // namespace

WalkSurface walk_surface(const ShellMesh& mesh, const Triangulation& triangulation,
                         const std::function<bool(TriangleId)>& is_part) {
  WalkSurface surface;
  surface.triangles.reserve(triangulation.corners.size());
  for (const TriangleId id : triangulation.corners.ids()) {
    const auto& nodes = triangulation.corners[id];
    WalkTriangle triangle =
        prepared({mesh.positions[nodes[0]], mesh.positions[nodes[1]], mesh.positions[nodes[2]]});
    if (!is_part(id)) {
      triangle.area = 0;
    }
    surface.triangles.push_back(triangle);
  }
  const std::vector<Side> sides = sides_of(surface, triangulation);
  for (std::size_t first = 0, last = 0; first < sides.size(); first = last) {
    while (last < sides.size() && sides[last].low == sides[first].low &&
           sides[last].high == sides[first].high) {
      ++last;
    }
    if (last - first == 2) {
      join(surface, sides[first], sides[first + 1]);
    } else if (last - first > 2) {
      join_at_edge(surface, {sides.begin() + static_cast<std::ptrdiff_t>(first),
                             sides.begin() + static_cast<std::ptrdiff_t>(last)});
    }
  }
  return surface;
}

Walk walk_straight(const WalkSurface& surface, const Heading& start, double length) {
  Heading at = start;
  std::size_t entry = 3;
  double left = length;
  double bent = 0; // to run along the rim
  for (int crossed = 0; crossed < most_triangles_crossed; ++crossed) {
    const WalkTriangle& triangle = surface.triangles[at.triangle];
    const Exit exit = exit_of(triangle, at, entry, left);
    at.position += exit.length * at.direction;
    left -= exit.length;
    if (exit.edge == 3) {
      at.direction = turned(at, bent);
      return {at, true};
    }
    const TriangleId next = triangle.neighbours[exit.edge];
    if (!next.valid()) {
      const Vector3& out = triangle.outward[exit.edge];
      if (left * at.direction.dot(out) > rim_tolerance * length) {
        return {at, false};
      }
      const Vector3 arriving = at.direction;
      at.direction = arriving - arriving.dot(out) * out;
      if (left <= rim_tolerance * length || at.direction.norm() < rim_tolerance) {
        at.direction = turned(arriving, at.normal, bent);
        return {at, true};
      }
      at.direction.normalize();
      bent += angle_between(at.direction, arriving, at.normal);
      entry = exit.edge;
      continue;
    }
    const Hinge hinge(triangle, exit.edge, surface.triangles[next]);
    at.direction = hinge.carried(at.direction).normalized();
    at.normal = hinge.carried_normal(at.normal, surface.triangles[next].normal);
    at.triangle = next;
    entry = triangle.neighbour_edges[exit.edge];
  }
  return {at, false};
}

Vector3 turned(const Vector3& vector, const Vector3& normal, double angle) {
  return std::cos(angle) * vector + std::sin(angle) * normal.cross(vector);
}

Vector3 turned(const Heading& heading, double angle) {
  return turned(heading.direction, heading.normal, angle);
}

double angle_between(const Vector3& from, const Vector3& to, const Vector3& normal) {
  return std::atan2(from.cross(to).dot(normal), from.dot(to));
}

NearestPlace nearest_place(const WalkSurface& surface, const Vector3& point) {
  NearestPlace nearest{TriangleId(), point, std::numeric_limits<double>::infinity()};
  for (const TriangleId id : surface.triangles.ids()) {
    if (surface.triangles[id].area == 0) {
      continue;
    }
    const Vector3 position = nearest_in(surface.triangles[id], point);
    if ((position - point).norm() < nearest.distance) {
      nearest = {id, position, (position - point).norm()};
    }
  }
  return nearest;
}

Surroundings::Surroundings(const WalkSurface& surface)
    : surface_(surface), seen_(surface.triangles.size(), 0) {}

const std::vector<LaidTriangle>& Surroundings::within(const Heading& centre, double radius) {
  ++call_;
  laid_.clear();
  laid_.push_back({centre.triangle, centre.direction, centre.normal.cross(centre.direction),
                   centre.position, Eigen::Vector2d::Zero()});
  seen_[centre.triangle] = call_;
  for (std::size_t done = 0; done < laid_.size(); ++done) {
    const LaidTriangle here = laid_[done];
    const WalkTriangle& triangle = surface_.triangles[here.triangle];
    for (std::size_t i = 0; i < 3; ++i) {
      const TriangleId next = triangle.neighbours[i];
      if (!next.valid() || seen_[next] == call_) {
        continue;
      }
      const Vector3& corner = triangle.corners[(i + 1) % 3];
      const Eigen::Vector2d planar = here.planar(corner);
      if (segment_distance(planar, here.planar(triangle.corners[(i + 2) % 3])) >= radius) {
        continue;
      }
      const Hinge hinge(triangle, i, surface_.triangles[next]);
      seen_[next] = call_;
      laid_.push_back(
          {next, hinge.carried(here.axis_1), hinge.carried(here.axis_2), corner, planar});
    }
  }
  return laid_;
}

} // namespace tidemark
