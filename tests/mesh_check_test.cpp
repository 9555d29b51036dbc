// Findings about meshes made to have exactly one fault, and none about sound ones.
#include "mesh/mesh_check.hpp"

#include "mesh/adjacency.hpp"
#include "mesh/coincident.hpp"

#include <doctest/doctest.h>

#include <Eigen/Geometry>

#include <cmath>
#include <numbers>

using namespace tidemark;

namespace {

// Corners by index; 3 or 4 to an element. Labels are 100 + index of elements, 1 + index of nodes.
ShellMesh mesh_of(const std::vector<Vector3>& positions,
                  const std::vector<std::vector<int>>& elements) {
  ShellMesh mesh;
  for (const Vector3& position : positions) {
    mesh.positions.push_back(position);
    mesh.node_labels.push_back(static_cast<std::int64_t>(mesh.positions.size()));
  }
  for (const std::vector<int>& corners : elements) {
    Element element;
    for (std::size_t i = 0; i < corners.size(); ++i) {
      element.nodes[i] = NodeId(corners[i]);
    }
    mesh.element_labels.push_back(static_cast<std::int64_t>(100 + mesh.elements.size()));
    mesh.elements.push_back(element);
  }
  return mesh;
}

// Two triangles on the edge 0-1, the second turned up from the plane of the first by an angle.
ShellMesh hinge(double degrees) {
  const double angle = degrees / 180 * std::numbers::pi;
  return mesh_of({{0, 0, 0}, {1, 0, 0}, {0.4, -1, 0}, {0.6, std::cos(angle), std::sin(angle)}},
                 {{0, 1, 2}, {0, 3, 1}});
}

// A strip of unit squares along x, cut in triangles; `columns` squares.
ShellMesh strip(int columns) {
  std::vector<Vector3> positions;
  std::vector<std::vector<int>> elements;
  for (int i = 0; i <= columns; ++i) {
    positions.emplace_back(i, 0, 0);
    positions.emplace_back(i, 1, 0);
  }
  for (int i = 0; i < columns; ++i) {
    const int a = 2 * i;
    elements.push_back({a, a + 2, a + 3});
    elements.push_back({a, a + 3, a + 1});
  }
  return mesh_of(positions, elements);
}

std::vector<Vector3> scaled(std::vector<Vector3> positions, double scale) {
  for (Vector3& position : positions) {
    position *= scale;
  }
  return positions;
}

void check_one(const ShellMesh& mesh, MeshFault fault, bool is_error, const std::string& text) {
  const std::vector<MeshFinding> findings = check_mesh(mesh);
  REQUIRE(findings.size() == 1);
  CHECK(findings[0].fault == fault);
  CHECK(findings[0].is_error == is_error);
  CHECK(findings[0].text == text);
}

} // namespace

TEST_CASE("sound meshes have no findings, at any size") {
  for (const double scale : {1e-6, 1e-3, 1.0, 1e3}) {
    CAPTURE(scale);
    ShellMesh mesh = strip(5);
    mesh.positions = PerNode<Vector3>(scaled(mesh.positions.values(), scale));
    CHECK(check_mesh(mesh).empty());
  }
  CHECK(check_mesh(ShellMesh{}).empty());
  // Three surfaces at one edge; a quadrilateral beside a triangle.
  CHECK(check_mesh(mesh_of({{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, -1, 0}, {0, 0, 1}},
                           {{0, 1, 2}, {0, 1, 3}, {0, 1, 4}}))
            .empty());
  CHECK(check_mesh(mesh_of({{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}, {2, 0.5, 0}},
                           {{0, 1, 2, 3}, {1, 4, 2}}))
            .empty());
  // Thin but sound: a height of one in 100 000.
  CHECK(check_mesh(mesh_of({{0, 0, 0}, {1, 0, 0}, {0.5, 1e-5, 0}}, {{0, 1, 2}})).empty());
}

