#include "mesh/drape.hpp"

#include "mesh/error.hpp"
#include "mesh/yarn_net.hpp"

#include <Eigen/Geometry>
#include <Eigen/LU>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <string>

namespace tidemark {

using std::numbers::pi;

namespace {

constexpr double most_crossings = 2e7;
constexpr double half_cell = 0.5;    // to the middle between two crossings, in steps
constexpr double seam_overlap = 0.1; // by which cells on a curved surface may miss each other
constexpr double reach_at_rim = 1;   // beyond the last crossing, in steps

Heading start_heading(const WalkSurface& surface, const NearestPlace& place,
                      const Vector3& direction) {
  static const double least_sine = std::sin(pi / 180);
  const Vector3& normal = surface.triangles[place.triangle].normal;
  const Vector3 given = direction.normalized();
  const Vector3 projected = given - given.dot(normal) * normal;
  if (!(projected.norm() > least_sine)) {
    throw InputError("drape: the warp direction is perpendicular to the surface at the start; "
                     "expected one that can be projected on it");
  }
  return {place.triangle, place.position, projected.normalized(), normal};
}

void check_input(const DrapeStart& start, const DrapeOptions& options) {
  std::vector<std::string> findings;
  if (!start.point.allFinite()) {
    findings.emplace_back("drape: the start is not a finite point");
  }
  if (!start.warp_direction.allFinite() || !(start.warp_direction.norm() > 0)) {
    findings.emplace_back("drape: the warp direction is zero or not finite");
  }
  if (!std::isfinite(options.step) || options.step < 0) {
    findings.push_back("drape: step is " + std::to_string(options.step) +
                       " m; expected a positive length");
  }
  const double locking = options.locking_angle.value_or(1);
  if (!(locking > 0 && locking <= pi / 2)) {
    findings.push_back("drape: locking angle is " + std::to_string(locking * 180 / pi) +
                       " deg; expected more than 0, at most 90 deg");
  }
  if (!findings.empty()) {
    throw InputError(findings);
  }
}

struct Extent {
  double area = 0;           // [m2]
  std::size_t triangles = 0; // with an area
};

Extent extent_of(const WalkSurface& surface) {
  Extent extent;
  for (const WalkTriangle& triangle : surface.triangles) {
    extent.area += triangle.area;
    extent.triangles += triangle.area > 0 ? 1 : 0;
  }
  return extent;
}

double step_for(const Extent& extent, const DrapeOptions& options) {
  const double mean_square = 2 * extent.area / static_cast<double>(extent.triangles);
  const double step = options.step > 0 ? options.step : 0.5 * std::sqrt(mean_square);
  if (extent.area / (step * step) > most_crossings) {
    throw InputError("drape: a step of " + std::to_string(step * 1e3) +
                     " mm would give more than 20 million crossings; expected a longer one");
  }
  return step;
}

/// Directions of the yarns at a crossing as smooth curves: the pieces of yarn laid there are
/// chords.
struct Tangents {
  Vector3 warp;
  double to_weft; // angle from warp to weft [rad]
};

/// By how much a yarn turns at a crossing it passes; 0 where it does not pass.
double turn_at(const Crossing& crossing, YarnWay way) {
  if (!crossing.is_laid(way) || !crossing.is_laid(opposite(way))) {
    return 0;
  }
  return angle_between(-crossing.yarn(opposite(way)), crossing.yarn(way), crossing.normal);
}

/// The yarn's direction: between its two pieces, or at its end the last piece turned on by half of
/// what the yarn turns at the crossing before. Zero if the yarn has no piece here.
Vector3 tangent(const YarnNet& net, const Crossing& crossing, YarnWay way) {
  const YarnWay back = opposite(way);
  if (crossing.is_laid(way) && crossing.is_laid(back)) {
    return (crossing.yarn(way) - crossing.yarn(back)).normalized();
  }
  if (crossing.is_laid(way)) {
    const double turn = turn_at(net.next(crossing, way), way);
    return turned(crossing.yarn(way), crossing.normal, -turn / 2);
  }
  if (crossing.is_laid(back)) {
    const double turn = turn_at(net.next(crossing, back), way);
    return turned(Vector3(-crossing.yarn(back)), crossing.normal, turn / 2);
  }
  return Vector3::Zero();
}

Tangents tangents(const YarnNet& net, const Crossing& crossing) {
  const Vector3 warp = tangent(net, crossing, YarnWay::warp);
  const Vector3 weft = tangent(net, crossing, YarnWay::weft);
  if (warp.isZero(0) && weft.isZero(0)) { // the part is smaller than a step
    return {net.start_warp, pi / 2};
  }
  if (warp.isZero(0)) {
    return {turned(weft, crossing.normal, -pi / 2), pi / 2};
  }
  if (weft.isZero(0)) {
    return {warp, pi / 2};
  }
  return {warp, angle_between(warp, weft, crossing.normal)};
}

/// How the directions of the yarns change from one crossing to the next, [rad].
struct Change {
  double warp = 0;    // against the straight way there
  double to_weft = 0; // of the angle from warp to weft
};

/// Where a triangle's centre lies between the crossings.
struct Position {
  std::int32_t crossing = -1;
  double off = std::numeric_limits<double>::infinity(); // larger of |warp| and |weft|
  double warp = 0;                                      // in steps from the crossing
  double weft = 0;
  Vector3 axis_1 = Vector3::Zero(); // warp at the crossing, carried into the triangle
  Vector3 axis_2 = Vector3::Zero(); // at a right angle to it
};

class Coverage {
public:
  Coverage(const WalkSurface& surface, const YarnNet& net)
      : surface_(surface), net_(net), surroundings_(surface), positions_(surface.triangles.size()) {
    tangents_.reserve(net.crossings.size());
    for (const Crossing& crossing : net.crossings) {
      tangents_.push_back(tangents(net, crossing));
    }
  }

