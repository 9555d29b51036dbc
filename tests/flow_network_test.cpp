// Conductances and pore volumes by hand, and by the energy of linear pressure fields.
#include "solver/flow_network.hpp"

#include "solver/flow_system.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <array>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

double conductance(const FlowNetwork& network, int from, int to) {
  const auto node = static_cast<std::size_t>(from);
  for (std::size_t k = network.first[node]; k < network.first[node + 1]; ++k) {
    if (network.neighbour[k] == NodeId(to)) {
      return network.conductance[k];
    }
  }
  return 0;
}

/// sum over links of c_ij (p_i - p_j)^2
double energy(const FlowNetwork& network, const PerNode<double>& pressure) {
  double sum = 0;
  for (const NodeId node : pressure.ids()) {
    for (std::size_t k = network.first[node.position()]; k < network.first[node.position() + 1];
         ++k) {
      const double drop = pressure[node] - pressure[network.neighbour[k]];
      sum += 0.5 * network.conductance[k] * drop * drop;
    }
  }
  return sum;
}

} // namespace

TEST_CASE("network: one square of two triangles by hand") {
  // Half cotangents of 45 degrees on the sides, of 90 degrees on the diagonal: no link. h K =
  // 8e-12.
  const FillProblem problem = with_pressure(
      problem_on(plate({.length = 2, .width = 2, .columns = 1, .rows = 1}), {NodeId(0)}));
  const FlowNetwork network = flow_network(problem);
  for (const auto& [a, b] : {std::pair(0, 1), std::pair(1, 3), std::pair(2, 3), std::pair(0, 2)}) {
    CHECK(relative_error(conductance(network, a, b), 0.5 * 8e-12) <= 1e-12);
  }
  CHECK(conductance(network, 0, 3) == 0);
  CHECK(network.quality.edges == 5);
  CHECK(network.quality.limited == 0);
  CHECK(network.quality.limited_fraction == 0);
  // 4 m2 of 4 mm and 0.8: thirds of the triangles at their corners.
  const double third = 2 * 4e-3 * 0.8 / 3;
  CHECK(relative_error(network.pore_volume[NodeId(0)], 2 * third) <= 1e-12);
  CHECK(relative_error(network.pore_volume[NodeId(1)], third) <= 1e-12);
}

TEST_CASE("network: thickness and porosity of each region, conductances at their border add up") {
  FillProblem problem = with_pressure(
      problem_on(plate({.length = 2, .width = 1, .columns = 2, .rows = 1}), {NodeId(0)}));
  const Region left{"left", 4e-3, 0.8, 2e-9, 2e-9, Vector3::Zero(), 0};
  const Region right{"right", 2e-3, 0.5, 1e-9, 1e-9, Vector3::Zero(), 0};
  set_regions(problem, {left, right}, [](const Vector3& x) { return x.x() < 1 ? 0 : 1; });
  const FlowNetwork network = flow_network(problem);
  CHECK(relative_error(conductance(network, 1, 4), 0.5 * 8e-12 + 0.5 * 2e-12) <= 1e-12);
  CHECK(relative_error(conductance(network, 2, 5), 0.5 * 2e-12) <= 1e-12);
  const double volume =
      std::accumulate(network.pore_volume.begin(), network.pore_volume.end(), 0.0);
  CHECK(relative_error(volume, 4e-3 * 0.8 + 2e-3 * 0.5) <= 1e-12);
}

TEST_CASE("network: three triangles at an edge all add to its conductance") {
  const double height = std::sqrt(0.75);
  const auto corner = [=](double angle) {
    return Vector3(0.5, height * std::cos(angle), height * std::sin(angle));
  };
  const ShellMesh mesh = mesh_of({{0, 0, 0}, {1, 0, 0}, corner(0), corner(2), corner(4)},
                                 {{{NodeId(0), NodeId(1), NodeId(2), NodeId()}},
                                  {{NodeId(1), NodeId(0), NodeId(3), NodeId()}},
                                  {{NodeId(0), NodeId(1), NodeId(4), NodeId()}}});
  const FlowNetwork network = flow_network(with_pressure(problem_on(mesh, {NodeId(0)})));
  const double half_cotangent = 0.5 / std::sqrt(3.0);
  CHECK(relative_error(conductance(network, 0, 1), 3 * half_cotangent * 8e-12) <= 1e-12);
  CHECK(relative_error(conductance(network, 0, 4), half_cotangent * 8e-12) <= 1e-12);
}

TEST_CASE("network: a linear pressure field has the energy h grad p . K grad p A") {
  // Holds exactly for linear elements, on any triangulation, as long as nothing was limited.
  for (const double degrees : {0.0, 30.0, 75.0}) {
    CAPTURE(degrees);
    FillProblem problem = with_pressure(problem_on(
        plate({.length = 1.5, .width = 1, .columns = 30, .rows = 20, .jitter = 0.25, .seed = 91}),
        {NodeId(0)}));
    problem.regions[0].permeability_2 = 1.5e-9; // mild, so that the plate's edges need no limit
    problem.regions[0].angle = degrees * pi / 180;
    const FlowNetwork network = flow_network(problem);
    REQUIRE(network.quality.limited == 0);
    const double s = std::sin(degrees * pi / 180);
    const double c = std::cos(degrees * pi / 180);
    const double k_xx = 2e-9 * c * c + 1.5e-9 * s * s;
    const double k_yy = 2e-9 * s * s + 1.5e-9 * c * c;
    const double k_xy = 0.5e-9 * s * c;
    const double g_x = 3;
    const double g_y = -2;
    PerNode<double> pressure;
    for (const Vector3& x : problem.mesh.positions) {
      pressure.push_back(7 + g_x * x.x() + g_y * x.y());
    }
    const double expected =
        4e-3 * 1.5 * (k_xx * g_x * g_x + 2 * k_xy * g_x * g_y + k_yy * g_y * g_y);
    CHECK(relative_error(energy(network, pressure), expected) <= 1e-10);
  }
}

