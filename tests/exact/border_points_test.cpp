// Meshes drawn out along their borders, or across the fibres: the flow network needs points there.
#include "solver/border_points.hpp"

#include "mesh/edge_lines.hpp"
#include "solver/channel.hpp"
#include "solver/gate_ranking.hpp"
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr double pressure_drop = 1e5;   // [Pa]
constexpr double permeability_1 = 1e-9; // [m2]

struct StripCells {
  int along, across;
};

FillProblem fed_at_one_end(const PlateShape& shape) {
  ShellMesh mesh = plate(shape);
  const auto at = [&](double x) {
    return nodes_where(mesh, [x](const Vector3& p) { return std::abs(p.x() - x) < 1e-9; });
  };
  const std::vector<NodeId> gate = at(0);
  const std::vector<NodeId> vent = at(shape.length);
  FillProblem problem = with_pressure(problem_on(std::move(mesh), gate), pressure_drop);
  problem.vents = {{"V1", vent, 0}};
  Region& region = problem.regions[0];
  region.permeability_1 = region.permeability_2 = permeability_1;
  region.porosity = 0.5;
  region.thickness = 3e-3;
  problem.resin.viscosity = 0.1;
  return problem;
}

/// 1 m x 50 mm, K1 at an angle to its length.
FillProblem oblique_strip(const StripCells& cells, double ratio, double degrees) {
  FillProblem problem = fed_at_one_end(
      {.length = 1, .width = 0.05, .columns = cells.along, .rows = cells.across, .quads = true});
  const double angle = degrees * std::numbers::pi / 180;
  problem.regions[0].permeability_2 = permeability_1 / ratio;
  problem.regions[0].direction = {std::cos(angle), std::sin(angle), 0};
  return problem;
}

/// Filling time of a long strip across which nothing flows: the pressure falls along it with
/// 1 / (cos^2 / K1 + sin^2 / K2), t = phi mu L^2 / (2 K dp) (Darcy's law, textbook). The ends,
/// where the front turns, make it some 2 to 5 % less at 20 : 1.
double time_of_long_strip(double ratio, double degrees) {
  const double angle = degrees * std::numbers::pi / 180;
  const double c = std::cos(angle);
  const double s = std::sin(angle);
  const double k = permeability_1 / (c * c + ratio * s * s);
  return 0.5 * 0.1 / (2 * k * pressure_drop);
}

double time_to_fill(const FillProblem& problem, const FillOptions& options = {}) {
  return watched_fill(problem, options).fill_time.value_or(0);
}

} // namespace

TEST_CASE("Elements drawn out along a border, K at an angle: as long as with square ones") {
  const double square = time_to_fill(oblique_strip({200, 10}, 10, 45));
  CHECK(relative_error(square, time_of_long_strip(10, 45)) < 0.03);
  CHECK(relative_error(time_to_fill(oblique_strip({50, 40}, 10, 45)), square) < 0.01); // 16 : 1
  CHECK(relative_error(time_to_fill(oblique_strip({50, 10}, 3, 45)), time_of_long_strip(3, 45)) <
        0.02);
  CHECK(relative_error(time_to_fill(oblique_strip({50, 20}, 10, 60)), time_of_long_strip(10, 60)) <
        0.03);
  CHECK(relative_error(time_to_fill(oblique_strip({50, 40}, 100, 45)),
                       time_of_long_strip(100, 45)) < 0.06);
}

TEST_CASE("Parallelograms drawn out along a border: as long as upright ones") {
  const auto sheared = [](const StripCells& cells) {
    FillProblem problem = oblique_strip(cells, 1, 0);
    deform(problem.mesh, [](const Vector3& x) { return Vector3(x.x() + x.y(), x.y(), 0); });
    return problem;
  };
  const double even = time_to_fill(sheared({100, 5}));
  CHECK(relative_error(time_to_fill(sheared({50, 40})), even) < 0.01);
  CHECK(relative_error(time_to_fill(sheared({25, 20})), even) < 0.01);
}

