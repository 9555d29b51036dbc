#include "tests/support/plate_with_hole.hpp"

#include "solver/channel.hpp"
#include "tests/support/meshes.hpp"

#include <array>
#include <cmath>
#include <numbers>
#include <random>
#include <utility>
#include <vector>

namespace tidemark::test {

namespace {

ShellMesh mesh_of_plate(int triangles) {
  const int radial = static_cast<int>(std::sqrt(triangles / 12.0));
  const int around = 6 * radial;
  std::mt19937 random(7);
  const auto shift = [&] { return (static_cast<double>(random() % 20001) / 10000 - 1) * 0.2; };
  std::vector<Vector3> positions;
  for (int i = 0; i <= radial; ++i) {
    for (int k = 0; k < around; ++k) {
      const bool inner = i > 0 && i < radial;
      const double s = (i + (inner ? shift() : 0)) / radial;
      const double angle = 2 * std::numbers::pi * (k + (inner ? shift() : 0)) / around;
      const Vector3 way(std::cos(angle), std::sin(angle), 0);
      const double to_square = 0.5 / way.cwiseAbs().maxCoeff();
      positions.push_back(Vector3(0.5, 0.5, 0) + way * ((1 - s) * 0.15 + s * to_square));
    }
  }
  std::vector<Element> elements;
  for (int i = 0; i < radial; ++i) {
    for (int k = 0; k < around; ++k) {
      const NodeId a(i * around + k);
      const NodeId b(i * around + (k + 1) % around);
      const NodeId c(b.value() + around);
      const NodeId d(a.value() + around);
      const bool first = random() % 2 == 0;
      elements.push_back(first ? Element{{a, d, c, NodeId()}} : Element{{a, d, b, NodeId()}});
      elements.push_back(first ? Element{{a, c, b, NodeId()}} : Element{{b, d, c, NodeId()}});
    }
  }
  return mesh_of(std::move(positions), std::move(elements));
}

} // namespace

FillProblem plate_with_hole(int triangles) {
  ShellMesh mesh = mesh_of_plate(triangles);
  const Vector3 gate_at(0.2, 0.2, 0);
  std::vector<NodeId> gate = nodes_within(mesh, gate_at, 0.01);
  if (gate.empty()) {
    gate.push_back(nearest_node(mesh, gate_at));
  }
  FillProblem problem = with_pressure(problem_on(std::move(mesh), std::move(gate)));
  problem.gates[0].centre = gate_at;
  problem.gates[0].radius = 0.01;
  return problem;
}

FillProblem with_everything(FillProblem problem) {
  const auto node_at = [&](double x, double y) {
    return nearest_node(problem.mesh, Vector3(x, y, 0));
  };
  problem.injector.flow_rate = 5e-6;
  problem.injector.line = {{2, 8e-3}};
  problem.gates.push_back({"G2", {node_at(0.8, 0.25)}, Vector3::Zero(), std::nullopt});
  problem.gates.back().opens.reached = PortRef{PortRef::Kind::gate, 1};
  problem.vents = {{"V1", {node_at(1, 1)}, -5e4}, {"V2", {node_at(0, 1)}, -5e4}};
  problem.vents.back().bleed = 5e-5;
  problem.cavity_pressure = -5e4;
  problem.sealed_air = true;
  const std::array<NodeId, 2> ends{problem.gates[0].nodes.front(), node_at(0.2, 0.8)};
  problem.channels.push_back(
      runner("R1", edge_path(problem.mesh, ends), 6e-3 * 4e-3, rectangle_permeability(6e-3, 4e-3)));
  problem.channels.push_back(
      race_track("edges", problem, free_edges(problem.mesh), 2e-3, std::nullopt));
  problem.resin.density = 1100;
  problem.gravity = Vector3(0, -9.80665, 0);
  problem.mould = Mould{Vector3::UnitZ(), 2e4};
  return problem;
}

} // namespace tidemark::test
