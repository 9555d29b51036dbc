// Radial filling from a round gate and towards the middle: closed forms derived by integrating the
// front's motion, checked by quadrature (textbook: Rudd, Long, Kendall and Mangin, Liquid Moulding
// Technologies, Woodhead 1997; from memory, pages not checked). Data as for the strips.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <Eigen/Eigenvalues>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

constexpr double diffusivity = 1.25e-3; // K dp / (phi mu) [m2/s]

std::vector<NodeId> nodes_at_radius(const ShellMesh& mesh, double radius) {
  return nodes_where(mesh,
                     [=](const Vector3& x) { return std::abs(x.norm() - radius) < 1e-9 * radius; });
}

/// A ring from radius 0.01 to 0.5 m fed along the inner edge.
FillProblem ring_problem() {
  ShellMesh mesh = annulus(0.01, 0.5, 60, 96, 2 * pi, 0.25, 5);
  const auto gate = nodes_at_radius(mesh, 0.01);
  return problem_on(std::move(mesh), gate);
}

/// A disc of radius 0.5 m fed along its edge, with a vent in the middle.
FillProblem rim_problem(int rings) {
  ShellMesh mesh = disc(0.5, rings, 0.25, 6);
  const auto gate = nodes_at_radius(mesh, 0.5);
  FillProblem problem = problem_on(std::move(mesh), gate);
  problem.vents.push_back({"V1", {NodeId(0)}, 0});
  return problem;
}

/// Time for the front to get from the gate's radius to r at 1e5 Pa.
double diverging_time(double r, double gate) {
  return (r * r * (2 * std::log(r / gate) - 1) + gate * gate) / (4 * diffusivity);
}

double converging_time(double r, double gate) {
  return (gate * gate - r * r - 2 * r * r * std::log(gate / r)) / (4 * diffusivity);
}

} // namespace

TEST_CASE("Diverging radial filling at constant pressure") {
  // t = (1 / 4 D) (R^2 (2 ln (R / r0) - 1) + r0^2): r0 = 0.01 m to 0.25 m 67.9918956 s, to 0.5 m
  // 341.222300 s.
  CHECK(diverging_time(0.25, 0.01) == doctest::Approx(67.9918956).epsilon(1e-8));
  SUBCASE("ring with a resolved gate") {
    const FillProblem problem = with_pressure(ring_problem());
    const CheckedFill result = checked_fill(problem);
    CHECK(relative_error(result.fill_time.value_or(0), 341.222300) <= 5e-3);
    const double growth = std::pow(50.0, 1.0 / 60) - 1; // cell over radius
    const Scatter scatter =
        scatter_of(problem.mesh, [&](NodeId node, const Vector3& x) -> std::optional<double> {
          const double r = x.norm();
          if (r < 0.02 || r > 0.499) {
            return std::nullopt;
          }
          const double speed = diffusivity / (r * std::log(r / 0.01));
          return (result.fill_time_field[node] - diverging_time(r, 0.01)) * speed / (growth * r);
        });
    CHECK(scatter.rms <= 0.2); // cells
    CHECK(scatter.worst <= 0.75);
  }
  SUBCASE("disc of 20 000 triangles with a round port smaller than its cells") {
    ShellMesh mesh = disc(0.5, 58, 0.25, 7);
    REQUIRE(mesh.elements.size() > 20000);
    const auto gate = nodes_within(mesh, Vector3::Zero(), 0.01);
    FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
    problem.gates[0].radius = 0.01;
    const CheckedFill result = checked_fill(problem);
    CHECK(relative_error(result.fill_time.value_or(0), 341.222300) <= 5e-3);
    const Scatter scatter =
        scatter_of(problem.mesh, [&](NodeId node, const Vector3& x) -> std::optional<double> {
          const double r = x.norm();
          if (r < 0.05 || r > 0.499) {
            return std::nullopt;
          }
          const double speed = diffusivity / (r * std::log(r / 0.01));
          return (result.fill_time_field[node] - diverging_time(r, 0.01)) * speed / (0.5 / 58);
        });
    CHECK(scatter.rms <= 0.25); // cells
    CHECK(scatter.worst <= 0.75);
  }
}

