// What holds for the network and the filling of every mesh, at every length scale.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/fleet.hpp"
#include "tests/support/meshes.hpp"

#include "mesh/triangulation.hpp"
#include "solver/element_permeability.hpp"
#include "solver/flow_network.hpp"
#include "solver/flow_system.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numeric>

using namespace tidemark;
using namespace tidemark::test;

namespace {

double conductance(const FlowNetwork& network, NodeId from, NodeId to) {
  for (std::size_t k = network.first[from.position()]; k < network.first[from.position() + 1];
       ++k) {
    if (network.neighbour[k] == to) {
      return network.conductance[k];
    }
  }
  return 0;
}

void check_areas(const FillProblem& problem, const FlowNetwork& network) {
  const auto& positions = problem.mesh.positions;
  const Triangulation triangulation = triangulate(problem.mesh);
  double area = 0;
  double volume = 0;
  for (const ElementId id : problem.mesh.elements.ids()) {
    const Region& region = problem.regions[problem.element_region[id].position()];
    area += element_area(problem.mesh, id);
    volume += element_area(problem.mesh, id) * region.thickness * region.porosity;
  }
  double of_triangles = 0;
  for (const auto& [a, b, c] : triangulation.corners) {
    of_triangles += area_vector(positions[a], positions[b], positions[c]).norm();
  }
  CHECK(relative_error(of_triangles, area) <= 1e-12);
  const double of_nodes =
      std::accumulate(network.pore_volume.begin(), network.pore_volume.end(), 0.0);
  CHECK(relative_error(of_nodes, volume) <= 1e-12);
  CHECK(std::ranges::all_of(network.pore_volume, [](double v) { return v > 0; }));
}

void check_links(const FlowNetwork& network) {
  bool is_symmetric = true;
  bool is_positive = true;
  bool is_ordered = true;
  for (const NodeId node : network.pore_volume.ids()) {
    for (std::size_t k = network.first[node.position()]; k < network.first[node.position() + 1];
         ++k) {
      const NodeId other = network.neighbour[k];
      is_positive = is_positive && network.conductance[k] > 0;
      is_symmetric = is_symmetric && conductance(network, other, node) == network.conductance[k];
      is_ordered = is_ordered && other != node &&
                   (k == network.first[node.position()] || network.neighbour[k - 1] < other);
    }
  }
  CHECK(is_symmetric);
  CHECK(is_positive);
  CHECK(is_ordered);
}

/// Zero row sums: a constant pressure drives no flow.
void check_constant_pressure(const FlowSystem& system) {
  const std::vector<double> constant(system.size(), 1.0);
  double worst = 0;
  for (std::size_t i = 0; i < system.size(); ++i) {
    const double flux = system.matrix.diagonal[i] - system.matrix.gathered(i, constant);
    worst = std::max(worst, std::abs(flux) / system.matrix.diagonal[i]);
  }
  CHECK(worst <= 1e-14);
}

void check_velocity_of_constant_pressure(const FillProblem& problem) {
  const PerNode<double> pressure(problem.mesh.positions.size(), 1e5);
  double fastest = 0;
  for (const Vector3& velocity : darcy_velocity(problem, pressure)) {
    fastest = std::max(fastest, velocity.norm());
  }
  const double size = std::sqrt(element_area(problem.mesh, ElementId(0)));
  CHECK(fastest <= 1e-12 * 1e5 * 2e-9 / (0.2 * size));
}

} // namespace

TEST_CASE("Identities of network and filling on every mesh, at length scales 1e-3, 1 and 1e3") {
  for (const double scale : {1e-3, 1.0, 1e3}) {
    for (const FleetProblem& item : fleet(scale)) {
      CAPTURE(scale);
      CAPTURE(item.name);
      const FillProblem& problem = item.problem;
      const FlowNetwork network = flow_network(problem);
      check_areas(problem, network);
      check_links(network);
      check_constant_pressure(flow_system(network, problem.gates));
      check_velocity_of_constant_pressure(problem);
      CHECK(network.quality.limited_fraction <= 0.02);
      // checked_fill: 0 <= F <= 1, injected = resident + bled.
      const CheckedFill by_pressure = checked_fill(problem);
      CHECK(by_pressure.verdict == Verdict::filled);
      CHECK(relative_error(by_pressure.injected, by_pressure.pore_volume) <= 1e-9);
      CHECK(relative_error(by_pressure.resin_in_part, by_pressure.pore_volume) <= 1e-9);
      const CheckedFill by_flow = checked_fill(with_flow(problem, by_pressure.pore_volume / 300));
      CHECK(relative_error(by_flow.fill_time.value_or(0), 300) <= 1e-9);
    }
  }
}

TEST_CASE("Fill times on every mesh go with the square of the length") {
  const std::vector<FleetProblem> small = fleet(1e-3);
  const std::vector<FleetProblem> large = fleet(1e3);
  for (std::size_t i = 0; i < small.size(); ++i) {
    CAPTURE(small[i].name);
    const double time = fill(small[i].problem).fill_time.value_or(0);
    CHECK(relative_error(fill(large[i].problem).fill_time.value_or(0), 1e12 * time) <= 1e-8);
  }
}
