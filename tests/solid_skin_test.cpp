// The skin of a plate is told from hollow parts and from surfaces with a rim.
#include "mesh/solid_skin.hpp"

#include "mesh/mesh_check.hpp"
#include "support/meshes.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

// The skin of a box with one corner at the origin, each face cut into quadrilaterals.
ShellMesh box_skin(const Vector3& size, const std::array<int, 3>& cells) {
  std::vector<ShellMesh> faces;
  for (int axis = 0; axis < 3; ++axis) {
    const int u = (axis + 1) % 3;
    const int v = (axis + 2) % 3;
    for (const double level : {0.0, size[axis]}) {
      std::vector<Vector3> positions;
      std::vector<Element> elements;
      const int columns = cells[static_cast<std::size_t>(u)];
      const int rows = cells[static_cast<std::size_t>(v)];
      for (int j = 0; j <= rows; ++j) {
        for (int i = 0; i <= columns; ++i) {
          Vector3 at;
          at[axis] = level;
          at[u] = size[u] * i / columns;
          at[v] = size[v] * j / rows;
          positions.push_back(at);
        }
      }
      for (int j = 0; j < rows; ++j) {
        for (int i = 0; i < columns; ++i) {
          const int a = j * (columns + 1) + i;
          elements.push_back(
              {{NodeId(a), NodeId(a + 1), NodeId(a + columns + 2), NodeId(a + columns + 1)}});
        }
      }
      faces.push_back(mesh_of(positions, elements));
    }
  }
  return welded(faces);
}

std::optional<double> skin_of(const ShellMesh& mesh) {
  return solid_skin(mesh, PerElement<bool>(mesh.elements.size(), false));
}

} // namespace

TEST_CASE("solid skin: a plate 4 mm thick, whichever way its elements face and at any size") {
  for (const double scale : {1e-3, 1.0, 1e3}) {
    const auto apart = skin_of(box_skin(scale * Vector3(0.3, 0.2, 0.004), {30, 20, 1}));
    REQUIRE(apart);
    CHECK(*apart == doctest::Approx(0.004 * scale));
  }
  CHECK(skin_of(box_skin({0.3, 0.004, 0.2}, {3, 1, 2}))); // as a CAD program exports it
}

TEST_CASE("solid skin: no skin is a box, a plate, or a plate's skin with a side left open") {
  CHECK_FALSE(skin_of(box_skin({0.3, 0.2, 0.1}, {12, 8, 4})));
  CHECK_FALSE(skin_of(box_skin({0.3, 0.2, 0.04}, {12, 8, 2}))); // over a tenth of 0.3 m
  CHECK(skin_of(box_skin({0.3, 0.2, 0.02}, {12, 8, 2})));
  CHECK_FALSE(skin_of(plate({})));
  ShellMesh open = box_skin({0.3, 0.2, 0.004}, {30, 20, 1});
  open.elements = PerElement<Element>(
      std::vector<Element>(open.elements.values().begin() + 20, open.elements.values().end()));
  CHECK_FALSE(skin_of(open));
}

TEST_CASE("solid skin: a closed cone is hollow") {
  // 40 cm across, 60 cm high, of 24 sides, with its bottom.
  std::vector<Vector3> positions{{0, 0, 0.6}, {0, 0, 0}};
  std::vector<Element> elements;
  for (int i = 0; i < 24; ++i) {
    const double angle = 2 * 3.14159265358979 * i / 24;
    positions.emplace_back(0.2 * std::cos(angle), 0.2 * std::sin(angle), 0);
    const NodeId here(2 + i);
    const NodeId next(2 + (i + 1) % 24);
    elements.push_back({{here, next, NodeId(0), NodeId()}});
    elements.push_back({{next, here, NodeId(1), NodeId()}});
  }
  CHECK_FALSE(skin_of(mesh_of(positions, elements)));
}

TEST_CASE("solid skin: what the check says") {
  const std::vector<MeshFinding> findings = check_mesh(box_skin({0.3, 0.2, 0.004}, {30, 20, 1}));
  REQUIRE(findings.size() == 1);
  CHECK(findings[0].fault == MeshFault::solid_skin);
  CHECK_FALSE(findings[0].is_error);
  CHECK(findings[0].text ==
        "The surface is closed, without a free edge, and lies in two layers that face each other, "
        "about 4 mm apart: is it the skin of a solid part? Then area and resin count twice; take "
        "the part's mid-surface. If the part is hollow, all is well.");
  CHECK(check_mesh(box_skin({0.3, 0.2, 0.1}, {12, 8, 4})).empty());
}
