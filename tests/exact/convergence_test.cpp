// Order of convergence, bounded on both sides: a higher order than the method has would be as
// suspicious as a lower one.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

/// Slope of log error against log cell size by least squares.
double order_of(const std::vector<double>& sizes, const std::vector<double>& errors) {
  double mean_x = 0;
  double mean_y = 0;
  const auto count = static_cast<double>(sizes.size());
  for (std::size_t i = 0; i < sizes.size(); ++i) {
    mean_x += std::log(sizes[i]) / count;
    mean_y += std::log(errors[i]) / count;
  }
  double xy = 0;
  double xx = 0;
  for (std::size_t i = 0; i < sizes.size(); ++i) {
    xy += (std::log(sizes[i]) - mean_x) * (std::log(errors[i]) - mean_y);
    xx += (std::log(sizes[i]) - mean_x) * (std::log(sizes[i]) - mean_x);
  }
  return xy / xx;
}

} // namespace

TEST_CASE("The fill time of a square fed along its edges converges with order 2") {
  // 58.9370826 s: 0.0736713532815 a^2 / D (torsion function of the square, series).
  std::vector<double> sizes;
  std::vector<double> errors;
  for (const int cells : {10, 20, 40, 80}) {
    ShellMesh mesh = plate(
        {.length = 1, .width = 1, .columns = cells, .rows = cells, .jitter = 0.25, .seed = 31});
    const auto gate = nodes_where(mesh, [](const Vector3& x) {
      return x.x() == 0 || x.y() == 0 || x.x() == 1 || x.y() == 1;
    });
    const CheckedFill result = checked_fill(with_pressure(problem_on(std::move(mesh), gate)));
    sizes.push_back(1.0 / cells);
    errors.push_back(relative_error(result.fill_time.value_or(0), 58.9370826));
  }
  const double order = order_of(sizes, errors);
  CAPTURE(order);
  CHECK(order >= 1.5);
  CHECK(order <= 2.5);
}

TEST_CASE("The fill time of a hemisphere fed along its rim converges with order 2") {
  // ln 2 R^2 / D = 138.629436 s.
  std::vector<double> sizes;
  std::vector<double> errors;
  for (const int rings : {8, 16, 32, 64}) {
    ShellMesh mesh = disc(0.25 * pi, rings, 0.25, 32);
    wrap_on_sphere(mesh, 0.5);
    const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.z() < 1e-9; });
    FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
    problem.regions[0].direction = Vector3::Zero(); // no sphere has one everywhere
    const CheckedFill result = checked_fill(problem);
    sizes.push_back(1.0 / rings);
    errors.push_back(relative_error(result.fill_time.value_or(0), 138.629436));
  }
  const double order = order_of(sizes, errors);
  CAPTURE(order);
  CHECK(order >= 1.5);
  CHECK(order <= 2.5);
}

TEST_CASE(
    "The front's position in a ring, by its arrival times, converges with order 1 or better") {
  // r0 = 0.1 m to 0.5 m: t = (1 / 4 D) (r^2 (2 ln (r / r0) - 1) + r0^2).
  std::vector<double> sizes;
  std::vector<double> errors;
  for (const int cells : {10, 20, 40}) {
    ShellMesh mesh = annulus(0.1, 0.5, cells, 4 * cells, 2 * pi, 0.25, 33);
    const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.norm() < 0.1 + 1e-9; });
    const FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
    const CheckedFill result = checked_fill(problem, {.steps = 4 * cells, .time_limit = {}});
    const Scatter scatter =
        scatter_of(problem.mesh, [&](NodeId node, const Vector3& x) -> std::optional<double> {
          const double r = x.norm();
          if (r < 0.15 || r > 0.45) {
            return std::nullopt;
          }
          const double time = (r * r * (2 * std::log(r / 0.1) - 1) + 0.01) / (4 * 1.25e-3);
          const double speed = 1.25e-3 / (r * std::log(r / 0.1));
          return (result.fill_time_field[node] - time) * speed;
        });
    sizes.push_back(1.0 / cells);
    errors.push_back(scatter.rms);
  }
  const double order = order_of(sizes, errors);
  CAPTURE(order);
  CHECK(order >= 0.8);
  CHECK(order <= 2.2);
}
