// Filling along a strip: elementary closed forms, derived by integrating the front's motion and
// checked by quadrature (textbook: Rudd, Long, Kendall and Mangin, Liquid Moulding Technologies,
// Woodhead 1997; from memory, pages not checked).
// Common data: K = 2e-9 m2, mu = 0.2 Pa s, phi = 0.8, h = 4 mm, pressure 1e5 Pa above the front, so
// D = K dp / (phi mu) = 1.25e-3 m2/s.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <optional>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

constexpr double diffusivity = 1.25e-3; // [m2/s]

/// A strip 1 m x 0.3 m, 100 cells along, fed along its whole edge x = 0.
ShellMesh strip() {
  return plate({.length = 1, .width = 0.3, .columns = 100, .rows = 30, .jitter = 0.25, .seed = 1});
}

std::vector<NodeId> left_edge(const ShellMesh& mesh) {
  return nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; });
}

FillProblem strip_problem(ShellMesh mesh) {
  const std::vector<NodeId> gate = left_edge(mesh);
  return problem_on(std::move(mesh), gate);
}

double mean_time_at(const FillProblem& problem, const FillResult& result, double x) {
  const auto nodes =
      nodes_where(problem.mesh, [&](const Vector3& at) { return std::abs(at.x() - x) < 1e-9; });
  REQUIRE(!nodes.empty());
  double sum = 0;
  for (const NodeId node : nodes) {
    sum += result.fill_time_field[node];
  }
  return sum / static_cast<double>(nodes.size());
}

} // namespace

TEST_CASE("A strip at constant pressure fills in 400 s") {
  // x^2 = 2 D t.
  const FillProblem problem = with_pressure(strip_problem(strip()));
  const CheckedFill result = checked_fill(problem);
  REQUIRE(result.fill_time);
  CHECK(relative_error(*result.fill_time, 400.0) <= 1e-3);
  CHECK(result.verdict == Verdict::filled);
  CHECK(result.peak_head_pressure == 1e5);

  const Scatter scatter =
      scatter_of(problem.mesh, [&](NodeId node, const Vector3& x) -> std::optional<double> {
        const double front = std::sqrt(2 * diffusivity * result.fill_time_field[node]);
        return x.x() < 1 ? std::optional((front - x.x()) / 0.01) : std::nullopt;
      });
  CHECK(scatter.rms <= 0.2); // cells
  CHECK(scatter.worst <= 0.75);
}

TEST_CASE("A strip at constant pressure is half full after 100 s") {
  // x = 0.5 m, flow K A dp / (mu x) = 2.4e-6 m3/s, volume phi A x = 4.8e-4 m3, pressure linear.
  const FillProblem problem = with_pressure(strip_problem(strip()));
  const CheckedFill result = checked_fill(problem, {.steps = 400, .time_limit = 100});
  CHECK(result.verdict == Verdict::short_fill);
  CHECK(result.end_time == doctest::Approx(100).epsilon(1e-12));
  CHECK(relative_error(result.injected, 4.8e-4) <= 1e-3);
  CHECK(relative_error(result.resin_in_part, 4.8e-4) <= 1e-3);
  CHECK(relative_error(result.history.back().flow_rate, 2.4e-6) <= 5e-3);
  double worst = 0;
  for (const NodeId node : problem.mesh.positions.ids()) {
    const double x = problem.mesh.positions[node].x();
    const double pressure = std::max(0.0, 1e5 * (1 - x / 0.5));
    worst = std::max(worst, std::abs(result.pressure[node] - pressure));
  }
  CHECK(worst <= 0.01 * 1e5);
}

TEST_CASE("A strip at constant flow fills in 480 s exactly") {
  // t = phi A L / Q and p = mu Q L / (K A), A = 0.3 m x 4 mm.
  const CheckedFill result = checked_fill(with_flow(strip_problem(strip()), 2e-6));
  REQUIRE(result.fill_time);
  CHECK(relative_error(*result.fill_time, 480.0) <= 1e-9);
  CHECK(relative_error(result.peak_head_pressure, 166666.667) <= 5e-3);
  CHECK(relative_error(result.history.back().head_pressure, 166666.667) <= 5e-3);
  CHECK(result.time_at_cap == 0);
  CHECK_FALSE(result.time_cap_reached);
  // Half-way the pressure is half of that.
  for (const HistoryRow& row : result.history) {
    if (row.time > 24) {
      CHECK(std::abs(row.head_pressure - 166666.667 * row.time / 480) <= 0.01 * 166666.667);
    }
  }
}

TEST_CASE("A strip at constant flow meets the pressure cap at 288 s and fills in 544 s") {
  // x_s = K A p / (mu Q) = 0.6 m; t_s = phi A x_s / Q; t = phi mu (L^2 + x_s^2) / (2 K p).
  const CheckedFill result = checked_fill(with_flow_and_cap(strip_problem(strip()), 2e-6));
  REQUIRE(result.fill_time);
  REQUIRE(result.time_cap_reached);
  CHECK(relative_error(*result.time_cap_reached, 288.0) <= 0.01);
  CHECK(relative_error(*result.fill_time, 544.0) <= 1e-3);
  CHECK(relative_error(result.time_at_cap, 544.0 - 288.0) <= 0.015);
  CHECK(relative_error(result.history.back().flow_rate, 1.2e-6) <= 0.02);
  CHECK(relative_error(result.peak_head_pressure, 1e5) <= 1e-9);
}