TEST_CASE("Diverging radial filling at constant flow and with a cap") {
  // r^2 = r0^2 + Q t / (pi phi h), p = mu Q / (2 pi K h) ln (r / r0).
  SUBCASE("constant flow") {
    // Q = 5e-6 m3/s: 0.5 m after 502.453763 s at 77827.2249 Pa; with what has been injected, V =
    // Q t, ln (r / r0) = ln (1 + V / (pi phi h r0^2)) / 2.
    const CheckedFill result = checked_fill(with_flow(ring_problem(), 5e-6));
    CHECK(relative_error(result.fill_time.value_or(0), 502.453763) <= 5e-3);
    double worst = 0;
    for (const HistoryRow& row : result.history) {
      const double growth = 5e-6 * row.time / (pi * 0.8 * 4e-3 * 1e-4);
      const double pressure = 0.2 * 5e-6 / (2 * pi * 2e-9 * 4e-3) * 0.5 * std::log(1 + growth);
      if (row.filled_fraction > 0.1) {
        worst = std::max(worst, relative_error(row.head_pressure, pressure));
      }
    }
    CHECK(worst <= 0.01);
    CHECK(relative_error(result.peak_head_pressure, 77827.2249) <= 0.01);
  }
  SUBCASE("flow, then cap") {
    // Q = 2e-5 m3/s, cap 1e5 Pa: cap after 0.570276171 s, full after 341.398941 s.
    const CheckedFill result = checked_fill(with_flow_and_cap(ring_problem(), 2e-5));
    CHECK(relative_error(result.fill_time.value_or(0), 341.398941) <= 5e-3);
    REQUIRE(result.time_cap_reached);
    // The switch is at r = 0.0351358562 m, where one cell holds 13 % of what has been injected.
    CHECK(relative_error(*result.time_cap_reached, 0.570276171) <= 0.1);
  }
}

TEST_CASE("A round port in a coarse mesh: head pressure and the moment the cap is reached") {
  // Port of 5 mm in cells of 20 mm and less, 0.2 L/min, K 4e-10 m2, 3 mm: the front is at
  // R^2 = r0^2 + V / (pi phi h), the head at mu Q / (2 pi K h) ln(R / r0): 1.35 bar after 15.80 s.
  constexpr double flow = 0.2e-3 / 60;
  constexpr double cap = 1.35e5;
  const double scale = 0.1 * flow / (2 * pi * 4e-10 * 3e-3);
  const auto head = [&](double time) {
    return scale * 0.5 * std::log1p(flow * time / (pi * 0.5 * 3e-3 * 25e-6));
  };
  CHECK(relative_error(head(15.80), cap) < 1e-3);
  for (const int cells : {40, 60, 120}) {
    CAPTURE(cells);
    ShellMesh mesh = plate({.length = 0.8, .width = 0.8, .columns = cells, .rows = cells});
    const Vector3 middle(0.4, 0.4, 0);
    const std::vector<NodeId> nodes = nodes_within(mesh, middle, 5e-3);
    FillProblem problem = with_flow_and_cap(problem_on(std::move(mesh), nodes), flow, cap);
    problem.gates[0].centre = middle;
    problem.gates[0].radius = 5e-3;
    Region& region = problem.regions[0];
    region.permeability_1 = region.permeability_2 = 4e-10;
    region.porosity = 0.5;
    region.thickness = 3e-3;
    problem.resin.viscosity = 0.1;
    const FillResult result = watched_fill(problem);
    CHECK(relative_error(result.time_cap_reached.value_or(0), 15.80) < 0.03);
    for (const HistoryRow& row : result.history) {
      if (row.time > 4 && row.time < 15) {
        CHECK(relative_error(row.head_pressure, head(row.time)) < 0.05);
      }
    }
  }
}

TEST_CASE("Converging radial filling at constant pressure, the vent in the middle") {
  // t = (1 / 4 D) (R0^2 - r^2 - 2 r^2 ln (R0 / r)): R0 = 0.5 m to 0.25 m 20.1713205 s, to the
  // middle 50.0000 s.
  CHECK(converging_time(0.25, 0.5) == doctest::Approx(20.1713205).epsilon(1e-8));
  const int rings = 58;
  const FillProblem problem = with_pressure(rim_problem(rings));
  REQUIRE(problem.mesh.elements.size() > 20000);
  const CheckedFill result = checked_fill(problem);
  CHECK(relative_error(result.fill_time.value_or(0), 50.0) <= 5e-3);
  REQUIRE(!result.last_filled.empty());
  CHECK(problem.mesh.positions[result.last_filled[0].node].norm() <= 1.5 * 0.5 / rings);
  REQUIRE(result.vents.size() == 1);
  CHECK(relative_error(result.vents[0].reached_at.value_or(0), 50.0) <= 5e-3);
  const Scatter scatter =
      scatter_of(problem.mesh, [&](NodeId node, const Vector3& x) -> std::optional<double> {
        const double r = x.norm();
        if (r < 0.05 || r > 0.499) {
          return std::nullopt;
        }
        const double speed = diffusivity / (r * std::log(0.5 / r));
        return (result.fill_time_field[node] - converging_time(r, 0.5)) * speed / (0.5 / rings);
      });
  CHECK(scatter.rms <= 0.2); // cells
  CHECK(scatter.worst <= 0.75);
}

