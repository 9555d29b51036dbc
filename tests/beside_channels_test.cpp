// Narrow channels on coarse meshes: by hand, and the front in them against other computations.
#include "solver/beside_channels.hpp"

#include "mesh/triangulation.hpp"
#include "solver/channel.hpp"
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/sample_run.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numeric>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr double gap = 2e-3;
constexpr double drive = 5e4; // [Pa]
constexpr double viscosity = 0.2;
constexpr double porosity = 0.5;
constexpr double depth = 4e-3;

/// A strip of 1 m x 0.1 m in elements of 10 mm, fed at its corner, with a gap along the side from
/// there and a vent over its far end.
FillProblem strip_with_gap(double permeability, bool quads = false) {
  FillProblem problem = with_pressure(
      problem_on(plate({.length = 1, .width = 0.1, .columns = 100, .rows = 10, .quads = quads}),
                 {NodeId(0)}),
      drive);
  problem.regions = {{"laminate", depth, porosity, permeability, permeability, Vector3::Zero(), 0}};
  const auto side = nodes_where(problem.mesh, [](const Vector3& x) { return x.y() < 1e-9; });
  std::vector<std::array<NodeId, 2>> segments;
  for (const auto& edge : free_edges(problem.mesh)) {
    if (std::ranges::binary_search(side, edge[0]) && std::ranges::binary_search(side, edge[1])) {
      segments.push_back(edge);
    }
  }
  problem.channels = {race_track("gap", problem, segments, gap, std::nullopt)};
  problem.vents = {
      {"end", nodes_where(problem.mesh, [](const Vector3& x) { return x.x() > 1 - 1e-9; }), 0}};
  return problem;
}

/// When the front in a channel from a place at the drive's pressure reaches each of its cells, in
/// an integration of its own: the channel in cells, the laminate beside it with a sharp front at
/// depth y that goes sideways only, phi dy/dt = K p / (mu y).
std::vector<double> absorbed_channel(double permeability, std::size_t cells, double length) {
  const double dx = length / static_cast<double>(cells);
  const double link = slot_permeability(gap) * gap * depth / (viscosity * dx);
  const double room = gap * depth * dx;
  std::vector<double> y(cells, 1e-6);
  std::vector<double> times;
  double time = 0;
  for (std::size_t full = 1; full < cells; ++full) { // cell number `full` fills
    std::vector<double> next(y.begin(), y.begin() + static_cast<std::ptrdiff_t>(full));
    double duration = 0;
    for (int repeat = 0; repeat < 8; ++repeat) {
      // (A p)_i = sinks and links; elimination from the front to the inlet
      std::vector<double> upper(full);
      std::vector<double> p(full);
      for (std::size_t i = 0; i < full; ++i) {
        const double sink = permeability * depth * dx / (viscosity * 0.5 * (y[i] + next[i]));
        const double before = i == 0 ? 2 * link : link; // half a cell to the inlet
        const double carried = i == 0 ? 0 : link * upper[i - 1];
        const double given = i == 0 ? 2 * link * drive : link * p[i - 1];
        const double diagonal = before + link + sink - carried;
        upper[i] = link / diagonal;
        p[i] = given / diagonal;
      }
      for (std::size_t i = full - 1; i-- > 0;) {
        p[i] += upper[i] * p[i + 1];
      }
      duration = room / (link * p[full - 1]);
      for (std::size_t i = 0; i < full; ++i) {
        next[i] =
            std::sqrt(y[i] * y[i] + 2 * permeability * p[i] * duration / (viscosity * porosity));
      }
    }
    std::ranges::copy(next, y.begin());
    times.push_back(time += duration);
  }
  return times;
}

double time_at(const FillProblem& problem, const FillResult& result, double x) {
  return result.fill_time_field[nearest_node(problem.mesh, {x, 0, 0})];
}

double delay_of(FillProblem problem, const Channel& channel) {
  problem.channels = {channel};
  return delays_by_laminate(problem).front();
}

} // namespace

TEST_CASE("beside channels: laminate on one side, by hand") {
  FillProblem problem = sample_case().problem;
  // Below the square of 1 m: 0.75 * 4 mm * 0.5 m * 1 m = 1.5e-3 m3 beside 5e-3 m3 of gap.
  const Channel rim{"rim", {{NodeId(0), NodeId(1)}}, {5e-3}, {1e-6}};
  CHECK(delay_of(problem, rim) == doctest::Approx(1.3));
}

TEST_CASE("beside channels: laminate on both sides, a quadrilateral and a triangle, by hand") {
  FillProblem problem = sample_case().problem;
  // Besides the square a triangle 1 m high: 0.5 * 2 mm * 0.5 m * 1 m = 0.5e-3 m3 more.
  const Channel middle{"middle", {{NodeId(4), NodeId(1)}}, {5e-3}, {1e-6}};
  CHECK(delay_of(problem, middle) == doctest::Approx(1.4));
}

TEST_CASE("beside channels: a segment that is no edge of the mesh has nothing beside it") {
  const FillProblem problem = sample_case().problem;
  const Channel off{"off", {{NodeId(0), NodeId(4)}}, {5e-3}, {1e-6}};
  CHECK(delay_of(problem, off) == 1);
}

