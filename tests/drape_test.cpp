// Fabrics on parts with holes, corners, joints and folds: what is covered, what is said, what is
// refused.
#include "mesh/drape.hpp"

#include "mesh/error.hpp"
#include "mesh/surface_walk.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>
#include <string>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

constexpr double degree = pi / 180;

Drape draped(const ShellMesh& mesh, const DrapeStart& start, const DrapeOptions& options = {}) {
  return drape(
      mesh, triangulate(mesh), [](TriangleId) { return true; }, start, options);
}

/// The mesh without the elements whose centres the test names.
ShellMesh without(const ShellMesh& mesh, const std::function<bool(const Vector3&)>& is_cut) {
  std::vector<Element> kept;
  for (const ElementId id : mesh.elements.ids()) {
    if (!is_cut(element_centre(mesh, id))) {
      kept.push_back(mesh.elements[id]);
    }
  }
  ShellMesh result = mesh_of(mesh.positions.values(), kept);
  drop_unused_nodes(result);
  return result;
}

bool in_box(const Vector3& x, double left, double right, double low, double high) {
  return x.x() > left && x.x() < right && x.y() > low && x.y() < high;
}

/// All findings of the InputError a call throws; empty if it throws none.
std::vector<std::string> findings_of(const std::function<void()>& call) {
  try {
    call();
  } catch (const InputError& error) {
    return error.findings();
  }
  return {};
}

void check_unsheared(const Drape& drape, const Vector3& warp) {
  CHECK(drape.uncovered_area == 0);
  CHECK(drape.largest_shear < 1e-10);
  for (const Yarns& yarns : drape.yarns) {
    CHECK((yarns.warp - warp.normalized()).norm() < 1e-10);
  }
}

/// Three faces of a box of side 1 that meet at the origin: one upwards (z = 0), two beside.
ShellMesh box_corner(int columns) {
  const ShellMesh face = plate({.columns = columns, .rows = columns});
  std::vector<ShellMesh> faces(3, face);
  deform(faces[0], [](const Vector3& x) { return Vector3(-x.x(), -x.y(), 0); });
  deform(faces[1], [](const Vector3& x) { return Vector3(0, -x.x(), -x.y()); });
  deform(faces[2], [](const Vector3& x) { return Vector3(-x.x(), 0, -x.y()); });
  return welded(faces);
}

} // namespace

TEST_CASE("drape: round holes and corners, from whichever side they can be reached") {
  const ShellMesh square = plate({.columns = 30, .rows = 30, .jitter = 0.2, .seed = 3});
  const Vector3 warp(1, 0.3, 0);
  SUBCASE("a hole right beside the start: no warp gets past it") {
    const ShellMesh mesh =
        without(square, [](const Vector3& x) { return in_box(x, 0.3, 0.6, 0.2, 0.8); });
    check_unsheared(draped(mesh, {{0.25, 0.5, 0}, warp}), warp);
    check_unsheared(draped(mesh, {{0.25, 0.5, 0}, {1, 0, 0}}), {1, 0, 0});
  }
  SUBCASE("an L, from the end of one leg") {
    const ShellMesh mesh =
        without(square, [](const Vector3& x) { return in_box(x, 0.3, 2, 0.3, 2); });
    check_unsheared(draped(mesh, {{0.9, 0.1, 0}, warp}), warp);
  }
  SUBCASE("a spiral, from its inside") {
    const ShellMesh mesh = without(square, [](const Vector3& x) {
      return in_box(x, 0.2, 0.3, 0.2, 2) || in_box(x, 0.2, 0.8, 0.2, 0.3) ||
             in_box(x, 0.7, 0.8, 0.2, 0.8) || in_box(x, 0.45, 0.8, 0.7, 0.8);
    });
    check_unsheared(draped(mesh, {{0.6, 0.6, 0}, warp}), warp);
  }
  SUBCASE("many holes") {
    const ShellMesh mesh = without(
        square, [](const Vector3& x) { return std::sin(31 * x.x()) * std::sin(27 * x.y()) > 0.4; });
    // Some triangles hang on by a node alone.
    const WalkSurface surface =
        walk_surface(mesh, triangulate(mesh), [](TriangleId) { return true; });
    const NearestPlace start = nearest_place(surface, {0.5, 0.5, 0});
    Surroundings surroundings(surface);
    double area = 0;
    for (const LaidTriangle& laid : surroundings.within(
             {start.triangle, start.position, Vector3::UnitX(), Vector3::UnitZ()}, 10)) {
      area += surface.triangles[laid.triangle].area;
    }
    CHECK(area > 0.7);
    const Drape usual = draped(mesh, {{0.5, 0.5, 0}, warp});
    CHECK(usual.covered_area > 0.995 * area); // a few behind necks that no yarn goes through
    CHECK(usual.largest_shear < 1e-10);
    const Drape fine = draped(mesh, {{0.5, 0.5, 0}, warp}, {.step = 0.003});
    CHECK(fine.covered_area == doctest::Approx(area).epsilon(1e-12));
    CHECK(fine.largest_shear < 1e-10);
  }
}