TEST_CASE("Zones in series") {
  // t at the end of zone n = (mu / dp) sum of phi_i h_i (R_i L_i + L_i^2 / (2 K_i h_i)), with R_i =
  // sum over j < i of L_j / (K_j h_j).
  const auto zone = [](double k, double phi, double h) {
    return Region{"", h, phi, k, k, Vector3::Zero(), 0};
  };
  const auto zones_on = [](std::vector<double> borders, std::vector<Region> regions) {
    ShellMesh mesh = strip();
    for (const double border : borders) {
      straighten(mesh, border, 0.3 * 0.01);
    }
    FillProblem problem = with_pressure(strip_problem(std::move(mesh)));
    set_regions(problem, std::move(regions), [=](const Vector3& x) {
      return static_cast<int>(std::ranges::count_if(borders, [&](double b) { return x.x() > b; }));
    });
    return problem;
  };

  SUBCASE("easy zone at the gate") {
    const FillProblem problem = zones_on({0.4}, {zone(2e-9, 0.8, 4e-3), zone(5e-10, 0.6, 4e-3)});
    const CheckedFill result = checked_fill(problem);
    CHECK(relative_error(result.fill_time.value_or(0), 640.0) <= 1e-3);
    CHECK(relative_error(mean_time_at(problem, result, 0.4), 64.0) <= 0.01);
  }
  SUBCASE("tight zone at the gate") {
    const FillProblem problem = zones_on({0.6}, {zone(5e-10, 0.6, 4e-3), zone(2e-9, 0.8, 4e-3)});
    const CheckedFill result = checked_fill(problem);
    CHECK(relative_error(result.fill_time.value_or(0), 1264.0) <= 1e-3);
    CHECK(relative_error(mean_time_at(problem, result, 0.6), 432.0) <= 0.01);
  }
  SUBCASE("three zones of different thickness") {
    const FillProblem problem = zones_on(
        {0.3, 0.6}, {zone(2e-9, 0.8, 4e-3), zone(1e-10, 0.5, 6e-3), zone(1e-9, 0.7, 3e-3)});
    const CheckedFill result = checked_fill(problem);
    CHECK(relative_error(result.fill_time.value_or(0), 1568.5) <= 1e-3);
    CHECK(relative_error(mean_time_at(problem, result, 0.3), 36.0) <= 0.01);
    CHECK(relative_error(mean_time_at(problem, result, 0.6), 553.5) <= 0.01);
  }
}

TEST_CASE("Permeability at an angle in a narrow strip acts as K_xx - K_xy^2 / K_yy") {
  // The closed sides keep the flow along the strip: K = 1 / (cos^2 / K1 + sin^2 / K2), so 30
  // degrees 2.28571429e-9 and 45 degrees 1.6e-9 m2. The ends of the strip add to the time what is
  // linear in its length, which the second difference of three lengths takes out: 2 L^2 phi mu / (2
  // K dp).
  const auto fill_time = [](int columns, double angle) {
    const double cell = 0.01;
    ShellMesh mesh = plate({.length = columns * cell,
                            .width = 0.1,
                            .columns = columns,
                            .rows = 10,
                            .jitter = 0.25,
                            .seed = 3});
    FillProblem problem = with_pressure(strip_problem(std::move(mesh)));
    problem.regions[0].permeability_1 = 4e-9;
    problem.regions[0].permeability_2 = 1e-9;
    problem.regions[0].angle = angle * pi / 180;
    const CheckedFill result = checked_fill(problem);
    return result.fill_time.value_or(std::numeric_limits<double>::quiet_NaN());
  };
  const auto effective = [&](double angle) {
    const double difference =
        fill_time(150, angle) - 2 * fill_time(100, angle) + fill_time(50, angle);
    return 0.8 * 0.2 * 0.5 * 0.5 / (1e5 * difference);
  };
  CHECK(relative_error(effective(0), 4e-9) <= 0.01);
  CHECK(relative_error(effective(30), 2.28571429e-9) <= 0.01);
  CHECK(relative_error(effective(45), 1.6e-9) <= 0.01);
}

TEST_CASE("Permeability at an angle in a wide strip acts as K_xx") {
  // Far from the closed sides the pressure varies with x only: 30 degrees 3.25e-9, 45 degrees
  // 2.5e-9 m2.
  for (const auto& [angle, k_xx] : {std::pair(30.0, 3.25e-9), std::pair(45.0, 2.5e-9)}) {
    CAPTURE(angle);
    ShellMesh mesh =
        plate({.length = 0.1, .width = 0.6, .columns = 20, .rows = 120, .jitter = 0.25, .seed = 4});
    FillProblem problem = with_pressure(strip_problem(std::move(mesh)));
    problem.regions[0].permeability_1 = 4e-9;
    problem.regions[0].permeability_2 = 1e-9;
    problem.regions[0].angle = angle * pi / 180;
    const CheckedFill result = checked_fill(problem);
    const auto nodes = nodes_where(problem.mesh, [](const Vector3& x) {
      return std::abs(x.y() - 0.3) < 0.1 && x.x() > 0.05 && x.x() < 0.1;
    });
    double sum = 0; // of the permeabilities that the arrival times x^2 phi mu / (2 K dp) give
    for (const NodeId node : nodes) {
      const double x = problem.mesh.positions[node].x();
      sum += 0.8 * 0.2 * x * x / (2 * 1e5 * result.fill_time_field[node]);
    }
    CHECK(relative_error(sum / static_cast<double>(nodes.size()), k_xx) <= 0.01);
  }
}
