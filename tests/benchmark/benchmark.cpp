// Fills a unit plate with a hole through a point gate at three sizes and prints speed and memory
// as ratios within the one run: the whole filling against one sparse Cholesky solve of the full
// network (analyse, factor and solve, by CHOLMOD), and a filling with hose, runner, race track,
// gravity, shut-in air, bleeding vents and a gate that opens on arrival against the plain one.
// Machines differ and are noisy; the ratio tells.

#include "mesh/surface_distance.hpp"
#include "solver/filling.hpp"
#include "solver/flow_system.hpp"
#include "solver/gate_ranking.hpp"
#include "tests/support/plate_with_hole.hpp"

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
  FillProblem problem = test::plate_with_hole(wanted);
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
  const FillProblem full = test::with_everything(std::move(problem));
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
