// Flat plates fed along their edges or by a small round gate. With the gate at one pressure the
// whole filling is one Poisson problem, div(h K grad w) = -phi h, t = mu max(w) / dp (Elliott and
// Janovsky 1981, Proc. R. Soc. Edinburgh A 88:93, from memory): classical torsion functions for the
// edges, Neumann functions for the small gate, derived and evaluated with at least ten digits.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

ShellMesh jittered_plate(double length, double width, int columns, int rows) {
  return plate({length, width, columns, rows, 0.25, 21});
}

/// The nodes on the edges of an unjittered outline: those of elements' sides met once.
FillProblem edge_fed(ShellMesh mesh, const std::function<bool(const Vector3&)>& is_on_edge) {
  const auto gate = nodes_where(mesh, is_on_edge);
  return with_pressure(problem_on(std::move(mesh), gate));
}

FillProblem edge_fed_rectangle(double length, double width, int columns, int rows) {
  return edge_fed(jittered_plate(length, width, columns, rows), [=](const Vector3& x) {
    return x.x() == 0 || x.y() == 0 || x.x() == length || x.y() == width;
  });
}

Vector3 last_place(const FillProblem& problem, const FillResult& result) {
  REQUIRE(!result.last_filled.empty());
  return problem.mesh.positions[result.last_filled[0].node];
}

/// A round port of radius 0.01 m at a point where a node is put.
FillProblem port_fed(ShellMesh mesh, const Vector3& at) {
  move_node_to(mesh, at);
  const auto gate = nodes_within(mesh, at, 0.01);
  FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  problem.gates[0].centre = at;
  problem.gates[0].radius = 0.01;
  return problem;
}

} // namespace

TEST_CASE("Rectangles fed along all edges") {
  // t = (a^2 / 8 D) (1 - (32 / pi^3) sum over odd n of (-1)^((n-1)/2) / (n^3 cosh(n pi b / 2a))).
  struct Plate {
    double length, width;
    int columns, rows;
    double time;
  };
  for (const Plate& p : {Plate{1, 1, 60, 60, 58.9370826}, Plate{1, 0.5, 80, 40, 22.7743664},
                         Plate{1.2, 0.6, 80, 40, 32.7950877}}) {
    CAPTURE(p.length);
    CAPTURE(p.width);
    const FillProblem problem = edge_fed_rectangle(p.length, p.width, p.columns, p.rows);
    const CheckedFill result = checked_fill(problem);
    CHECK(relative_error(result.fill_time.value_or(0), p.time) <= 2e-3);
    const Vector3 middle(p.length / 2, p.width / 2, 0);
    CHECK((last_place(problem, result) - middle).norm() <= 2 * p.length / p.columns);
  }
}

TEST_CASE("A strip fed along both long edges: 25 s") {
  const FillProblem problem = edge_fed(jittered_plate(1, 0.5, 80, 40),
                                       [](const Vector3& x) { return x.y() == 0 || x.y() == 0.5; });
  const CheckedFill result = checked_fill(problem);
  CHECK(relative_error(result.fill_time.value_or(0), 25.0) <= 2e-3);
  CHECK(std::abs(last_place(problem, result).y() - 0.25) <= 0.02);
}

TEST_CASE("Ellipses fed along the edge") {
  // t = phi mu a^2 b^2 / (2 dp (K1 b^2 + K2 a^2)), a = 0.6 m, b = 0.3 m: 28.8 s with K = 2e-9 m2,
  // 36 s with 4e-9 along and 1e-9 m2 across.
  ShellMesh mesh = disc(1, 30, 0.25, 22);
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.norm() > 1 - 1e-9; });
  deform(mesh, [](const Vector3& x) { return Vector3(0.6 * x.x(), 0.3 * x.y(), 0); });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  CHECK(relative_error(checked_fill(problem).fill_time.value_or(0), 28.8) <= 3e-3);
  problem.regions[0].permeability_1 = 4e-9;
  problem.regions[0].permeability_2 = 1e-9;
  const CheckedFill result = checked_fill(problem);
  CHECK(relative_error(result.fill_time.value_or(0), 36.0) <= 3e-3);
  CHECK(last_place(problem, result).norm() <= 0.03);
}

TEST_CASE("An equilateral triangle of side 1 m fed along its edges: 22.2222222 s") {
  // t = H^2 / (27 D), H the height.
  const double height = std::sqrt(0.75);
  const FillProblem problem = edge_fed(triangle_plate(1, 60, 0.2, 23), [=](const Vector3& x) {
    const double from_right = (height * (1 - x.x()) - 0.5 * x.y());
    const double from_left = height * x.x() - 0.5 * x.y();
    return std::min({x.y(), from_left, from_right}) < 1e-9;
  });
  const CheckedFill result = checked_fill(problem);
  CHECK(relative_error(result.fill_time.value_or(0), 22.2222222) <= 2e-3);
  CHECK((last_place(problem, result) - Vector3(0.5, height / 3, 0)).norm() <= 0.03);
}