TEST_CASE("network: what cannot be flipped is limited and said") {
  // An obtuse corner opposite to a free edge: 0-1 seen from 2 at about 157 degrees.
  const ShellMesh mesh = mesh_of({{0, 0, 0}, {1, 0, 0}, {0.5, 0.1, 0}},
                                 {{{NodeId(0), NodeId(1), NodeId(2), NodeId()}}});
  const FlowNetwork network = flow_network(with_pressure(problem_on(mesh, {NodeId(0)})));
  CHECK(conductance(network, 0, 1) == 0);
  CHECK(conductance(network, 0, 2) > 0);
  CHECK(network.quality.limited == 1);
  // Half cotangents: at the ends 5 / 2 each, at the tip (0.01 - 0.25) / 0.1 / 2 = -1.2.
  CHECK(relative_error(network.quality.limited_fraction, 1.2 / (1.2 + 2 * 2.5)) <= 1e-12);
}

TEST_CASE("network: one gate node of a regular lattice is a port of known radius") {
  // Where the port has just that radius no correction is needed. Square lattice of side l: l
  // e^-gamma / sqrt 8 = 0.198506 l (Peaceman 1978, SPE J. 18:183, value 0.1985064 seen in an
  // abstract); triangular: l e^-gamma / sqrt 12 = 0.162079 l (Atkinson and van Steenwijk 1999, Am.
  // J. Phys. 67:486, from memory; checked by a lattice solve).
  const auto factor = [](ShellMesh mesh, const Vector3& at, double radius) {
    const NodeId gate = nearest_node(mesh, at);
    FillProblem problem = with_pressure(problem_on(std::move(mesh), {gate}));
    const FlowNetwork plain = flow_network(problem);
    problem.gates[0].centre = problem.mesh.positions[gate];
    problem.gates[0].radius = radius;
    const FlowNetwork corrected = flow_network(problem);
    const std::size_t link = plain.first[gate.position()];
    return corrected.conductance[link] / plain.conductance[link];
  };
  const double square = factor(plate({.length = 1, .width = 1, .columns = 30, .rows = 30}),
                               {0.5, 0.5, 0}, 0.198506 / 30);
  CHECK(relative_error(square, 1) <= 0.01);
  const double triangular =
      factor(triangle_plate(1, 30), {0.5, std::sqrt(0.75) / 3, 0}, 0.162079 / 30);
  CHECK(relative_error(triangular, 1) <= 0.01);
}

TEST_CASE("system: a gate is one unknown, the rows add to zero, unreached nodes have none") {
  ShellMesh other = plate({.length = 1, .width = 1, .columns = 2, .rows = 2});
  deform(other, [](const Vector3& x) { return Vector3(x + Vector3(0, 5, 0)); });
  ShellMesh mesh = welded({plate({.length = 1, .width = 1, .columns = 8, .rows = 8}), other});
  FillProblem problem = with_pressure(problem_on(mesh, {NodeId(0), NodeId(1)}));
  problem.gates.push_back({"G2", {NodeId(40)}, Vector3::Zero(), std::nullopt});
  const FlowNetwork network = flow_network(problem);
  FlowSystem system = flow_system(network, problem.gates);
  CHECK(system.size() == 81 - 1);
  CHECK(system.unknown[NodeId(0)] == 0);
  CHECK(system.unknown[NodeId(1)] == 0);
  CHECK(system.unknown[NodeId(40)] == 1);
  const double first = network.pore_volume[NodeId(0)] + network.pore_volume[NodeId(1)];
  const double second = network.pore_volume[NodeId(40)];
  CHECK(relative_error(system.volume[0], first) <= 1e-14);
  CHECK(relative_error(system.volume[1], second) <= 1e-14);
  for (const NodeId node : problem.mesh.positions.ids()) {
    const bool is_apart = problem.mesh.positions[node].y() > 2;
    CHECK((system.unknown[node] == FlowSystem::unreachable) == is_apart);
  }
  const std::vector<double> ones(system.size(), 1.0);
  for (std::size_t i = 0; i < system.size(); ++i) {
    CHECK(relative_error(system.matrix.gathered(i, ones), system.matrix.diagonal[i]) <= 1e-14);
    for (auto k = system.matrix.first[i]; k < system.matrix.first[i + 1]; ++k) {
      const std::int32_t column = system.matrix.column[static_cast<std::size_t>(k)];
      CHECK(column != static_cast<std::int32_t>(i));
      CHECK((column > static_cast<std::int32_t>(i)) == (k >= system.matrix.upper[i]));
    }
  }
  // Gates tied to one pump: the first stands for both, the second has no row left.
  const double both = system.matrix.diagonal[0] + system.matrix.diagonal[1];
  const std::array<std::int32_t, 2> root{0, 0};
  tie_seats(system, network, root);
  CHECK(system.size() == 81 - 1);
  CHECK(system.unknown[NodeId(40)] == 0);
  CHECK(relative_error(system.volume[0], first + second) <= 1e-14);
  CHECK(relative_error(system.matrix.diagonal[0], both) <= 1e-14);
  CHECK(system.volume[1] == 0);
  CHECK(system.matrix.first[1] == system.matrix.first[2]);
  for (const std::int32_t column : system.matrix.column) {
    CHECK(column != 1);
  }
}