TEST_CASE("beside channels: rows of cells make the channel's own narrow, nothing is lost") {
  for (const bool quads : {false, true}) {
    CAPTURE(quads);
    const FillProblem problem = strip_with_gap(1e-10, quads);
    // 1 + 0.5 * 4 mm * 5 mm / (2 mm * 4 mm) = 2.25; two rows make it 1 + 1.25 / 9.
    CHECK(delays_by_laminate(problem)[0] == doctest::Approx(2.25));
    const auto refined = refined_beside_channels(problem);
    REQUIRE(refined);
    const FillProblem& fine = refined->problem;
    CHECK(refined->nodes == problem.mesh.positions.size());
    CHECK(refined->nodes + refined->stand_ins.size() == fine.mesh.positions.size());
    CHECK(std::ranges::all_of(refined->stand_ins,
                              [&](NodeId node) { return node.position() < refined->nodes; }));
    CHECK(relative_error(surface_area(fine.mesh), surface_area(problem.mesh)) <= 1e-12);
    const double left = delays_by_laminate(fine)[0];
    CHECK(left > 1.13);
    CHECK(left < 1.16); // beside the gate it is as coarse as it was
  }
}

TEST_CASE("beside channels: wide channels and parts without any are left alone") {
  FillProblem problem = strip_with_gap(1e-10);
  problem.channels[0].area.assign(problem.channels[0].area.size(), 7e-5); // f = 1.143
  CHECK_FALSE(refined_beside_channels(problem));
  problem.channels.clear();
  CHECK_FALSE(refined_beside_channels(problem));
}

TEST_CASE("beside channels: reinforcement and regions go with the elements") {
  FillProblem problem = strip_with_gap(1e-10);
  set_regions(problem, {problem.regions[0], {"other", 3e-3, 0.6, 2e-10, 1e-10, {1, 0, 0}, 0}},
              [](const Vector3& x) { return x.x() < 0.4 ? 0 : 1; });
  for (const ElementId id : problem.mesh.elements.ids()) {
    const double x = element_centre(problem.mesh, id).x();
    problem.reinforcement.push_back({1e-3 * (1 + x), 0.5, 1e-10, 1e-10, Vector3::Zero(), 0, 0.5});
  }
  const auto volume = [](const FillProblem& of) {
    double sum = 0;
    for (const ElementId id : of.mesh.elements.ids()) {
      sum += element_area(of.mesh, id) * reinforcement_at(of, id).thickness *
             (1 + of.element_region[id].value());
    }
    return sum;
  };
  const auto refined = refined_beside_channels(problem);
  REQUIRE(refined);
  CHECK(relative_error(volume(refined->problem), volume(problem)) <= 1e-12);
}

TEST_CASE("beside channels: a gap beside what hardly takes any resin fills as a slot alone") {
  // t = mu L^2 / (2 K_c dp), Poiseuille's flow with a front; 2.25 times that without finer cells.
  const FillProblem problem = strip_with_gap(1e-14);
  const FillResult result =
      checked_fill(problem, {.steps = 400, .time_limit = 20, .finer_channels = true});
  const double exact = viscosity * 0.8 * 0.8 / (2 * slot_permeability(gap) * drive);
  const double computed = time_at(problem, result, 0.8);
  CHECK(computed > exact);
  CHECK(computed < 1.2 * exact);
}

TEST_CASE("beside channels: the front runs ahead of what the laminate takes, as it should") {
  // Off by 10 to 90 % without finer cells.
  for (const double permeability : {1e-9, 1e-10, 1e-11}) {
    CAPTURE(permeability);
    const FillProblem problem = strip_with_gap(permeability);
    const FillResult result =
        checked_fill(problem, {.steps = 400, .time_limit = 40, .finer_channels = true});
    const std::vector<double> other = absorbed_channel(permeability, 400, 1);
    for (const double x : {0.2, 0.4}) {
      CAPTURE(x);
      const double expected = other[static_cast<std::size_t>(400 * x) - 1];
      CHECK(relative_error(time_at(problem, result, x), expected) <= 0.08);
    }
  }
}

TEST_CASE("beside channels: reports and results are those of the user's nodes") {
  const FillProblem problem = strip_with_gap(1e-9);
  const std::size_t nodes = problem.mesh.positions.size();
  int reports = 0;
  const FillResult result = fill(problem, {.finer_channels = true}, [&](const StepReport& report) {
    ++reports;
    CHECK(report.fill_fraction.size() == nodes);
    CHECK(report.pressure.size() == nodes);
    CHECK(report.fill_time.size() == nodes);
    CHECK(report.resin_age.empty());
    return true;
  });
  CHECK(reports == result.work.steps);
  CHECK(result.verdict == Verdict::filled);
  CHECK(result.fill_time_field.size() == nodes);
  CHECK(result.gate_index.size() == nodes);
  CHECK(result.temperature.empty());
  REQUIRE_FALSE(result.last_filled.empty());
  for (const LastFilled& place : result.last_filled) {
    CHECK(place.node.position() < nodes);
  }
  CHECK(result.network.limited == 0);
}
