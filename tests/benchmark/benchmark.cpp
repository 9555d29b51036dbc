// Fills a unit plate with a hole through a point gate at three sizes and prints speed and memory
// as ratios within the one run: the whole filling against one sparse Cholesky solve of the full
// network (analyse, factor and solve, by CHOLMOD), and a filling with hose, runner, race track,
// gravity, shut-in air, bleeding vents and a gate that opens on arrival against the plain one.
// Machines differ and are noisy; the ratio tells.

#include "mesh/surface_distance.hpp"
#include "solver/channel.hpp"
#include "solver/filling.hpp"
#include "solver/flow_system.hpp"
#include "solver/gate_ranking.hpp"
#include "tests/support/meshes.hpp"

#include <Eigen/CholmodSupport>
#include <Eigen/SparseCore>

#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <numbers>
#include <random>

namespace {

using namespace tidemark;

double seconds() {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

double peak_megabytes() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024;
}

/// A unit square with a hole of radius 0.15 m in its middle, nodes shifted and diagonals drawn at
/// random, about the given number of triangles.
ShellMesh plate_with_hole(int triangles) {
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
  return test::mesh_of(std::move(positions), std::move(elements));
}

/// Analyse, factor and solve on the whole network with the head held, as the completion step does.
double cholesky_seconds(const FillProblem& problem) {
  const FlowSystem system = flow_system(flow_network(problem), problem.gates);
  std::vector<Eigen::Triplet<double, int>> entries;
  for (std::size_t i = 1; i < system.size(); ++i) {
    const int row = static_cast<int>(i) - 1;
    entries.emplace_back(row, row, system.matrix.diagonal[i]);
    for (std::int32_t k = system.matrix.first[i]; k < system.matrix.first[i + 1]; ++k) {
      const int column = system.matrix.column[static_cast<std::size_t>(k)] - 1;
      if (column >= 0) {
        entries.emplace_back(row, column, -system.matrix.link[static_cast<std::size_t>(k)]);
      }
    }
  }
  const auto size = static_cast<Eigen::Index>(system.size() - 1);
  Eigen::SparseMatrix<double, Eigen::ColMajor, int> matrix(size, size);
  matrix.setFromTriplets(entries.begin(), entries.end());
  const Eigen::VectorXd storage = Eigen::Map<const Eigen::VectorXd>(system.volume.data() + 1, size);
  std::vector<double> times;
  for (int repeat = 0; repeat < 3; ++repeat) {
    const double begin = seconds();
    Eigen::CholmodDecomposition<Eigen::SparseMatrix<double>> solver(matrix);
    const Eigen::VectorXd w = solver.solve(storage);
    times.push_back(w.size() > 0 ? seconds() - begin : 0);
  }
  return *std::ranges::min_element(times);
}

/// The same part with all that the shop adds.
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

/// A thousand places ranked against direct solves of the whole network with the gate held, one of
/// which each place would take otherwise.
void rank_places(const FillProblem& problem) {
  std::vector<double> direct;
  for (int repeat = 0; repeat < 3; ++repeat) {
    const double begin = seconds();
    const bool is_sound = layout_time(problem).largest_w > 0;
    direct.push_back(is_sound ? seconds() - begin : 0);
  }
  const double one = *std::ranges::min_element(direct);
  const double begin = seconds();
  const FactoredPart part = factored_part(problem);
  const double factored = seconds() - begin;
  const auto places = spread_out(problem.mesh, part.nodes, 0, 1000);
  double best = 0;
  for (const NodeId place : places) {
    const GateSite site = gate_site(problem, part, gate_at(problem, place, 0.01));
    const double w = ranked_gate(part, site, {}).time.largest_w;
    best = best == 0 ? w : std::min(best, w);
  }
  const double all = seconds() - begin;
  std::printf(
      "   %zu places ranked in %.2f s (of which %.2f s to factorise), as long as %.1f direct "
      "solves of %.3f s; by direct solves it would be %.0f times as long\n",
      places.size(), all, factored, all / one, one, static_cast<double>(places.size()) * one / all);
  std::fflush(stdout);
}

struct Row {
  double triangles, wall, all;
};

Row run(int wanted) {
  ShellMesh mesh = plate_with_hole(wanted);
  const Vector3 gate_at(0.2, 0.2, 0);
  std::vector<NodeId> gate = nodes_within(mesh, gate_at, 0.01);
  if (gate.empty()) {
    gate.push_back(nearest_node(mesh, gate_at));
  }
  FillProblem problem = test::with_pressure(test::problem_on(std::move(mesh), std::move(gate)));
  problem.gates[0].centre = gate_at;
  problem.gates[0].radius = 0.01;
  const auto triangles = static_cast<double>(problem.mesh.elements.size());
  const double before = peak_megabytes();
  const double begin = seconds();
  const FillResult result = fill(problem);
  const double wall = seconds() - begin;
  const double peak = peak_megabytes();
  const double cholesky = cholesky_seconds(problem);
  std::printf("%9.0f  %5d  %6d  %10ld  %8.2f  %7.0f  %9.2f  %10.3f  %7.1f\n", triangles,
              result.work.steps, result.work.linear_solves, result.work.linear_iterations, wall,
              peak, (peak - before) * 1024 / triangles, cholesky, wall / cholesky);
  std::fflush(stdout);
  rank_places(problem);
  const FillProblem full = with_everything(std::move(problem));
  const double full_begin = seconds();
  const FillResult all = fill(full);
  const double full_wall = seconds() - full_begin;
  std::printf("   with everything on: %5d  %6d  %10ld  %8.2f s, %.2f of it filled in %.0f s, ratio "
              "to the plain filling %.2f, per step %.2f\n",
              all.work.steps, all.work.linear_solves, all.work.linear_iterations, full_wall,
              all.filled_fraction, all.end_time, full_wall / wall,
              full_wall / wall * result.work.steps / all.work.steps);
  std::fflush(stdout);
  return {triangles, wall, full_wall};
}

/// Each size in a process of its own, so that the peak memory is its own.
Row run_apart(int wanted) {
  int ends[2];
  if (pipe(ends) != 0) {
    std::perror("pipe");
    std::exit(3);
  }
  const pid_t child = fork();
  if (child == 0) {
    const Row row = run(wanted);
    _exit(write(ends[1], &row, sizeof row) == sizeof row ? 0 : 1);
  }
  Row row{};
  int status = 0;
  waitpid(child, &status, 0);
  if (status != 0 || read(ends[0], &row, sizeof row) != sizeof row) {
    std::fprintf(stderr, "the run at %d triangles failed\n", wanted);
    std::exit(3);
  }
  close(ends[0]);
  close(ends[1]);
  return row;
}

} // namespace

int main(int argc, char** argv) {
  std::vector<int> sizes{20000, 85000, 340000};
  if (argc > 1) {
    sizes.clear();
    std::transform(argv + 1, argv + argc, std::back_inserter(sizes),
                   [](char* text) { return std::atoi(text); });
  }
  std::printf(
      "Plate with a hole, point gate of 10 mm radius, constant pressure, steps of 1 %% of the "
      "volume\n"
      "triangles  steps  solves  iterations    wall s  peak MB  kB/triang  Cholesky s   ratio\n");
  std::fflush(stdout);
  std::vector<Row> rows;
  std::ranges::transform(sizes, std::back_inserter(rows), run_apart);
  std::printf("ratio = wall time of the whole filling / one full-network Cholesky solve (analyse, "
              "factor, solve)\n"
              "kB/triang = peak memory of the filling beyond the mesh itself, per triangle\n");
  for (std::size_t i = 1; i < rows.size(); ++i) {
    std::printf("growth exponent of wall time, %.0f to %.0f triangles: %.2f\n",
                rows[i - 1].triangles, rows[i].triangles,
                std::log(rows[i].wall / rows[i - 1].wall) /
                    std::log(rows[i].triangles / rows[i - 1].triangles));
  }
  return 0;
}
