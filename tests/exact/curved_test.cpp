// Cylinders, cones and spheres. Cylinder and cone unroll into flat parts; the sphere's closed forms
// are derived by integrating the front's motion along the meridian and checked by quadrature.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <optional>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

constexpr double diffusivity = 1.25e-3; // K dp / (phi mu) [m2/s]

/// At 1e5 Pa; without a direction, which no sphere has everywhere.
FillProblem sphere_problem(ShellMesh mesh, std::vector<NodeId> gate) {
  FillProblem problem = with_pressure(problem_on(std::move(mesh), std::move(gate)));
  problem.regions[0].direction = Vector3::Zero();
  return problem;
}

/// A cone of half-angle 30 degrees between the slant distances 0.1 and 0.5 m.
FillProblem cone_problem(double gate_at) {
  ShellMesh mesh = annulus(0.1, 0.5, 40, 120, 2 * pi, 0.25, 11);
  wrap_on_cone(mesh, pi / 6);
  const auto gate =
      nodes_where(mesh, [=](const Vector3& x) { return std::abs(x.norm() - gate_at) < 1e-9; });
  return with_pressure(problem_on(std::move(mesh), gate));
}

/// Time from a cap of polar angle gate to polar angle at, radius 0.5 m.
double sphere_time(double at, double gate) {
  const auto primitive = [](double a) {
    return -std::cos(a) * std::log(std::tan(a / 2)) + std::log(std::sin(a));
  };
  return 0.25 / diffusivity *
         (primitive(at) - primitive(gate) -
          std::log(std::tan(gate / 2)) * (std::cos(gate) - std::cos(at)));
}

} // namespace

TEST_CASE("Hemisphere fed along its rim: the pole after ln 2 phi mu R^2 / (K dp) = 138.629436 s") {
  ShellMesh mesh = disc(0.25 * pi, 30, 0.25, 12);
  wrap_on_sphere(mesh, 0.5);
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.z() < 1e-9; });
  const FillProblem problem = sphere_problem(std::move(mesh), gate);
  const CheckedFill result = checked_fill(problem);
  CHECK(relative_error(result.fill_time.value_or(0), 138.629436) <= 5e-3);
  CHECK(relative_error(result.area, 2 * pi * 0.25) <= 5e-3);
  REQUIRE(!result.last_filled.empty());
  CHECK((problem.mesh.positions[result.last_filled[0].node] - Vector3(0, 0, 0.5)).norm() <= 0.04);
}

TEST_CASE("Hemisphere fed by a cap at its pole") {
  // Cap of 0.02 rad: 45 degrees after 186.483565 s, the rim after 782.417935 s.
  CHECK(sphere_time(pi / 4, 0.02) == doctest::Approx(186.483565).epsilon(1e-8));
  SUBCASE("the cap's edge resolved") {
    ShellMesh mesh = annulus(0.01, 0.25 * pi, 60, 96, 2 * pi, 0.25, 13);
    wrap_on_sphere(mesh, 0.5);
    const double edge = 0.5 * std::cos(0.02);
    const auto gate = nodes_where(mesh, [=](const Vector3& x) { return x.z() > edge - 1e-9; });
    const FillProblem problem = sphere_problem(std::move(mesh), gate);
    const CheckedFill result = checked_fill(problem);
    CHECK(relative_error(result.fill_time.value_or(0), 782.417935) <= 5e-3);
    const double growth = std::pow(25 * pi, 1.0 / 60) - 1; // cell over arc
    const Scatter scatter =
        scatter_of(problem.mesh, [&](NodeId node, const Vector3& x) -> std::optional<double> {
          const double angle = std::acos(std::min(1.0, x.z() / 0.5));
          if (angle < 0.04 || angle > 0.49 * pi) {
            return std::nullopt;
          }
          const double slope = 0.25 / diffusivity * std::sin(angle) *
                               (std::log(std::tan(angle / 2)) - std::log(0.01));
          return (result.fill_time_field[node] - sphere_time(angle, 0.02)) / slope /
                 (growth * angle);
        });
    CHECK(scatter.rms <= 0.2); // cells
    CHECK(scatter.worst <= 0.75);
  }
  SUBCASE("a round port smaller than the cells") {
    ShellMesh mesh = disc(0.25 * pi, 40, 0.25, 14);
    wrap_on_sphere(mesh, 0.5);
    const Vector3 pole(0, 0, 0.5);
    const auto gate = nodes_within(mesh, pole, 0.01);
    FillProblem problem = sphere_problem(std::move(mesh), gate);
    problem.gates[0].radius = 0.01;
    problem.gates[0].centre = pole;
    const CheckedFill result = checked_fill(problem);
    CHECK(relative_error(result.fill_time.value_or(0), 782.417935) <= 0.01);
  }
}

TEST_CASE("A cone fills as the sector it unrolls into, whatever its angle") {
  // Slant 0.1 to 0.5 m: from the small end 112.943791 s, from the big end 41.5622483 s; area
  // 0.376991118 m2.
  const CheckedFill from_small = checked_fill(cone_problem(0.1));
  CHECK(relative_error(from_small.fill_time.value_or(0), 112.943791) <= 5e-3);
  CHECK(relative_error(from_small.area, 0.376991118) <= 2e-3);
  const CheckedFill from_big = checked_fill(cone_problem(0.5));
  CHECK(relative_error(from_big.fill_time.value_or(0), 41.5622483) <= 5e-3);
}

TEST_CASE("A plate rolled to a cylinder fills as the flat plate, to the order of the mesh") {
  // 1 m round the axis at radius 0.25 m: 400 s. The chords are shorter than the arcs by
  // (cell / R)^2 / 24, so the difference to the flat plate falls fourfold with the cell.
  const auto fill_time = [](int columns, bool is_rolled) {
    ShellMesh mesh =
        plate({.length = 1, .width = 0.3, .columns = columns, .rows = columns * 3 / 10});
    const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; });
    if (is_rolled) {
      roll_on_cylinder(mesh, 0.25);
    }
    return checked_fill(with_pressure(problem_on(std::move(mesh), gate))).fill_time.value_or(0);
  };
  const double coarse = fill_time(20, false) - fill_time(20, true);
  const double fine = fill_time(40, false) - fill_time(40, true);
  CHECK(coarse > 0);
  CHECK(coarse / fine > 3.8);
  CHECK(coarse / fine < 4.2);
  CHECK(relative_error(fill_time(40, true), 400) <= 1e-3);
}

TEST_CASE("A jittered plate with K1 / K2 = 4 rolled along its axis fills as the flat one") {
  const auto fill_of = [](bool is_rolled) {
    ShellMesh mesh =
        plate({.length = 0.6, .width = 0.6, .columns = 40, .rows = 40, .jitter = 0.25, .seed = 15});
    const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.y() == 0; });
    if (is_rolled) {
      roll_on_cylinder(mesh, 0.3);
    }
    FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
    problem.regions[0].permeability_2 = 5e-10;
    problem.regions[0].direction = Vector3::UnitY(); // along the axis
    problem.regions[0].angle = pi / 6;
    return checked_fill(problem);
  };
  const CheckedFill flat = fill_of(false);
  const CheckedFill rolled = fill_of(true);
  REQUIRE(flat.fill_time);
  CHECK(relative_error(rolled.fill_time.value_or(0), *flat.fill_time) <= 2e-3);
}
