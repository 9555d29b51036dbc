// Directions on the surface and velocities, by hand.
#include "solver/element_permeability.hpp"

#include "mesh/error.hpp"
#include "mesh/triangulation.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <Eigen/Geometry>

#include <cmath>
#include <numbers>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

/// One triangle in the plane through the x axis that is turned up from xy by an angle.
FillProblem sloping_triangle(double slope) {
  const Vector3 up(0, std::cos(slope), std::sin(slope));
  ShellMesh mesh =
      mesh_of({{0, 0, 0}, {1, 0, 0}, up}, {{{NodeId(0), NodeId(1), NodeId(2), NodeId()}}});
  return with_pressure(problem_on(std::move(mesh), {NodeId(0)}));
}

} // namespace

TEST_CASE("direction 1: projected on the element, then turned about its normal") {
  FillProblem problem = sloping_triangle(pi / 3);
  const Vector3 uphill(0, 0.5, std::sqrt(0.75));
  const auto direction = [&] { return direction_1(problem)[ElementId(0)]; };
  problem.regions[0].direction = Vector3(3, 0, 0);
  CHECK((direction() - Vector3(1, 0, 0)).norm() < 1e-14);
  problem.regions[0].direction = Vector3(0, 0.1, 0);
  CHECK((direction() - uphill).norm() < 1e-14);
  problem.regions[0].direction = Vector3(0, 0, -2);
  CHECK((direction() + uphill).norm() < 1e-14);
  problem.regions[0].direction = Vector3(1, 0, 0);
  problem.regions[0].angle = pi / 6; // towards uphill, by the right-hand rule about the normal
  CHECK((direction() - (std::sqrt(0.75) * Vector3(1, 0, 0) + 0.5 * uphill)).norm() < 1e-14);
}

TEST_CASE("direction 1: within a degree of the normal it is refused, naming region and place") {
  FillProblem problem = sloping_triangle(0);
  problem.regions[0].name = "web";
  problem.mesh.element_labels[ElementId(0)] = 77;
  const auto tilted = [&](double degrees) {
    problem.regions[0].direction =
        Vector3(std::sin(degrees * pi / 180), 0, std::cos(degrees * pi / 180));
    return direction_1(problem)[ElementId(0)];
  };
  CHECK((tilted(1.1) - Vector3(1, 0, 0)).norm() < 1e-12);
  CHECK_THROWS_AS(tilted(0.9), InputError);
  try {
    tilted(0);
    FAIL("no error");
  } catch (const InputError& error) {
    const std::string text = error.what();
    CHECK(text.find("\"web\"") != std::string::npos);
    CHECK(text.find("77") != std::string::npos);
    CHECK(text.find("333.3") != std::string::npos); // mm
  }
}

TEST_CASE("direction 1: none is needed when K1 = K2") {
  FillProblem problem = sloping_triangle(0.4);
  problem.regions[0].direction = Vector3::Zero();
  const Vector3 direction = direction_1(problem)[ElementId(0)];
  CHECK(direction.norm() == doctest::Approx(1));
  CHECK(std::abs(direction.dot(element_normal(problem.mesh, ElementId(0)))) < 1e-14);
}

TEST_CASE("Darcy velocity: -(K / mu) grad p, also at an angle and on quadrilaterals") {
  for (const bool quads : {false, true}) {
    CAPTURE(quads);
    ShellMesh mesh = plate({.length = 1,
                            .width = 1,
                            .columns = 5,
                            .rows = 5,
                            .jitter = 0.25,
                            .seed = 71,
                            .quads = quads});
    FillProblem problem = with_pressure(problem_on(std::move(mesh), {NodeId(0)}));
    problem.regions[0].permeability_1 = 4e-9;
    problem.regions[0].permeability_2 = 1e-9;
    problem.regions[0].angle = pi / 6;
    PerNode<double> pressure;
    for (const Vector3& x : problem.mesh.positions) {
      pressure.push_back(1e5 - 3e4 * x.x() + 1e4 * x.y());
    }
    // K_xx = 3.25e-9, K_xy = 3e-9 sqrt(3) / 4, K_yy = 1.75e-9; mu = 0.2.
    const double k_xy = 0.75e-9 * std::sqrt(3.0);
    const Vector3 expected((3.25e-9 * 3e4 - k_xy * 1e4) / 0.2, (k_xy * 3e4 - 1.75e-9 * 1e4) / 0.2,
                           0);
    double worst = 0;
    for (const Vector3& velocity : darcy_velocity(problem, pressure)) {
      worst = std::max(worst, (velocity - expected).norm());
    }
    CHECK(worst <= 1e-11 * expected.norm());
  }
}
