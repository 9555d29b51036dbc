// What is seen of plates behind each other: areas by hand.
#include "mesh/seen_share.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

double seen_area(const ShellMesh& mesh, const Vector3& direction, bool is_against) {
  const Triangulation triangulation = triangulate(mesh);
  const SeenShares shares = seen_shares(mesh, triangulation, direction);
  double sum = 0;
  for (const TriangleId id : triangulation.corners.ids()) {
    const auto& [a, b, c] = triangulation.corners[id];
    sum += (is_against ? shares.against : shares.along)[id] *
           std::abs(
               area_vector(mesh.positions[a], mesh.positions[b], mesh.positions[c]).dot(direction));
  }
  return sum;
}

} // namespace

TEST_CASE("seen share: a plate, bent or not, hides nothing of itself unless it folds back") {
  ShellMesh mesh = plate({.length = 1, .width = 1, .columns = 20, .rows = 20, .jitter = 0.3});
  CHECK(seen_shares(mesh, triangulate(mesh), Vector3::UnitZ()).hides_nothing);
  CHECK(seen_shares(mesh, triangulate(mesh), Vector3(0.6, 0, 0.8)).hides_nothing);
  CHECK(seen_shares(mesh, triangulate(mesh), Vector3::UnitX()).hides_nothing); // edge on
  wrap_on_sphere(mesh, 2);
  CHECK(seen_shares(mesh, triangulate(mesh), Vector3::UnitZ()).hides_nothing);
}

TEST_CASE("seen share: a small plate off the grid of a large one hides its own area of that") {
  // 0.31 m x 0.47 m before 1 m2 whose triangles it cuts: to a sixteenth of those on its rim.
  ShellMesh small = plate({.length = 0.31, .width = 0.47, .columns = 3, .rows = 4});
  move_rigidly(small, Vector3::UnitZ(), 0.4, {0.4, 0.2, 0.05});
  const ShellMesh mesh =
      welded({plate({.length = 1, .width = 1, .columns = 25, .rows = 25}), small});
  CHECK(relative_error(seen_area(mesh, Vector3::UnitZ(), true), 1) <= 2e-3);
  CHECK(relative_error(seen_area(mesh, Vector3::UnitZ(), false), 1) <= 1e-12);
  CHECK(relative_error(seen_area(mesh, -Vector3::UnitZ(), true), 1) <= 1e-12);
  const SeenShares shares = seen_shares(mesh, triangulate(mesh), Vector3::UnitZ());
  CHECK_FALSE(shares.hides_nothing);
  CHECK(shares.along.values().back() == 0); // the small plate from below
}