TEST_CASE("Converging radial filling at constant flow and with a cap") {
  SUBCASE("constant flow") {
    // Q = 5e-6 m3/s: 482.548632 s = pi (R0^2 - r^2) phi h / Q to r = 0.1 m, where the pressure is
    // 32018.7499 Pa.
    const double time = pi * (0.25 - 0.01) * 0.8 * 4e-3 / 5e-6;
    const CheckedFill result =
        checked_fill(with_flow(rim_problem(30), 5e-6), {.steps = 400, .time_limit = time});
    CHECK(result.reason == ShortReason::time_limit);
    CHECK(relative_error(result.history.back().head_pressure, 32018.7499) <= 0.01);
    // The pressure of the last places would be infinite: the fill time is that of the volume.
    const CheckedFill whole = checked_fill(with_flow(rim_problem(30), 5e-6));
    CHECK(relative_error(whole.fill_time.value_or(0), pi * 0.25 * 0.8 * 4e-3 / 5e-6) <= 1e-3);
  }
  SUBCASE("flow, then cap") {
    // Q = 2e-5 m3/s, cap 1e5 Pa: cap after 115.484620 s, the middle after 129.713836 s.
    const CheckedFill result = checked_fill(with_flow_and_cap(rim_problem(30), 2e-5));
    CHECK(relative_error(result.fill_time.value_or(0), 129.713836) <= 5e-3);
    CHECK(relative_error(result.time_cap_reached.value_or(0), 115.484620) <= 0.01);
  }
}

TEST_CASE("Elliptic gate in an elliptic part: as the round one in scaled coordinates") {
  // x (K2 / K1)^(1/4), y (K1 / K2)^(1/4) make the permeability isotropic, K = sqrt(K1 K2) = 2e-9:
  // 67.9918956 s to the semi-axes 0.353553391 and 0.176776695 m. Turned, mesh and permeability.
  for (const double degrees : {0.0, 30.0}) {
    CAPTURE(degrees);
    const double angle = degrees * pi / 180;
    ShellMesh mesh = annulus(0.01, 0.25, 40, 72, 2 * pi, 0.25, 8);
    const auto gate = nodes_at_radius(mesh, 0.01);
    const double root = std::sqrt(2.0);
    deform(mesh, [&](const Vector3& x) { return Vector3(x.x() * root, x.y() / root, 0); });
    move_rigidly(mesh, Vector3::UnitZ(), angle, Vector3(0.1, 0.2, 0));
    FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
    problem.regions[0].permeability_1 = 4e-9;
    problem.regions[0].permeability_2 = 1e-9;
    problem.regions[0].angle = angle;
    const CheckedFill result = checked_fill(problem);
    CHECK(relative_error(result.fill_time.value_or(0), 67.9918956) <= 5e-3);
  }
}

