#include "tests/support/sample_run.hpp"

#include <limits>

namespace tidemark {

namespace {

FillProblem sample_problem() {
  const auto node = [](int i) { return NodeId(i); };
  FillProblem problem;
  ShellMesh& mesh = problem.mesh;
  mesh.positions = {Vector3(0, 0, 0), Vector3(1, 0, 0), Vector3(2, 0, 0),
                    Vector3(0, 1, 0), Vector3(1, 1, 0), Vector3(2, 1, 0)};
  mesh.elements = {Element{{node(0), node(1), node(4), node(3)}},
                   Element{{node(1), node(2), node(5), NodeId()}},
                   Element{{node(1), node(5), node(4), NodeId()}}};
  mesh.node_labels = {1, 2, 3, 4, 5, 6};
  mesh.element_labels = {1, 2, 3};
  problem.element_region = {RegionId(0), RegionId(1), RegionId(1)};
  problem.regions = {{"skin", 4e-3, 0.75, 3e-9, 1e-9, Vector3::UnitX(), 0},
                     {"core", 2e-3, 0.5, 1e-9, 5e-10, Vector3::UnitY(), 0}};
  problem.resin = {0.2, 1100.0, 1500.0};
  problem.injector = {2.5e-5, 1.2e5};
  problem.gates = {{"G1", {node(0), node(3)}, Vector3::Zero(), std::nullopt}};
  problem.vents = {{"V1", {node(5)}, -5e4}};
  problem.cavity_pressure = -5e4;
  problem.ambient = 101325;
  return problem;
}

} // namespace

Case sample_case() {
  Case input;
  input.title = "Sample plate";
  input.file = "plate.toml";
  input.mesh_file = "plate.msh";
  input.mesh_unit = 1e-3;
  input.mesh_unit_name = "mm";
  input.problem = sample_problem();
  input.values = {{"resin.viscosity", "200 mPa.s", true}, {"ambient", "1013.25 hPa", false}};
  return input;
}

FillResult sample_result() {
  FillResult result;
  result.verdict = Verdict::filled;
  result.fill_time = 600;
  result.end_time = 600;
  result.filled_fraction = 1;
  result.pore_volume = 4e-3;
  result.injected = 4e-3;
  result.resin_in_part = 4e-3;
  result.mass_balance_error = 2e-12;
  result.peak_head_pressure = 1.2e5;
  result.time_at_cap = 400;
  result.time_cap_reached = 200;
  result.gates = {{"G1", 4e-3, 1.2e5, 0, 600}};
  result.vents = {{"V1", 599.0, 0}};
  result.last_filled = {{NodeId(5), 600, RegionId(1)}};
  result.regions = {{"skin", 1, 3e-3}, {"core", 1, 1e-3}};
  result.area = 2;
  result.history = {{100, 0.25, 2.5e-5, 1e5, {{2.5e-5, 1e5}}, {0}},
                    {300, 0.75, 1e-5, 1.2e5, {{1e-5, 1.2e5}}, {0}},
                    {600, 1, 1.0 / 3, 1.2e5, {{1.0 / 3, 1.2e5}}, {1e-7}}};
  result.fill_time_field = {0, 100, 400, 0, 100, 600};
  result.pressure = {1e5, 6e4, 2e4, 1e5, 6e4, 2e4};
  result.fill_fraction = {1, 1, 1, 1, 1, 1};
  result.gate_index = {0, 0, 0, 0, 0, 0};
  result.network = {9, 1, 0, 0};
  result.work = {3, 5, 40, 1e-11};
  return result;
}

FillResult short_result() {
  FillResult result = sample_result();
  result.verdict = Verdict::short_fill;
  result.reason = ShortReason::gel;
  result.fill_time = std::nullopt;
  result.end_time = 400;
  result.filled_fraction = 0.8375;
  result.injected = 3.35e-3;
  result.resin_in_part = 3.35e-3;
  result.vents = {{"V1", std::nullopt, 0}};
  result.last_filled = {{NodeId(2), 400, RegionId(1)}};
  result.dry_spots = {{Vector3(2, 1, 0), 6.5e-4, -5e4, RegionId(1)}};
  result.history.back().time = 400;
  result.history.back().filled_fraction = 0.8375;
  result.fill_time_field[NodeId(5)] = std::numeric_limits<double>::quiet_NaN();
  result.fill_fraction[NodeId(5)] = 0.25;
  result.gate_index[NodeId(5)] = -1;
  return result;
}

FillResult trapped_air_result() {
  FillResult result = short_result();
  result.reason = ShortReason::trapped_air;
  DrySpot& spot = result.dry_spots[0];
  spot.is_sealed = true;
  spot.sealed_at = 200;
  spot.air_pressure = 8e4;
  spot.halving_pressure = 2 * (8e4 + 101325) - 101325; // half the volume, twice the absolute
  result.history.back().shut_in_air = 6.5e-4;
  return result;
}

MouldLoad sample_mould_load() {
  RestingPush at_rest;
  at_rest.projected_area = 2;
  return {3000, 300, 2500, 1.1e5, at_rest, 4000, std::nullopt, std::nullopt};
}

Case case_that_varies() {
  Case input = sample_case();
  const Reinforcement skin = reinforcement_at(input.problem, ElementId(0));
  Reinforcement thin = reinforcement_at(input.problem, ElementId(1));
  Reinforcement thick = thin;
  thin.thickness = 1e-3;
  thin.fibre_volume_fraction = 0.6;
  thick.thickness = 3e-3;
  thick.fibre_volume_fraction = 0.4;
  thick.shear = -0.5;
  input.problem.reinforcement = {skin, thin, thick};
  return input;
}

} // namespace tidemark