TEST_CASE("drape: starts at a corner, on a rim, off the part") {
  const ShellMesh mesh = plate({.columns = 12, .rows = 9});
  check_unsheared(draped(mesh, {{0, 0, 0}, {1, 0, 0}}), {1, 0, 0});
  check_unsheared(draped(mesh, {{1, 1, 0}, {1, 0.5, 0}}), {1, 0.5, 0});
  CHECK(draped(mesh, {{0.3, 0.4, 0}, {1, 0.5, 0}}).seams.empty());
  const Drape beside = draped(mesh, {{0.5, -0.3, 0.4}, {0.2, -1, 0}});
  CHECK(beside.start_distance == doctest::Approx(0.5));
  check_unsheared(beside, {0.2, -1, 0});
}

TEST_CASE("drape: a part smaller than a step takes its direction from the start") {
  const ShellMesh mesh = plate({.columns = 3, .rows = 3});
  const Drape drape = draped(mesh, {{0.5, 0.5, 0}, {1, 0.5, 0}}, {.step = 5});
  CHECK(drape.crossings == 1);
  check_unsheared(drape, {1, 0.5, 0});
}

TEST_CASE("drape: a hundred thousand crossings on two triangles") {
  const Drape drape =
      draped(plate({.columns = 1, .rows = 1}), {{0.5, 0.5, 0}, {1, 0.5, 0}}, {.step = 0.00316});
  CHECK(drape.crossings == doctest::Approx(100'000).epsilon(0.01));
  check_unsheared(drape, {1, 0.5, 0});
}

TEST_CASE("drape: only the part asked for") {
  const ShellMesh mesh = plate({.columns = 20, .rows = 20});
  const Triangulation triangulation = triangulate(mesh);
  const auto is_left = [&](TriangleId id) {
    return element_centre(mesh, triangulation.element[id]).x() < 0.5;
  };
  const Drape result = drape(mesh, triangulation, is_left, {{0.9, 0.5, 0}, {0, 1, 0}});
  CHECK(result.start_distance == doctest::Approx(0.4));
  CHECK(result.covered_area == doctest::Approx(0.5));
  CHECK(result.uncovered_area == 0);
  for (const TriangleId id : triangulation.corners.ids()) {
    CHECK(result.yarns[id].is_covered == is_left(id));
  }
}

TEST_CASE("drape: a piece apart is not covered, and its area is told") {
  ShellMesh apart = plate({.length = 0.3, .columns = 3, .rows = 10});
  deform(apart, [](const Vector3& x) { return Vector3(x + Vector3(2, 0, 0)); });
  const Drape drape = draped(welded({plate({}), apart}), {{0.5, 0.5, 0}, {1, 0, 0}});
  CHECK(drape.covered_area == doctest::Approx(1));
  CHECK(drape.uncovered_area == doctest::Approx(0.3));
}

TEST_CASE("drape: at a T-joint the flattest pair; the leaf by a fabric of its own") {
  std::vector<ShellMesh> parts(3, plate({.columns = 10, .rows = 10}));
  deform(parts[1], [](const Vector3& x) { return Vector3(x - Vector3(1, 0, 0)); });
  deform(parts[2], [](const Vector3& x) { return Vector3(0, x.y(), x.x()); });
  const ShellMesh mesh = welded(parts);
  const Drape base = draped(mesh, {{0.5, 0.5, 0}, {1, 0.3, 0}});
  CHECK(base.covered_area == doctest::Approx(2));
  CHECK(base.uncovered_area == doctest::Approx(1));
  CHECK(base.largest_shear < 1e-10);
  const Triangulation triangulation = triangulate(mesh);
  const Drape leaf = drape(mesh, triangulation,
                           [&](TriangleId id) {
                             return element_centre(mesh, triangulation.element[id]).x() > -0.01 &&
                                    element_centre(mesh, triangulation.element[id]).x() < 0.01;
                           },
                           {{0, 0.5, 0.5}, {0, 1, 0.3}});
  CHECK(leaf.covered_area == doctest::Approx(1));
  CHECK(leaf.uncovered_area == 0);
  CHECK(leaf.largest_shear < 1e-10);
}

TEST_CASE("drape: over the corner of a box the fabric is cut, not sheared") {
  // Three right angles meet at the corner, a quarter less than in the plane: the faces take the two
  // strips of fabric that pass it, unsheared, and of the quarter between nothing is left. Cells
  // that hang over the upright edge may be what remains of it.
  for (const Vector3& start : {Vector3(-0.52, -0.47, 0), Vector3(-0.1, -0.513, 0)}) {
    for (const Vector3& warp : {Vector3(1, 0, 0), Vector3(1, 0.3, 0), Vector3(1, 1, 0)}) {
      for (const int columns : {10, 20, 40}) {
        const Drape drape = draped(box_corner(columns), {start, warp}, {.locking_angle = degree});
        CHECK(drape.uncovered_area == 0);
        CHECK(drape.locked_area <
              2.5 * drape.step); // an edge of 1, a step and a triangle each side
        REQUIRE(!drape.seams.empty());
        const auto lowest = std::ranges::min_element(drape.seams, {}, [](const Vector3& x) {
          return std::max(std::abs(x.x()), std::abs(x.y()));
        });
        CHECK(std::abs(lowest->x()) + std::abs(lowest->y()) < 3 * drape.step);
      }
    }
  }
}

TEST_CASE("drape: shear beyond the locking angle is told with its place") {
  ShellMesh mesh = disc(0.25 * pi, 20);
  wrap_on_sphere(mesh, 0.5);
  const DrapeStart start{{0, 0, 0.5}, {1, 0, 0}};
  const Drape free = draped(mesh, start);
  CHECK(free.locked.empty());
  CHECK(free.locked_area == 0);
  const Drape drape = draped(mesh, start, {.locking_angle = 30 * degree});
  const Triangulation triangulation = triangulate(mesh);
  double area = 0;
  std::vector<TriangleId> expected;
  for (const TriangleId id : drape.yarns.ids()) {
    const auto& corners = triangulation.corners[id];
    if (std::abs(drape.yarns[id].shear) > 30 * degree) {
      expected.push_back(id);
      area += area_vector(mesh.positions[corners[0]], mesh.positions[corners[1]],
                          mesh.positions[corners[2]])
                  .norm();
    }
  }
  CHECK(drape.locked == expected);
  CHECK(drape.locked_area == doctest::Approx(area));
  CHECK(area > 0.1); // of 1.57 m2
  CHECK(std::abs(drape.yarns[drape.largest_shear_at].shear) == drape.largest_shear);
  for (const Yarns& yarns : drape.yarns) { // the vectors are what the number says
    CHECK(yarns.warp.dot(yarns.weft) == doctest::Approx(std::sin(yarns.shear)));
  }
}

TEST_CASE(
    "drape: yarns that would fold back end the net, a whole sphere is covered in part or all") {
  ShellMesh mesh = disc(0.5 * pi, 24, 0.2, 3);
  wrap_on_sphere(mesh, 0.5001);
  const Drape drape = draped(mesh, {{0, 0, 0.5}, {1, 0, 0}});
  CHECK(drape.covered_area > 0.9 * pi);
  CHECK(drape.covered_area + drape.uncovered_area == doctest::Approx(pi).epsilon(0.02));
  CHECK(drape.largest_shear <= pi / 2);
}

TEST_CASE("drape: crumpled and torn meshes end in time with sound vectors") {
  for (std::uint32_t seed = 1; seed <= 12; ++seed) {
    ShellMesh mesh = plate({.columns = 15, .rows = 15, .jitter = 0.4, .seed = seed});
    std::uint32_t state = seed;
    const auto random = [&] {
      state = state * 1664525U + 1013904223U;
      return static_cast<double>(state >> 8) / (1 << 24);
    };
    deform(mesh, [&](const Vector3& x) { return Vector3(x.x(), x.y(), 0.2 * random()); });
    mesh = without(mesh, [&](const Vector3&) { return random() < 0.2; });
    const Drape drape = draped(mesh, {{0.5, 0.5, 0}, {1, 0.1, 0}});
    CHECK(drape.covered_area > 0);
    for (const Yarns& yarns : drape.yarns) {
      if (yarns.is_covered) {
        CHECK(yarns.warp.norm() == doctest::Approx(1));
        CHECK(yarns.weft.norm() == doctest::Approx(1));
        CHECK(std::abs(yarns.shear) <= pi / 2);
      } else {
        CHECK(yarns.warp.isZero(0));
      }
    }
  }
}

TEST_CASE("drape: input that cannot be used is refused, all of it at once") {
  const ShellMesh mesh = plate({.columns = 4, .rows = 4});
  const auto findings = findings_of([&] {
    draped(mesh, {{NAN, 0, 0}, {0, 0, 0}}, {.step = -1, .locking_angle = 2 * pi / 3});
  });
  REQUIRE(findings.size() == 4);
  CHECK(findings[0] == "drape: the start is not a finite point");
  CHECK(findings[1] == "drape: the warp direction is zero or not finite");
  CHECK(findings[2] == "drape: step is -1.000000 m; expected a positive length");
  CHECK(findings[3] ==
        "drape: locking angle is 120.000000 deg; expected more than 0, at most 90 deg");
  CHECK(findings_of([&] {
          draped(mesh, {{0.5, 0.5, 0}, {0.001, 0, 1}});
        })
            .at(0)
            .find("perpendicular to the surface") != std::string::npos);
  CHECK(findings_of([&] {
          draped(mesh, {{0.5, 0.5, 0}, {1, 0, 0}}, {.step = 1e-5});
        })
            .at(0)
            .find("20 million crossings") != std::string::npos);
  CHECK(findings_of([&] {
          drape(mesh, triangulate(mesh), [](TriangleId) { return false; },
                {{0.5, 0.5, 0}, {1, 0, 0}});
        }).at(0) == "drape: there is no surface to cover");
}