  PerTriangle<Yarns> yarns() {
    for (std::size_t id = 0; id < net_.crossings.size(); ++id) {
      claim(id, half_cell + seam_overlap);
    }
    const PerTriangle<Position> inside = positions_;
    for (std::size_t id = 0; id < net_.crossings.size(); ++id) {
      if (is_at_end(net_.crossings[id])) {
        claim(id, reach_at_rim);
      }
    }
    PerTriangle<Yarns> yarns(positions_.size());
    for (const TriangleId id : positions_.ids()) {
      const Position& position = inside[id].crossing >= 0 ? inside[id] : positions_[id];
      if (position.crossing >= 0) {
        yarns[id] = yarns_at(position);
      }
    }
    return yarns;
  }

private:
  static bool is_at_end(const Crossing& crossing) {
    return !std::ranges::all_of(yarn_ways, [&](YarnWay way) { return crossing.is_laid(way); });
  }

  /// Takes the triangles round a crossing whose centres lie within some steps along both yarns and
  /// nearer than to any other crossing.
  void claim(std::size_t id, double steps) {
    const Crossing& crossing = net_.crossings[id];
    const Tangents& here = tangents_[id];
    const Heading centre{crossing.triangle, crossing.position, here.warp, crossing.normal};
    Eigen::Matrix2d yarns;
    yarns << 1, std::cos(here.to_weft), 0, std::sin(here.to_weft);
    const Eigen::Matrix2d to_steps = yarns.inverse() / net_.step;
    // The farther corner of the parallelogram.
    const double radius =
        2 * steps * net_.step *
        std::max(std::abs(std::cos(here.to_weft / 2)), std::abs(std::sin(here.to_weft / 2)));
    for (const LaidTriangle& laid : surroundings_.within(centre, radius)) {
      const auto& corners = surface_.triangles[laid.triangle].corners;
      const Vector3 middle = (corners[0] + corners[1] + corners[2]) / 3;
      const Eigen::Vector2d at = to_steps * laid.planar(middle);
      const double off = at.cwiseAbs().maxCoeff();
      if (off <= steps && off < positions_[laid.triangle].off) {
        positions_[laid.triangle] = {
            static_cast<std::int32_t>(id), off, at.x(), at.y(), laid.axis_1, laid.axis_2};
      }
    }
  }

  [[nodiscard]] const Tangents& tangents_of(const Crossing& crossing) const {
    return tangents_[static_cast<std::size_t>(&crossing - net_.crossings.data())];
  }

  [[nodiscard]] Change change_along(const Crossing& from, YarnWay way) const {
    const Crossing& to = net_.next(from, way);
    const Tangents& there = tangents_of(to);
    const Tangents& here = tangents_of(from);
    const double arrives = angle_between(-to.yarn(opposite(way)), there.warp, to.normal);
    const double leaves = angle_between(from.yarn(way), here.warp, from.normal);
    return {std::remainder(arrives - leaves, 2 * pi), there.to_weft - here.to_weft};
  }