TEST_CASE("A square fed along two adjacent edges fills last in the opposite corner") {
  // A quarter of the square of twice the side fed all round: 0.294685413 a^2 / D = 235.7483304 s.
  const FillProblem problem = edge_fed(jittered_plate(1, 1, 60, 60),
                                       [](const Vector3& x) { return x.x() == 0 || x.y() == 0; });
  const CheckedFill result = checked_fill(problem);
  CHECK(relative_error(result.fill_time.value_or(0), 0.294685413 / 1.25e-3) <= 2e-3);
  CHECK(last_place(problem, result) == Vector3(1, 1, 0));
}

TEST_CASE("A ring fed along both rims closes on a circle") {
  // 0.1 to 0.5 m: circle of radius sqrt((r2^2 - r1^2) / (2 ln(r2 / r1))) = 0.273057123 m after
  // 17.0465697 s.
  const FillProblem problem =
      edge_fed(annulus(0.1, 0.5, 60, 120, 2 * pi, 0.25, 24), [](const Vector3& x) {
        return std::abs(x.norm() - 0.1) < 1e-9 || std::abs(x.norm() - 0.5) < 1e-9;
      });
  const CheckedFill result = checked_fill(problem);
  CHECK(relative_error(result.fill_time.value_or(0), 17.0465697) <= 3e-3);
  CHECK(std::abs(last_place(problem, result).norm() - 0.273057123) <= 2 * 0.0075);
}

TEST_CASE("A disc with a round gate off its middle") {
  // R = 0.5 m, r0 = 0.01 m, offset c, last point opposite:
  // t = (R^2 / 2 D) (ln(R (R + c) / (r0 (R - c))) + c^2 / (2 R^2) - 1/2).
  struct Offset {
    double c, time;
  };
  for (const Offset& offset : {Offset{0, 341.222300}, Offset{0.1, 383.748811},
                               Offset{0.2, 433.932087}, Offset{0.3, 497.831737}}) {
    for (const int rings : {25, 40}) {
      CAPTURE(offset.c);
      CAPTURE(rings);
      const FillProblem problem = port_fed(disc(0.5, rings, 0.25, 25), Vector3(offset.c, 0, 0));
      const CheckedFill result = checked_fill(problem);
      CHECK(relative_error(result.fill_time.value_or(0), offset.time) <= 0.01);
      if (offset.c > 0) {
        CHECK((last_place(problem, result) - Vector3(-0.5, 0, 0)).norm() <= 0.1);
      }
    }
  }
}

TEST_CASE("A disc with a gate on its rim: R^2 ln(2 R / r0) / D = 921.034037 s") {
  for (const int rings : {25, 40}) {
    CAPTURE(rings);
    const FillProblem problem = port_fed(disc(0.5, rings, 0.25, 26), Vector3(0.5, 0, 0));
    const CheckedFill result = checked_fill(problem);
    CHECK(relative_error(result.fill_time.value_or(0), 921.034037) <= 0.01);
  }
}

TEST_CASE("Rectangles with one round gate of radius 0.01 m") {
  // t = (phi mu A / (2 pi K dp)) ln(ell / r0), with the Neumann function by theta functions; the
  // gate is a half or quarter disc on an edge or in a corner. Last is the corner farthest from it.
  struct Plate {
    double length, width;
    Vector3 gate;
    double time;
    Vector3 last;
  };
  const std::vector<Plate> plates{
      {1, 1, {0.5, 0.5, 0}, 463.613364, {1, 1, 0}},
      {1, 1, {0.5, 0, 0}, 1105.63738, {1, 1, 0}},
      {1, 1, {0, 0, 0}, 2207.47042, {1, 1, 0}},
      {1.2, 0.6, {0.6, 0.3, 0}, 351.200413, {1.2, 0.6, 0}},
      {1.2, 0.6, {0.4, 0.25, 0}, 467.738215, {1.2, 0.6, 0}},
  };
  for (const Plate& p : plates) {
    for (const int per_metre : {40, 80}) {
      CAPTURE(p.gate.transpose());
      CAPTURE(p.length);
      CAPTURE(per_metre);
      const int columns = static_cast<int>(std::lround(p.length * per_metre));
      const int rows = static_cast<int>(std::lround(p.width * per_metre));
      const FillProblem problem =
          port_fed(jittered_plate(p.length, p.width, columns, rows), p.gate);
      const CheckedFill result = checked_fill(problem);
      CHECK(relative_error(result.fill_time.value_or(0), p.time) <= 0.01);
      const bool is_symmetric = 2 * p.gate.x() == p.length;
      if (!is_symmetric) {
        CHECK((last_place(problem, result) - p.last).norm() <= 1.5 / per_metre);
      }
    }
  }
}

TEST_CASE("A square with its gate in the middle fills last in its four corners") {
  const FillProblem problem = port_fed(jittered_plate(1, 1, 40, 40), Vector3(0.5, 0.5, 0));
  const CheckedFill result = checked_fill(problem);
  REQUIRE(result.last_filled.size() == 4);
  Vector3 sum = Vector3::Zero();
  for (const LastFilled& place : result.last_filled) {
    const Vector3 at = problem.mesh.positions[place.node];
    CHECK((at - Vector3(0.5, 0.5, 0)).cwiseAbs() == Vector3(0.5, 0.5, 0));
    CHECK(relative_error(place.time, *result.fill_time) <= 0.02);
    sum += at;
  }
  CHECK(sum == Vector3(2, 2, 0));
  CHECK(result.last_filled[0].time == *result.fill_time);
}