TEST_CASE("A border between two regions that are the same changes nothing") {
  const auto cut = [](int regions) {
    FillProblem problem = fed_at_one_end(
        {.length = 1, .width = 0.3, .columns = 50, .rows = 60, .quads = true}); // 20 x 5 mm
    problem.regions[0].permeability_2 = permeability_1 / 10;
    problem.regions[0].direction = Vector3(1, 1, 0).normalized();
    problem.regions.resize(static_cast<std::size_t>(regions), problem.regions[0]);
    for (const ElementId id : problem.mesh.elements.ids()) {
      const double y = element_centre(problem.mesh, id).y();
      problem.element_region[id] = RegionId(static_cast<int>(y / 0.3 * regions));
    }
    return time_to_fill(problem);
  };
  const double whole = cut(1);
  CHECK(relative_error(cut(2), whole) < 0.01);
  CHECK(relative_error(cut(6), whole) < 0.01);
}

TEST_CASE("Points on borders join the gates, vents and channels they lie on") {
  FillProblem problem = oblique_strip({50, 40}, 10, 45);
  const ShellMesh& mesh = problem.mesh;
  const std::vector<NodeId> ends{nearest_node(mesh, {0.2, 0, 0}), nearest_node(mesh, {0.6, 0, 0})};
  problem.channels.push_back(runner("R1", edge_path(mesh, ends), 1e-9, 1e-9)); // next to nothing
  problem.gates[0].nodes = nodes_where(mesh, [](const Vector3& x) {
    return x.y() < 1e-9 && x.x() > 0.2 - 1e-9 && x.x() < 0.6 + 1e-9;
  });
  problem.vents[0].nodes = nodes_where(
      mesh, [](const Vector3& x) { return x.y() > 0.05 - 1e-9 && x.x() > 0.3 && x.x() < 0.7; });
  FlowNetwork network = flow_network(problem);
  const std::size_t limited = network.limited.size();
  const auto refined = refined_at_borders(problem, network);
  REQUIRE(refined);
  CHECK(network.limited.size() < limited / 10);
  const FillProblem& fine = refined->problem;
  const auto on = [&](const std::vector<NodeId>& nodes, double y, double from, double to) {
    return std::ranges::all_of(fine.mesh.positions.ids(), [&](NodeId node) {
      const Vector3& x = fine.mesh.positions[node];
      const bool is_there = std::abs(x.y() - y) < 1e-9 && x.x() > from - 1e-9 && x.x() < to + 1e-9;
      return is_there == std::ranges::binary_search(nodes, node);
    });
  };
  CHECK(fine.gates[0].nodes.size() > problem.gates[0].nodes.size());
  CHECK(on(fine.gates[0].nodes, 0, 0.2, 0.6));
  CHECK(on(fine.vents[0].nodes, 0.05, 0.32, 0.68));
  CHECK(fine.channels[0].segments.size() == fine.gates[0].nodes.size() - 1);
  CHECK(channel_size(fine.mesh, fine.channels[0]).length == doctest::Approx(0.4));
}

TEST_CASE("Rows of finer cells beside channels that carry next to nothing change nothing") {
  FillProblem problem = fed_at_one_end(
      {.length = 0.6, .width = 0.3, .columns = 60, .rows = 30, .quads = true}); // 10 mm squares
  for (const double y : {0.0, 0.15, 0.3}) {
    const std::vector<NodeId> ends{nearest_node(problem.mesh, {0, y, 0}),
                                   nearest_node(problem.mesh, {0.6, y, 0})};
    problem.channels.push_back(
        race_track("T", problem, edge_path(problem.mesh, ends), 1e-3, 1e-12));
  }
  const double plain = time_to_fill(problem);
  CHECK(relative_error(time_to_fill(problem, {.finer_channels = true}), plain) < 0.005);
}

TEST_CASE("What fills fastest is ranked on the same points as it is filled on") {
  FillProblem problem = oblique_strip({50, 40}, 10, 45);
  problem.vents.clear();
  const FactoredPart part = factored_part(problem);
  REQUIRE(part.refined);
  CHECK(part.own_nodes().size() == problem.mesh.positions.size());
  const Gate gate = gate_at(problem, nearest_node(problem.mesh, {0.4, 0.025, 0}), 5e-3);
  const LayoutTime ranked = layout_time(part, std::vector{gate_site(problem, part, gate)});
  problem.gates = {gate};
  const FillResult result = watched_fill(problem, {});
  CHECK(relative_error(ranked.largest_w * 0.1 / pressure_drop, result.fill_time.value_or(0)) <
        1e-6);
  CHECK(relative_error(layout_time(problem).largest_w, ranked.largest_w) < 1e-6);
  CHECK(ranked.last.position() < problem.mesh.positions.size());
}