namespace {

/// Semi-axes and direction of the ellipse with the second moments of the resin.
struct FrontEllipse {
  double a, b;  // [m]
  double angle; // of the longer one [rad]
};

FrontEllipse front_ellipse(const FillProblem& problem, const FillResult& result) {
  Eigen::Matrix2d moments = Eigen::Matrix2d::Zero();
  Eigen::Vector2d centre = Eigen::Vector2d::Zero();
  double volume = 0;
  for (const ElementId id : problem.mesh.elements.ids()) {
    const auto corners = problem.mesh.elements[id].corners();
    const Vector3 twice =
        (problem.mesh.positions[corners[1]] - problem.mesh.positions[corners[0]])
            .cross(problem.mesh.positions[corners[2]] - problem.mesh.positions[corners[0]]);
    for (const NodeId node : corners) {
      const Eigen::Vector2d x = problem.mesh.positions[node].head<2>();
      const double share = result.fill_fraction[node] * twice.norm() / 6;
      volume += share;
      centre += share * x;
      moments += share * x * x.transpose();
    }
  }
  centre /= volume;
  moments = moments / volume - centre * centre.transpose();
  Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> axes;
  axes.computeDirect(moments);
  // The moment of an ellipse about its axis is a^2 / 4 per area.
  const Eigen::Vector2d along = axes.eigenvectors().col(1);
  return {2 * std::sqrt(axes.eigenvalues()[1]), 2 * std::sqrt(axes.eigenvalues()[0]),
          std::atan(along.y() / along.x())};
}

/// A plate with its gate at the middle node, so large that the front meets no wall.
FillProblem point_gate_problem(double k_1, double k_2, double degrees) {
  ShellMesh mesh =
      plate({.length = 0.7, .width = 0.7, .columns = 80, .rows = 80, .jitter = 0.25, .seed = 9});
  deform(mesh, [](const Vector3& x) { return Vector3(x - Vector3(0.35, 0.35, 0)); });
  const NodeId gate = move_node_to(mesh, Vector3::Zero());
  FillProblem problem = with_flow(problem_on(std::move(mesh), {gate}), 5e-6);
  problem.regions[0].permeability_1 = k_1;
  problem.regions[0].permeability_2 = k_2;
  problem.regions[0].angle = degrees * pi / 180;
  problem.gates[0].radius = 1e-3;
  return problem;
}

} // namespace

TEST_CASE("Point gate, K1 / K2 = 4: the front is an ellipse") {
  // a / b = sqrt(K1 / K2), pi a b = Q t / (phi h): Q = 5e-6 m3/s, 60 s: 0.244301256, 0.122150628 m.
  const FillProblem problem = point_gate_problem(4e-9, 1e-9, 25);
  const CheckedFill result = checked_fill(problem, {.time_limit = 60});
  const FrontEllipse front = front_ellipse(problem, result);
  CHECK(relative_error(front.a, 0.244301256) <= 5e-3);
  CHECK(relative_error(front.b, 0.122150628) <= 5e-3);
  CHECK(std::abs(front.angle * 180 / pi - 25) <= 0.5);
}

TEST_CASE("K1 / K2 = 10 turned: the same ellipse, time and pressure at every angle") {
  std::optional<double> first_ratio;
  std::optional<double> first_pressure;
  for (const double degrees : {0.0, 17.0, 30.0, 45.0}) {
    CAPTURE(degrees);
    const FillProblem problem = point_gate_problem(6e-9, 6e-10, degrees);
    const CheckedFill result = checked_fill(problem, {.time_limit = 60});
    const FrontEllipse front = front_ellipse(problem, result);
    const double ratio = front.a / front.b;
    CHECK(relative_error(ratio, std::sqrt(10.0)) <= 0.01);
    CHECK(relative_error(ratio, first_ratio.value_or(ratio)) <= 0.01);
    first_ratio = first_ratio.value_or(ratio);
    // mu Q / (2 pi K h) ln (r / r0) with K = sqrt(K1 K2), pi r^2 the area wetted, and r0 the half
    // sum of the axes the round port has in the scaled coordinates: 104738 Pa.
    const double pressure = result.peak_head_pressure;
    CHECK(relative_error(pressure, 104738.0) <= 0.01);
    CHECK(relative_error(pressure, first_pressure.value_or(pressure)) <= 0.01);
    first_pressure = first_pressure.value_or(pressure);
    CHECK(std::abs(front.angle * 180 / pi - degrees) <= 0.5);
    CHECK(relative_error(pi * front.a * front.b, 5e-6 * 60 / (0.8 * 4e-3)) <= 0.01);
  }
}

TEST_CASE("K1 / K2 = 10 turned with a round plate: the same fill time at constant pressure") {
  // A round plate looks the same at every angle; the gate is a node with a port radius.
  std::optional<double> first_time;
  for (const double degrees : {0.0, 17.0, 30.0, 45.0}) {
    CAPTURE(degrees);
    ShellMesh mesh = disc(0.25, 36, 0.25, 10);
    const auto gate = nodes_within(mesh, Vector3::Zero(), 1e-3);
    FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
    problem.gates[0].radius = 5e-3;
    problem.regions[0].permeability_1 = 6e-9;
    problem.regions[0].permeability_2 = 6e-10;
    problem.regions[0].angle = degrees * pi / 180;
    const CheckedFill result = checked_fill(problem);
    const double time = result.fill_time.value_or(0);
    CHECK(relative_error(time, first_time.value_or(time)) <= 0.01);
    first_time = first_time.value_or(time);
  }
}