  /// Change over some steps along a yarn, on the line through the next crossing that way; through
  /// the one before where the net ends.
  [[nodiscard]] Change change_over(const Crossing& from, YarnWay forward, double steps) const {
    const YarnWay way = steps >= 0 ? forward : opposite(forward);
    for (const YarnWay taken : {way, opposite(way)}) {
      if (from.is_laid(taken)) {
        const Change change = change_along(from, taken);
        const double share = taken == way ? std::abs(steps) : -std::abs(steps);
        return {share * change.warp, share * change.to_weft};
      }
    }
    return {};
  }

  [[nodiscard]] Yarns yarns_at(const Position& position) const {
    const auto id = static_cast<std::size_t>(position.crossing);
    const Crossing& crossing = net_.crossings[id];
    const Change along = change_over(crossing, YarnWay::warp, position.warp);
    const Change across = change_over(crossing, YarnWay::weft, position.weft);
    const double warp = along.warp + across.warp;
    const double to_weft =
        std::clamp(tangents_[id].to_weft + along.to_weft + across.to_weft, 0.0, pi);
    const auto at_angle = [&](double angle) {
      return (std::cos(angle) * position.axis_1 + std::sin(angle) * position.axis_2).eval();
    };
    return {.is_covered = true,
            .warp = at_angle(warp),
            .weft = at_angle(warp + to_weft),
            .shear = pi / 2 - to_weft};
  }

  const WalkSurface& surface_;
  const YarnNet& net_;
  Surroundings surroundings_;
  PerTriangle<Position> positions_;
  std::vector<Tangents> tangents_;
};

void add_up(Drape& drape, const WalkSurface& surface, const DrapeOptions& options) {
  for (const TriangleId id : drape.yarns.ids()) {
    const double area = surface.triangles[id].area;
    const Yarns& yarns = drape.yarns[id];
    if (!yarns.is_covered) {
      drape.uncovered_area += area;
      continue;
    }
    drape.covered_area += area;
    const double shear = std::abs(yarns.shear);
    if (!drape.largest_shear_at.valid() || shear > drape.largest_shear) {
      drape.largest_shear = shear;
      drape.largest_shear_at = id;
    }
    if (options.locking_angle && shear > *options.locking_angle) {
      drape.locked.push_back(id);
      drape.locked_area += area;
    }
  }
}

Vector3 in_plane(const Vector3& vector, const Vector3& normal) {
  return (vector - vector.dot(normal) * normal).normalized();
}

} // namespace

Drape drape(const ShellMesh& mesh, const Triangulation& triangulation,
            const std::function<bool(TriangleId)>& is_to_be_covered, const DrapeStart& start,
            const DrapeOptions& options) {
  check_input(start, options);
  const WalkSurface surface = walk_surface(mesh, triangulation, is_to_be_covered);
  const NearestPlace place = nearest_place(surface, start.point);
  if (!place.triangle.valid()) {
    throw InputError("drape: there is no surface to cover");
  }
  const Extent extent = extent_of(surface);
  Drape result;
  result.start_distance = place.distance;
  result.step = step_for(extent, options);
  const double crossings = extent.area / (result.step * result.step);
  const YarnNet net = lay_net(surface, start_heading(surface, place, start.warp_direction),
                              result.step, 1000 + 20 * static_cast<std::size_t>(crossings));
  result.crossings = net.crossings.size();
  result.seams = net.seams;
  result.yarns = Coverage(surface, net).yarns();
  add_up(result, surface, options);
  return result;
}

PerElement<Yarns> yarns_of_elements(const ShellMesh& mesh, const Triangulation& triangulation,
                                    const PerTriangle<Yarns>& yarns) {
  PerElement<Yarns> result(mesh.elements.size());
  PerElement<double> area(mesh.elements.size(), 0);
  for (const TriangleId id : triangulation.corners.ids()) {
    const auto& corners = triangulation.corners[id];
    const ElementId element = triangulation.element[id];
    const double here = area_vector(mesh.positions[corners[0]], mesh.positions[corners[1]],
                                    mesh.positions[corners[2]])
                            .norm();
    if (yarns[id].is_covered && here > area[element]) {
      area[element] = here;
      result[element] = yarns[id];
    }
  }
  for (const ElementId element : result.ids()) {
    Yarns& of_element = result[element];
    if (mesh.elements[element].is_quad() && of_element.is_covered) {
      const Vector3 normal = element_normal(mesh, element);
      of_element.warp = in_plane(of_element.warp, normal);
      of_element.weft = in_plane(of_element.weft, normal);
      const double cosine = of_element.warp.dot(of_element.weft);
      const double sine = of_element.warp.cross(of_element.weft).norm();
      of_element.shear = pi / 2 - std::atan2(sine, cosine);
    }
  }
  return result;
}

} // namespace tidemark
