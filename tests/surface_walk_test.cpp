// Straight ways: over folds, along rims, through nodes, past joints.
#include "mesh/surface_walk.hpp"

#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <Eigen/Geometry>

#include <cmath>
#include <numbers>
#include <set>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

WalkSurface surface_of(const ShellMesh& mesh) {
  return walk_surface(mesh, triangulate(mesh), [](TriangleId) { return true; });
}

Heading heading_at(const WalkSurface& surface, const Vector3& point, const Vector3& direction) {
  const NearestPlace place = nearest_place(surface, point);
  const Vector3& normal = surface.triangles[place.triangle].normal;
  return {place.triangle, place.position, (direction - direction.dot(normal) * normal).normalized(),
          normal};
}

} // namespace

TEST_CASE("walk: straight over a plate, whatever triangles lie there") {
  const WalkSurface surface =
      surface_of(plate({.columns = 13, .rows = 9, .jitter = 0.3, .seed = 2}));
  const Walk walk = walk_straight(surface, heading_at(surface, {0.1, 0.2, 0}, {3, 4, 0}), 0.9);
  CHECK(walk.complete);
  CHECK((walk.end.position - Vector3(0.64, 0.92, 0)).norm() < 1e-13);
  CHECK((walk.end.direction - Vector3(0.6, 0.8, 0)).norm() < 1e-13);
}

TEST_CASE("walk: through nodes and along edges") {
  const WalkSurface surface = surface_of(plate({.columns = 8, .rows = 8}));
  for (const Vector3& direction : {Vector3(1, 0, 0), Vector3(0, 1, 0), Vector3(1, 1, 0)}) {
    const Walk walk = walk_straight(surface, heading_at(surface, {0.25, 0.25, 0}, direction), 0.5);
    CHECK(walk.complete);
    CHECK((walk.end.position - Vector3(0.25, 0.25, 0) - 0.5 * direction.normalized()).norm() <
          1e-13);
  }
}

TEST_CASE("walk: across a fold the angle to the edge stays") {
  ShellMesh mesh = plate({.columns = 4, .rows = 4});
  fold_at(mesh, 0.5, pi / 2); // what lies beyond stands upright
  const WalkSurface surface = surface_of(mesh);
  const Walk walk = walk_straight(surface, heading_at(surface, {0.2, 0.1, 0}, {3, 4, 0}), 1);
  CHECK(walk.complete); // 0.3 to the fold, then 0.3 up; 0.8 along
  CHECK((walk.end.position - Vector3(0.5, 0.9, 0.3)).norm() < 1e-13);
  CHECK((walk.end.direction - Vector3(0, 0.8, 0.6)).norm() < 1e-13);
  CHECK((walk.end.normal - Vector3(-1, 0, 0)).norm() < 1e-13);
}

TEST_CASE("walk: triangles facing the other way do not turn left into right") {
  ShellMesh mesh = plate({.columns = 4, .rows = 4});
  for (const ElementId id : mesh.elements.ids()) {
    if (id.value() % 2 == 0) {
      std::swap(mesh.elements[id].nodes[0], mesh.elements[id].nodes[1]);
    }
  }
  const WalkSurface surface = surface_of(mesh);
  Heading start = heading_at(surface, {0.2, 0.1, 0}, {1, 1, 0});
  start.normal = Vector3::UnitZ();
  const Walk walk = walk_straight(surface, start, 0.9);
  CHECK(walk.complete);
  CHECK((walk.end.normal - Vector3::UnitZ()).norm() < 1e-14);
  CHECK((turned(walk.end, pi / 2) - Vector3(-1, 1, 0).normalized()).norm() < 1e-13);
}

TEST_CASE("walk: ends at the rim, but may run along it") {
  const WalkSurface surface = surface_of(plate({.columns = 4, .rows = 4}));
  const Walk off = walk_straight(surface, heading_at(surface, {0.5, 0.5, 0}, {1, 0.1, 0}), 0.6);
  CHECK(!off.complete);
  CHECK((off.end.position - Vector3(1, 0.55, 0)).norm() < 1e-13);
  Heading along = heading_at(surface, {0.1, 0, 0}, {1, 0, 0});
  along.direction = Vector3(1, -1e-9, 0).normalized();
  const Walk rim = walk_straight(surface, along, 0.8);
  CHECK(rim.complete);
  CHECK((rim.end.position - Vector3(0.9, 0, 0)).norm() < 1e-8);
  // A way that ends on the rim keeps its direction.
  const Walk touch =
      walk_straight(surface, heading_at(surface, {0.5, 0.5, 0}, {4, 3, 0}), 0.625 * (1 + 1e-9));
  CHECK(touch.complete);
  CHECK((touch.end.position - Vector3(1, 0.875, 0)).norm() < 1e-8);
  CHECK((touch.end.direction - Vector3(0.8, 0.6, 0)).norm() < 1e-13);
  along.direction = Vector3(1, -1e-3, 0).normalized();
  CHECK(!walk_straight(surface, along, 0.8).complete);
}

