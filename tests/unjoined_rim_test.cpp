// Rims that lie on other elements: found where two sides have nodes of their own, and only there.
#include "mesh/unjoined_rim.hpp"

#include "mesh/mesh_check.hpp"
#include "mesh/triangle_tree.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <numbers>

using namespace tidemark;

namespace {

using Place = std::function<Vector3(double, double)>;

// Adds a grid of columns x rows squares over u, v in 0 .. 1, each cut in two. Nodes at the same
// place to 1e-9 m as one that is there are that one. Labels count from 1.
void add_grid(ShellMesh& mesh, int columns, int rows, const Place& place) {
  const auto node_at = [&](int i, int j) {
    const Vector3 at = place(i / double(columns), j / double(rows));
    for (const NodeId node : mesh.positions.ids()) {
      if ((mesh.positions[node] - at).norm() < 1e-9) {
        return node;
      }
    }
    mesh.positions.push_back(at);
    mesh.node_labels.push_back(static_cast<std::int64_t>(mesh.positions.size()));
    return NodeId(mesh.positions.size() - 1);
  };
  for (int j = 0; j < rows; ++j) {
    for (int i = 0; i < columns; ++i) {
      const NodeId a = node_at(i, j);
      const NodeId b = node_at(i + 1, j);
      const NodeId c = node_at(i + 1, j + 1);
      const NodeId d = node_at(i, j + 1);
      for (const auto& corners : {std::array{a, b, c}, std::array{a, c, d}}) {
        mesh.elements.push_back({{corners[0], corners[1], corners[2], NodeId()}});
        mesh.element_labels.push_back(static_cast<std::int64_t>(mesh.elements.size()));
      }
    }
  }
}

std::vector<UnjoinedRim> rims_of(const ShellMesh& mesh) {
  return unjoined_rims(mesh, PerElement<bool>(mesh.elements.size(), false),
                       PerNode<bool>(mesh.positions.size(), false));
}

// A plate of 1 x 1 m up to x = 0, and another from x = gap, with other divisions along the seam,
// which opens from nothing at y = 0 to the gap within the first quarter.
ShellMesh two_plates(int left, int right, double gap) {
  ShellMesh mesh;
  add_grid(mesh, 5, left, [](double u, double v) { return Vector3(u - 1, v, 0); });
  add_grid(mesh, 5, right, [&](double u, double v) {
    return Vector3(u + gap * (1 - u) * std::min(1.0, 4 * v), v, 0);
  });
  return mesh;
}

// A plate of 1 x 1 m in squares of 0.1 m and on its middle line a rib, 0.3 m high.
ShellMesh plate_with_rib(int rib_columns) {
  ShellMesh mesh;
  add_grid(mesh, 10, 10, [](double u, double v) { return Vector3(u, v, 0); });
  add_grid(mesh, rib_columns, 3, [](double u, double v) { return Vector3(u, 0.5, 0.3 * v); });
  return mesh;
}

} // namespace

TEST_CASE("unjoined rim: two plates with other divisions, joined at the ends") {
  for (const double scale : {1e-3, 1.0, 1e3}) {
    CAPTURE(scale);
    ShellMesh mesh = two_plates(5, 7, 0);
    for (const NodeId node : mesh.positions.ids()) {
      mesh.positions[node] *= scale;
    }
    const std::vector<UnjoinedRim> rims = rims_of(mesh);
    REQUIRE(rims.size() == 1);
    CHECK(rims[0].hanging.size() == 4 + 6);
    CHECK(rims[0].length == doctest::Approx(scale));
    CHECK(rims[0].gap < 1e-12 * scale);
  }
}

TEST_CASE("unjoined rim: one side twice as fine as the other") {
  const std::vector<UnjoinedRim> rims = rims_of(two_plates(5, 10, 0));
  REQUIRE(rims.size() == 1);
  CHECK(rims[0].hanging.size() == 5);
  CHECK(rims[0].length == doctest::Approx(1));
}

TEST_CASE("unjoined rim: what the check says, with place") {
  const std::vector<MeshFinding> findings = check_mesh(two_plates(5, 8, 0));
  REQUIRE(findings.size() == 1);
  CHECK(findings[0].fault == MeshFault::unjoined_rim);
  CHECK_FALSE(findings[0].is_error);
  CHECK(findings[0].text ==
        "11 nodes of free edges lie on other elements without being joined to them, and resin does "
        "not cross there: along 1000 mm at (0, 500, 0) mm. Give both sides the same nodes, "
        "unless it is a slit of the part.");
  CHECK(findings[0].labels.size() == 11);
  CHECK(check_mesh(two_plates(5, 5, 0)).empty());
}

TEST_CASE("unjoined rim: a rib on a plate") {
  CHECK(rims_of(plate_with_rib(10)).empty());
  const std::vector<UnjoinedRim> rims = rims_of(plate_with_rib(9));
  REQUIRE(rims.size() == 1);
  CHECK(rims[0].hanging.size() == 8);
  CHECK(rims[0].length == doctest::Approx(1));
}

