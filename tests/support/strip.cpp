#include "tests/support/strip.hpp"

#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace tidemark::test {

FillProblem strip(const StripShape& shape) {
  ShellMesh mesh =
      plate({.length = shape.to - shape.from, .width = 0.3, .columns = shape.cells, .rows = 1});
  deform(mesh, [&](const Vector3& x) { return Vector3(x + Vector3(shape.from, 0, 0)); });
  std::vector<NodeId> gate = across(mesh, shape.gate_at);
  return with_pressure(problem_on(std::move(mesh), std::move(gate)));
}

std::vector<NodeId> across(const ShellMesh& mesh, double x) {
  auto nodes = nodes_where(mesh, [&](const Vector3& at) { return std::abs(at.x() - x) < 1e-9; });
  REQUIRE(!nodes.empty());
  return nodes;
}

Gate& add_gate(FillProblem& problem, double x) {
  return problem.gates.emplace_back(Gate{"G" + std::to_string(problem.gates.size() + 1),
                                         across(problem.mesh, x), Vector3::Zero(), std::nullopt});
}

Vent& add_vent(FillProblem& problem, double x, double pressure) {
  return problem.vents.emplace_back(
      Vent{"V" + std::to_string(problem.vents.size() + 1), across(problem.mesh, x), pressure});
}

double time_across(const FillProblem& problem, const FillResult& result, double x) {
  const std::vector<NodeId> nodes = across(problem.mesh, x);
  const double time = result.fill_time_field[nodes.front()];
  for (const NodeId node : nodes) {
    CHECK(std::abs(result.fill_time_field[node] - time) <= 1e-3 * std::abs(time));
  }
  return time;
}

const HistoryRow& row_at(const FillResult& result, double time) {
  const auto row =
      std::ranges::find_if(result.history, [&](const HistoryRow& r) { return r.time >= time; });
  REQUIRE(row != result.history.end());
  return *row;
}

} // namespace tidemark::test