TEST_CASE("walk: on a sphere round a great circle, back to within the square of the triangles") {
  const auto miss = [](int rings) {
    ShellMesh mesh = disc(pi, rings); // all of the unit sphere but for a hole at the far pole
    wrap_on_sphere(mesh, 1.0001);
    const WalkSurface surface = surface_of(mesh);
    const Heading start = heading_at(surface, {1, 0.2, 0.3}, {0.1, 1, 0.4});
    const Walk walk = walk_straight(surface, start, 2 * pi);
    CHECK(walk.complete);
    return (walk.end.position - start.position).norm();
  };
  CHECK(miss(20) < 0.1);
  CHECK(miss(80) < 0.01);
}

TEST_CASE("walk: at a joint of three plates the flattest pair goes on, the third ends") {
  std::vector<ShellMesh> parts(3, plate({.columns = 3, .rows = 3}));
  move_rigidly(parts[0], Vector3::UnitZ(), pi, {0, 1, 0});            // x from -1 to 0
  move_rigidly(parts[2], Vector3::UnitY(), -pi / 2, Vector3::Zero()); // upright
  move_rigidly(parts[1], Vector3::UnitY(), 0.2, Vector3::Zero());     // falls a little
  const WalkSurface surface = surface_of(welded(parts));
  const Walk on = walk_straight(surface, heading_at(surface, {-0.5, 0.4, 0}, {1, 0, 0}), 1);
  CHECK(on.complete);
  CHECK((on.end.position - Vector3(0.5 * std::cos(0.2), 0.4, -0.5 * std::sin(0.2))).norm() < 1e-13);
  const Walk down = walk_straight(surface, heading_at(surface, {0, 0.4, 0.5}, {0, 0, -1}), 1);
  CHECK(!down.complete);
  CHECK((down.end.position - Vector3(0, 0.4, 0)).norm() < 1e-13);
}

TEST_CASE("walk: triangles without area and those left out are no part of the surface") {
  ShellMesh mesh = mesh_of({{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0.5, 0.5, 0}},
                           {{{NodeId(0), NodeId(1), NodeId(2), NodeId()}},
                            {{NodeId(1), NodeId(3), NodeId(2), NodeId()}}});
  const WalkSurface surface = surface_of(mesh);
  CHECK(surface.triangles[TriangleId(0)].area == doctest::Approx(0.5));
  CHECK(surface.triangles[TriangleId(1)].area == 0);
  CHECK(!surface.triangles[TriangleId(0)].neighbours[0].valid());
  const WalkSurface none = walk_surface(mesh, triangulate(mesh), [](TriangleId) { return false; });
  CHECK(!nearest_place(none, Vector3::Zero()).triangle.valid());
}

TEST_CASE("walk: the nearest place on a face, on an edge, at a corner") {
  const WalkSurface surface = surface_of(plate({.columns = 3, .rows = 3}));
  const NearestPlace face = nearest_place(surface, {0.3, 0.4, 0.2});
  CHECK((face.position - Vector3(0.3, 0.4, 0)).norm() < 1e-14);
  CHECK(face.distance == doctest::Approx(0.2));
  CHECK((nearest_place(surface, {0.3, -2, 1}).position - Vector3(0.3, 0, 0)).norm() < 1e-14);
  CHECK((nearest_place(surface, {5, 3, 1}).position - Vector3(1, 1, 0)).norm() < 1e-14);
}

TEST_CASE("walk: surroundings laid flat unfold what is folded") {
  ShellMesh mesh = plate({.columns = 10, .rows = 10});
  const ShellMesh flat = mesh;
  fold_at(mesh, 0.7, 1.3);
  fold_at(mesh, 0.5, -2);
  const WalkSurface surface = surface_of(mesh);
  const Triangulation triangulation = triangulate(flat);
  const Heading centre = heading_at(surface, {0.42, 0.51, 0}, {1, 0, 0});
  Surroundings surroundings(surface);
  for (const double radius : {0.35, 0.01, 0.2}) {
    std::set<TriangleId> laid;
    for (const LaidTriangle& one : surroundings.within(centre, radius)) {
      laid.insert(one.triangle);
      for (std::size_t i = 0; i < 3; ++i) {
        const Vector3 at = flat.positions[triangulation.corners[one.triangle][i]];
        const Eigen::Vector2d planar = one.planar(surface.triangles[one.triangle].corners[i]);
        CHECK((planar - Eigen::Vector2d(at.x() - 0.42, at.y() - 0.51)).norm() < 1e-13);
      }
    }
    for (const TriangleId id : triangulation.corners.ids()) { // a corner within: laid
      for (const NodeId node : triangulation.corners[id]) {
        const double distance = (flat.positions[node] - Vector3(0.42, 0.51, 0)).norm();
        CHECK((distance >= radius || laid.contains(id)));
      }
    }
  }
}