TEST_CASE("unjoined rim: a narrow slit inside one piece, but no slot, notch or hole") {
  // Squares of 0.2 m: the least height of a half is 0.141 m, of which 5 % are 7.1 mm.
  const std::vector<UnjoinedRim> slit = rims_of(two_plates(5, 5, 2e-3));
  REQUIRE(slit.size() == 1);
  CHECK(slit[0].hanging.size() == 10);
  CHECK(slit[0].gap == doctest::Approx(2e-3).epsilon(0.02));
  CHECK(slit[0].length == doctest::Approx(1).epsilon(0.001));
  CHECK(check_mesh(two_plates(5, 5, 2e-3))[0].text.starts_with(
      "10 nodes of free edges lie on other elements, to 2 mm, without being joined to them, and"));
  CHECK(rims_of(two_plates(5, 5, 0.02)).empty());
  CHECK(rims_of(two_plates(5, 7, 0.2)).empty());
  ShellMesh hole;
  add_grid(hole, 10, 10, [](double u, double v) { return Vector3(u, v, 0); });
  hole.elements = PerElement<Element>(
      std::vector<Element>(hole.elements.values().begin() + 1, hole.elements.values().end() - 120));
  CHECK(rims_of(hole).empty());
}

TEST_CASE("unjoined rim: long thin elements at a rim") {
  ShellMesh mesh; // 1 m x 1 mm in four rows: the rim is 0.25 mm from the next row
  add_grid(mesh, 10, 4, [](double u, double v) { return Vector3(u, 1e-3 * v, 0); });
  CHECK(rims_of(mesh).empty());
}

TEST_CASE("unjoined rim: a round seam, whose chords are not alike") {
  // Two rings of a tube, 24 and 100 chords: the coarse ones are off by 1 - cos(pi / 24) = 0.9 %
  // of the radius, which is 14 % of a fine chord's length.
  const auto ring = [](double low) {
    return [low](double u, double v) {
      const double angle = 2 * std::numbers::pi * u;
      return Vector3(std::cos(angle), std::sin(angle), low + 0.3 * v);
    };
  };
  ShellMesh mesh;
  add_grid(mesh, 24, 2, ring(0));
  add_grid(mesh, 100, 5, ring(0.3));
  std::size_t hanging = 0;
  double length = 0;
  for (const UnjoinedRim& rim : rims_of(mesh)) {
    hanging += rim.hanging.size();
    length += rim.length;
  }
  CHECK(hanging >= 20); // all but four of the coarse rim's nodes are no node of the fine one
  CHECK(length > std::numbers::pi);
  CHECK(length < 2 * std::numbers::pi);
}

TEST_CASE("unjoined rim: a rib whose edge is a diagonal no plate element has, but both its nodes") {
  ShellMesh mesh;
  add_grid(mesh, 1, 1, [](double u, double v) { return Vector3(u, v, 0); }); // cut from 0, 0
  add_grid(mesh, 1, 1, [](double u, double v) { return Vector3(u, 1 - u, v); });
  CHECK(rims_of(mesh).empty());
}

TEST_CASE("distance from a triangle: over it, beside a side, beyond a corner") {
  const Vector3 a(0, 0, 0);
  const Vector3 b(4, 0, 0);
  const Vector3 c(0, 3, 0);
  CHECK(distance_to_triangle({1, 1, 2}, a, b, c) == doctest::Approx(2));
  CHECK(distance_to_triangle({1, 1, -2}, a, c, b) == doctest::Approx(2));
  CHECK(distance_to_triangle({2, -3, 4}, a, b, c) == doctest::Approx(5));
  CHECK(distance_to_triangle({7, -4, 0}, a, b, c) == doctest::Approx(5));
  CHECK(least_height(a, b, c) == doctest::Approx(12.0 / 5));
  CHECK(least_height(a, a, a) == 0);
}

TEST_CASE("a tree of triangles finds what all boxes one by one find") {
  ShellMesh mesh;
  add_grid(mesh, 9, 7, [](double u, double v) { return Vector3(u, v, 0.3 * u * v); });
  const Triangulation triangles = triangulate(mesh);
  PerElement<bool> left_out(mesh.elements.size(), false);
  left_out[ElementId(5)] = true;
  const TriangleTree tree(mesh, triangles, left_out);
  for (int i = 0; i < 20; ++i) {
    const Vector3 low(0.05 * i, 0.9 - 0.04 * i, 0.0);
    const Eigen::AlignedBox3d box(low, low + Vector3(0.03, 0.2, 0.1));
    const std::vector<TriangleId> found = tree.meeting(box);
    CHECK(std::ranges::is_sorted(found));
    for (const TriangleId triangle : triangles.corners.ids()) {
      Eigen::AlignedBox3d own;
      for (const NodeId node : triangles.corners[triangle]) {
        own.extend(mesh.positions[node]);
      }
      const bool is_found = std::ranges::binary_search(found, triangle);
      CHECK_FALSE((is_found && left_out[triangles.element[triangle]]));
      if (box.intersects(own) && !left_out[triangles.element[triangle]]) {
        CHECK(is_found);
      }
    }
  }
  const std::vector<TriangleId> none =
      TriangleTree(mesh, triangles, PerElement<bool>(mesh.elements.size(), true))
          .meeting({Vector3(0, 0, 0), Vector3(1, 1, 1)});
  CHECK(none.empty());
}