TEST_CASE("degenerate elements") {
  check_one(mesh_of({{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, {{0, 1, 2}, {0, 1, 1}}),
            MeshFault::degenerate_element, true,
            "1 element has a corner twice: element 101 at (666.667, 0, 0) mm.");
  check_one(mesh_of({{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0.5, 0, 0}}, {{0, 1, 2}, {0, 1, 3}}),
            MeshFault::degenerate_element, true,
            "1 element has no area: element 101 at (500, 0, 0) mm.");
  // A quadrilateral with three corners in line: the half 0-1-2 has no area.
  check_one(mesh_of({{0, 0, 0}, {1, 0, 0}, {2, 0, 0}, {1, 9, 0}}, {{0, 1, 2, 3}}),
            MeshFault::degenerate_element, true,
            "1 element has no area: element 100 at (1000, 2250, 0) mm.");
  check_one(mesh_of({{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {1, 1, 0}}, {{0, 1, 2, 3}}),
            MeshFault::degenerate_element, true,
            "1 quadrilateral is crossed or folded along its diagonal: element 100 at "
            "(500, 500, 0) mm.");
}

TEST_CASE("degenerate elements are judged by shape, not by size") {
  for (const double scale : {1e-6, 1.0, 1e6}) {
    CAPTURE(scale);
    const auto findings = [&](double height) {
      return check_mesh(
          mesh_of(scaled({{0, 0, 0}, {1, 0, 0}, {0.5, height, 0}}, scale), {{0, 1, 2}}));
    };
    CHECK(findings(1e-6).empty());
    CHECK(findings(1e-10).size() == 1);
  }
}

TEST_CASE("duplicate elements, whatever their first corner and side") {
  ShellMesh mesh = mesh_of({{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}, {2, 0, 0}},
                           {{0, 1, 2, 3}, {1, 4, 2}, {4, 1, 2}, {3, 2, 1, 0}, {2, 1, 4}});
  check_one(mesh, MeshFault::duplicate_element, true,
            "3 elements have the same corners as an earlier one: element 102 at (1333.33, "
            "333.333, 0) mm (as element 101), element 103 at (500, 500, 0) mm (as element 100) "
            "and element 104 at (1333.33, 333.333, 0) mm (as element 101).");
  CHECK(check_mesh(mesh)[0].labels == std::vector<std::int64_t>{102, 103, 104});
}

TEST_CASE("long lists are cut") {
  ShellMesh mesh = strip(1);
  for (int i = 0; i < 15; ++i) {
    mesh.elements.push_back(mesh.elements[ElementId(0)]);
    mesh.element_labels.push_back(200 + i);
  }
  const std::vector<MeshFinding> findings = check_mesh(mesh);
  REQUIRE(findings.size() == 1);
  CHECK(findings[0].text.ends_with("element 202 at (666.667, 333.333, 0) mm (as element 100) and "
                                   "12 more."));
  CHECK(findings[0].labels.size() == 15);
}

TEST_CASE("folds beyond 150 degrees, not before, on either side") {
  for (const double angle : {0.0, 45.0, -90.0, 149.0, -149.0}) {
    CAPTURE(angle);
    CHECK(check_mesh(hinge(angle)).empty());
  }
  for (const double angle : {151.0, -151.0, 170.0}) {
    CAPTURE(angle);
    check_one(hinge(angle), MeshFault::folded, false,
              "The surface turns back on itself by more than 150 degrees at 1 edge: elements 100 "
              "and 101 at (500, 0, 0) mm.");
  }
}

TEST_CASE("flat quadrilaterals with a corner that points inwards are no fold, on either side") {
  // 4 points inwards between 1 and 2, into 0-1-4-2; its neighbours fill the notch.
  for (const double turn : {1.0, -1.0}) {
    const ShellMesh mesh =
        mesh_of({{0, 0, 0}, {1, 0, 0}, {0, turn, 0}, {1, turn, 0}, {0.2, 0.2 * turn, 0}},
                {{0, 1, 4, 2}, {1, 3, 4}, {4, 3, 2}});
    CHECK(check_mesh(mesh).empty());
  }
}

TEST_CASE("a fold is found among many elements at an edge") {
  const double small = 20.0 / 180 * std::numbers::pi;
  const ShellMesh mesh = mesh_of({{0, 0, 0},
                                  {1, 0, 0},
                                  {0.5, -1, 0},
                                  {0.5, 1, 0},
                                  {0.5, -std::cos(small), std::sin(small)},
                                  {0.5, 0, -1}},
                                 {{0, 1, 2}, {0, 1, 3}, {1, 0, 4}, {0, 1, 5}});
  const std::vector<MeshFinding> findings = check_mesh(mesh);
  REQUIRE(findings.size() == 1);
  CHECK(findings[0].fault == MeshFault::folded);
  CHECK(findings[0].labels == std::vector<std::int64_t>{100, 102});
}

TEST_CASE("separate pieces: all but the largest") {
  ShellMesh mesh = strip(3);
  const auto first = static_cast<int>(mesh.positions.size());
  for (const Vector3& position : {Vector3(10, 0, 0), Vector3(13, 0, 0), Vector3(10, 3, 0)}) {
    mesh.positions.push_back(position);
    mesh.node_labels.push_back(900);
  }
  mesh.elements.push_back({{NodeId(first), NodeId(first + 1), NodeId(first + 2), NodeId()}});
  mesh.element_labels.push_back(77);
  check_one(mesh, MeshFault::separate_piece, false,
            "A piece of 1 element (element 77 at (11000, 1000, 0) mm) is not connected to the "
            "rest: resin reaches it only from a gate on it.");
  const PerNode<int> pieces = connected_pieces(mesh);
  CHECK(pieces.values() == std::vector<int>{0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1});
}

TEST_CASE("separate pieces: how far away, if less than a side") {
  // Two unit squares, and a third beyond a gap that is a little wider below than above.
  const auto rows = [](double gap) {
    const double x = 2 + gap;
    return mesh_of({{0, 0, 0},
                    {1, 0, 0},
                    {2, 0, 0},
                    {0, 1, 0},
                    {1, 1, 0},
                    {2, 1, 0},
                    {x + 1, 0, 0},
                    {x, 1e-3, 0},
                    {x + 1, 1, 0},
                    {x, 1, 0}},
                   {{0, 1, 4, 3}, {1, 2, 5, 4}, {6, 7, 9, 8}});
  };
  const auto text = [](const std::string& gap) {
    return " is not connected to the rest" + gap + ": resin reaches it only from a gate on it.";
  };
  const auto told = [&](double gap) {
    const std::vector<MeshFinding> findings = check_mesh(rows(gap));
    REQUIRE(findings.front().fault == MeshFault::separate_piece);
    return findings.front().text;
  };
  CHECK(told(1e-5).ends_with(text(", 0.01 mm away from it (nodes 10 and 6)")));
  CHECK(told(0.25).ends_with(text(", 250 mm away from it (nodes 10 and 6)")));
  CHECK(told(1.5).ends_with(text("")));
  CHECK(told(0).ends_with(text(", 0 mm away from it (nodes 10 and 6)")));
  const std::vector<MeshFinding> seam = check_mesh(rows(0));
  REQUIRE(seam.size() == 3);
  CHECK(seam[2].fault == MeshFault::unjoined_rim); // node 8, beside node 3
  CHECK(seam[1].text == "1 pair of nodes is at the same place but not joined, a seam resin cannot "
                        "cross: nodes 6 and 10 at (2000, 1000, 0) mm.");
}

TEST_CASE("hundreds of pieces are counted, not listed") {
  std::vector<Vector3> positions;
  std::vector<std::vector<int>> elements;
  for (int i = 0; i < 300; ++i) {
    positions.insert(positions.end(), {{2.0 * i, 0, 0}, {2.0 * i + 1, 0, 0}, {2.0 * i, 1, 0}});
    elements.push_back({3 * i, 3 * i + 1, 3 * i + 2});
  }
  const std::vector<MeshFinding> findings = check_mesh(mesh_of(positions, elements));
  REQUIRE(findings.size() == 10);
  CHECK(findings.back().text.ends_with("There are 289 more such pieces."));
}

TEST_CASE("a seam of nodes at the same place that are not joined") {
  // Two squares side by side with nodes of their own on the shared side, 1e-8 apart.
  const ShellMesh mesh = mesh_of({{0, 0, 0},
                                  {1, 0, 0},
                                  {1, 1, 0},
                                  {0, 1, 0},
                                  {1 + 1e-8, 0, 0},
                                  {2, 0, 0},
                                  {2, 1, 0},
                                  {1, 1 + 1e-8, 0}},
                                 {{0, 1, 2, 3}, {4, 5, 6, 7}});
  const std::vector<MeshFinding> findings = check_mesh(mesh);
  REQUIRE(findings.size() == 2); // it is also a separate piece
  CHECK(findings[1].fault == MeshFault::unjoined_seam);
  CHECK_FALSE(findings[1].is_error);
  CHECK(findings[1].text ==
        "2 pairs of nodes are at the same place, to 1e-05 mm, but not joined, "
        "a seam resin cannot cross: nodes 2 and 5 at (1000, 0, 0) mm and nodes 3 and 8 at "
        "(1000, 1000, 0) mm.");
  CHECK(findings[1].labels == std::vector<std::int64_t>{2, 3, 5, 8});
}

TEST_CASE("connected pieces join at a node") {
  const ShellMesh mesh = mesh_of(
      {{5, 0, 0}, {0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {6, 0, 0}, {5, 1, 0}, {-1, 0, 0}, {0, -1, 0}},
      {{1, 2, 3}, {0, 4, 5}, {1, 6, 7}});
  CHECK(connected_pieces(mesh).values() == std::vector<int>{0, 1, 1, 1, 0, 0, 1, 1});
}

TEST_CASE("edges with their elements") {
  const EdgeList edges = element_edges(strip(1)); // elements 0-2-3 and 0-3-1
  CHECK(edges.nodes == std::vector<std::array<NodeId, 2>>{{NodeId(0), NodeId(1)},
                                                          {NodeId(0), NodeId(2)},
                                                          {NodeId(0), NodeId(3)},
                                                          {NodeId(1), NodeId(3)},
                                                          {NodeId(2), NodeId(3)}});
  REQUIRE(edges.elements_of(2).size() == 2);
  CHECK(edges.elements_of(2)[0] == ElementId(0));
  CHECK(edges.elements_of(2)[1] == ElementId(1));
  CHECK(edges.elements_of(4).size() == 1);
  CHECK(edges.contains(NodeId(3), NodeId(0)));
  CHECK_FALSE(edges.contains(NodeId(1), NodeId(2)));
}

TEST_CASE("points at the same place: the brute-force answer, near and far from cell borders") {
  // A pattern that puts points on, just inside and just outside the tolerance of each other.
  PerNode<Vector3> points;
  std::uint32_t state = 12345;
  const auto step = [&](int choices) {
    state = state * 1664525u + 1013904223u;
    return static_cast<int>((state >> 16) % static_cast<std::uint32_t>(choices));
  };
  for (int i = 0; i < 400; ++i) {
    points.push_back(Vector3(0.7 * step(9), 0.7 * step(9), 0.7 * step(3) - 1000));
  }
  for (const double tolerance : {0.0, 0.1, 0.71, 1.5}) {
    CAPTURE(tolerance);
    std::vector<NodeId> kept;
    std::vector<NodeId> expected;
    for (const NodeId node : points.ids()) {
      NodeId first = node;
      for (const NodeId earlier : kept) {
        if ((points[earlier] - points[node]).norm() <= tolerance) {
          first = earlier;
          break;
        }
      }
      if (first == node) {
        kept.push_back(node);
      }
      expected.push_back(first);
    }
    CHECK(first_at_same_place(points, tolerance).values() == expected);
  }
}
