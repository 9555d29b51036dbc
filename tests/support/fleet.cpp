#include "tests/support/fleet.hpp"

#include "tests/support/meshes.hpp"

#include <cmath>
#include <map>
#include <numbers>
#include <random>
#include <tuple>

namespace tidemark::test {

using std::numbers::pi;

namespace {

/// Numbers between 0 and 1, the same on every machine.
class Uniform {
public:
  explicit Uniform(std::uint32_t seed) : random_(seed) {}
  double operator()() { return (static_cast<double>(random_()) + 0.5) / 4294967296.0; }
  double normal() {
    const double radius = std::sqrt(-2 * std::log((*this)()));
    return radius * std::cos(2 * pi * (*this)());
  }

private:
  std::mt19937 random_;
};

FillProblem edge_fed_plate(const PlateShape& shape) {
  ShellMesh mesh = plate(shape);
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; });
  return with_pressure(problem_on(std::move(mesh), gate));
}

FillProblem port_fed(ShellMesh mesh, const Vector3& at, double radius) {
  const auto gate = nodes_within(mesh, at, radius);
  FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  problem.gates[0].radius = radius;
  problem.gates[0].centre = at;
  return problem;
}

FillProblem hemisphere_problem() {
  ShellMesh mesh = disc(0.25 * pi, 12, 0.25, 41);
  wrap_on_sphere(mesh, 0.5);
  FillProblem problem = port_fed(std::move(mesh), Vector3(0, 0, 0.5), 0.02);
  problem.regions[0].direction = Vector3::Zero();
  return problem;
}

FillProblem joint_problem() {
  ShellMesh mesh = t_joint(0.5, 0.3, 15, 9);
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.x() < -0.5 + 1e-9; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  problem.regions[0].permeability_2 = 5e-10;
  problem.regions[0].angle = 0.4;
  return problem;
}

FillProblem rolled_problem() {
  ShellMesh mesh =
      plate({.length = 1.2, .width = 0.5, .columns = 24, .rows = 10, .jitter = 0.25, .seed = 42});
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.y() == 0; });
  roll_on_cylinder(mesh, 0.25);
  FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  problem.regions[0].direction = Vector3::UnitY();
  problem.regions[0].permeability_2 = 4e-10;
  problem.regions[0].angle = 0.5;
  return problem;
}

} // namespace

void set_random_regions(FillProblem& problem, double box, std::uint32_t seed) {
  Uniform uniform(seed);
  std::map<std::tuple<long, long, long>, int> region_of_box;
  std::vector<Region> regions;
  const auto choose = [&](const Vector3& x) {
    const Vector3 cell = x / box;
    const std::tuple key(std::lround(std::floor(cell.x())), std::lround(std::floor(cell.y())),
                         std::lround(std::floor(cell.z())));
    const auto [at, is_new] = region_of_box.try_emplace(key, static_cast<int>(regions.size()));
    if (is_new) {
      regions.push_back({"box " + std::to_string(regions.size()), 4e-3 * (0.5 + uniform()),
                         0.4 + 0.5 * uniform(), 2e-9 * std::exp(uniform.normal()),
                         2e-9 * std::exp(uniform.normal()), Vector3(1, 0.3, 0.2), pi * uniform()});
    }
    return at->second;
  };
  set_regions(problem, {}, choose);
  problem.regions = std::move(regions);
}

FillProblem random_regions_problem(int columns, int rows, std::uint32_t seed) {
  ShellMesh mesh = plate(
      {.length = 1, .width = 0.7, .columns = columns, .rows = rows, .jitter = 0.25, .seed = seed});
  const auto gate =
      nodes_where(mesh, [](const Vector3& x) { return x.x() == 0 && x.y() < 0.25 && x.y() > 0.1; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  set_random_regions(problem, 0.175, seed);
  return problem;
}

std::vector<FleetProblem> fleet(double scale) {
  std::vector<FleetProblem> problems{
      {"regular plate", edge_fed_plate({.length = 1, .width = 0.5, .columns = 20, .rows = 10})},
      {"quadrilaterals", edge_fed_plate({.length = 1,
                                         .width = 0.5,
                                         .columns = 20,
                                         .rows = 10,
                                         .jitter = 0.25,
                                         .seed = 43,
                                         .quads = true})},
      {"random regions", random_regions_problem(24, 16, 44)},
      {"disc with a port", port_fed(disc(0.5, 12, 0.25, 45), Vector3::Zero(), 0.01)},
      {"hemisphere", hemisphere_problem()},
      {"T-joint", joint_problem()},
      {"rolled plate", rolled_problem()},
  };
  for (FleetProblem& item : problems) {
    deform(item.problem.mesh, [=](const Vector3& x) { return Vector3(scale * x); });
    for (Gate& gate : item.problem.gates) {
      gate.centre *= scale;
      if (gate.radius) {
        gate.radius = *gate.radius * scale;
      }
    }
  }
  return problems;
}

} // namespace tidemark::test
