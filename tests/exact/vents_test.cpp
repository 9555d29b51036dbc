// Vents one by one on a strip that is fed at x = 0 and runs to -1 m and to 2 m. Held at a pressure,
// the two arms know nothing of each other: the short one is full after 400 s, the long one after
// 1600 s, and an open vent at the short end lets out K A dp / (mu L) = 1.2e-6 m3/s in between.
// Worked out by hand from Darcy's law.
#include "solver/shared_hose.hpp"
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <limits>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr double open_for_ever = std::numeric_limits<double>::infinity();

FillProblem two_arms(double bleed) {
  FillProblem problem = strip({.from = -1, .to = 2, .cells = 300});
  add_vent(problem, -1).bleed = bleed;
  return problem;
}

void check_filled_and_bled(const FillResult& result, double bled, double tolerance) {
  CHECK(result.verdict == Verdict::filled);
  CHECK(relative_error(result.fill_time.value_or(0), 1600) <= 1e-3);
  CHECK(relative_error(result.vents[0].bled, bled) <= tolerance);
  CHECK(relative_error(result.injected, 3 * 9.6e-4 + result.vents[0].bled) <= 1e-9);
}

/// Mean flow out of the first vent between two times of the history [m3/s].
double bleed_rate(const FillResult& result, double from, double to) {
  const HistoryRow& begin = row_at(result, from);
  const HistoryRow& end = row_at(result, to);
  return (end.vent_bleed[0] - begin.vent_bleed[0]) / (end.time - begin.time);
}

} // namespace

TEST_CASE("Vents: one that closes on arrival lets no resin out") {
  const FillResult result = watched_fill(two_arms(0));
  CHECK(result.fill_time);
  CHECK(relative_error(result.fill_time.value_or(0), 1600) <= 1e-3);
  CHECK(result.bled == 0);
  CHECK(relative_error(result.injected, 3 * 9.6e-4) <= 1e-9);
  for (const HistoryRow& row : result.history) {
    CHECK(row.vent_bleed[0] == 0);
  }
}

TEST_CASE("Vents: the front is at a vent across the strip by x^2 = 2 D t") {
  for (const double at : {0.3, 0.6, 0.9}) {
    FillProblem problem = strip({.cells = 400});
    add_vent(problem, at);
    const FillResult result = watched_fill(problem);
    CHECK(relative_error(result.vents[0].reached_at.value_or(0), 400 * at * at) <= 5e-3);
  }
}

TEST_CASE("Vents: one that never closes bleeds 1.2e-6 m3/s, 1.44e-3 m3 in all") {
  const FillResult result = watched_fill(two_arms(open_for_ever));
  check_filled_and_bled(result, 1.44e-3, 5e-3);
  CHECK(relative_error(bleed_rate(result, 500, 1000), 1.2e-6) <= 1e-5);
  CHECK(relative_error(bleed_rate(result, 1000, 1500), 1.2e-6) <= 1e-5);
  CHECK(row_at(result, 350).vent_bleed[0] == 0);
}

TEST_CASE("Vents: one that closes after 3e-4 m3 does so to the drop, 250 s after the front") {
  const FillResult result = watched_fill(two_arms(3e-4));
  check_filled_and_bled(result, 3e-4, 1e-9);
  CHECK(relative_error(bleed_rate(result, 450, 600), 1.2e-6) <= 1e-5);
  CHECK(row_at(result, 620).vent_bleed[0] < 3e-4);
  CHECK(relative_error(row_at(result, 655).vent_bleed[0], 3e-4) <= 1e-9);
}

TEST_CASE("Vents: one at the gate, which lets out all from the first step on, ends the run") {
  FillProblem problem = with_pressure(strip({.from = 0, .to = 1, .cells = 100}), 1e5);
  problem.vents = {{"V", problem.gates[0].nodes, 0}};
  problem.vents[0].bleed = 1e-9;
  const FillResult result = fill(problem);
  CHECK(result.end_time > 0);
  CHECK(std::isfinite(result.end_time));
}

TEST_CASE("Vents: a hose behind the vent slows the bleed as 0.0477 m more of the strip would") {
  // 128 l / (pi d^4) for 2 m of 8 mm is 1.98943679e10 1/m3, or x_e = R K A = 0.0477464829 m:
  // 1.2e-6 / 1.0477464829 = 1.14531524e-6 m3/s. It slows the resin only, not the air.
  FillProblem problem = two_arms(open_for_ever);
  problem.vents[0].line = {{.length = 2, .bore = 8e-3}};
  const FillResult result = watched_fill(problem);
  check_filled_and_bled(result, 1200 * 1.14531524e-6, 5e-3);
  CHECK(relative_error(bleed_rate(result, 500, 1500), 1.14531524e-6) <= 1e-5);
  // Two lengths one after the other: twice x_e.
  problem.vents[0].line.push_back({.length = 2, .bore = 8e-3});
  CHECK(relative_error(bleed_rate(watched_fill(problem), 500, 1500), 1.2e-6 / 1.0954929658) <=
        1e-5);
}

TEST_CASE("Vents: a vent along two unequal lanes has one hose behind it, at one pressure") {
  // Lanes of 0.5 m x 0.1 m x 4 mm with 2e-9 and 2e-10 m2: mu L / (K A) = 6.25e10 and 6.25e11 Pa
  // s/m3, 5.6818182e10 together; 2 m of 4 mm: 128 mu l / (pi d^4) = 3.1830989e10. Worked out by
  // hand.
  FillProblem problem = with_pressure(
      problem_on(plate({.length = 0.5, .width = 0.2, .columns = 50, .rows = 20}), {}));
  problem.gates[0].nodes = nodes_where(problem.mesh, [](const Vector3& p) { return p.x() < 1e-9; });
  problem.vents = {
      {"end", nodes_where(problem.mesh, [](const Vector3& p) { return p.x() > 0.5 - 1e-9; }), 0}};
  problem.vents[0].line = {{2, 4e-3}};
  problem.vents[0].bleed = 1e-3;
  problem.resin.viscosity = 0.1;
  const Region open{"open", 4e-3, 0.5, 2e-9, 2e-9, Vector3::Zero(), 0};
  Region tight = open;
  tight.permeability_1 = tight.permeability_2 = 2e-10;
  set_regions(problem, {open, tight}, [](const Vector3& p) { return p.y() > 0.1 ? 1 : 0; });
  const FillResult result = watched_fill(problem);
  REQUIRE(result.bleeding);
  CHECK(result.bleeding->ended_at);
  const double flow = 1e5 / (5.6818182e10 + 3.1830989e10);
  CHECK(relative_error(result.history.back().flow_rate, flow) <= 3e-4);
  const auto [lowest, highest] = std::ranges::minmax(
      problem.vents[0].nodes, {}, [&](NodeId node) { return result.pressure[node]; });
  const double behind = flow * 3.1830989e10;
  // The field is that of the full part's first moment: the tight lane has just filled.
  CHECK(relative_error(result.pressure[lowest], behind) <= 0.03);
  CHECK(relative_error(result.pressure[highest], behind) <= 0.03);
}

TEST_CASE("Vents: one node of a vent full, the resin there has the whole hose") {
  SharedHose hose(4);
  hose.open({});
  hose.open(std::array<std::size_t, 1>{2});
  CHECK(hose.part(2) == 1);
  CHECK(hose.fit(std::array<double, 4>{0, 0, 3, 0}) == 0);
  hose.open(std::array<std::size_t, 2>{1, 2});
  CHECK(hose.part(1) == 0.5);
  CHECK(hose.part(2) == 0.5);
  CHECK(hose.fit(std::array<double, 4>{0, 1, 3, 0}) == doctest::Approx(0.5));
  CHECK(hose.part(1) == doctest::Approx(0.25));
  CHECK(hose.part(2) == doctest::Approx(0.75));
  CHECK(hose.fit(std::array<double, 4>{0, 0, 0, 0}) == 0);
  CHECK(hose.part(2) == doctest::Approx(0.75));
}

TEST_CASE("Vents: the pressure at the vent drives the front and the bleed") {
  // -0.5 bar at the vent and 0.5 bar at the gate: 1 bar to one side. The long arm has no vent: at
  // -0.5 bar as well, where the air of the cavity starts.
  FillProblem problem = with_pressure(two_arms(open_for_ever), 0.5e5);
  problem.vents[0].pressure = -0.5e5;
  problem.cavity_pressure = -0.5e5;
  const FillResult result = watched_fill(problem);
  check_filled_and_bled(result, 1.44e-3, 5e-3);
  CHECK(relative_error(bleed_rate(result, 500, 1500), 1.2e-6) <= 1e-5);
}

TEST_CASE("Vents: two at different pressures, each arm at that of its own") {
  // From 1 bar at the gate: 1 bar of drive to the right, 1.5 bar to the left, t = L^2 / (2 D)
  // times 1 and 2/3. At 0.9 m: 324 s and 216 s.
  FillProblem problem = strip({.from = -1, .to = 1, .cells = 400});
  add_vent(problem, -1, -0.5e5);
  add_vent(problem, 1, 0);
  for (const bool sealed_air : {false, true}) {
    problem.sealed_air = sealed_air;
    const FillResult result = watched_fill(problem);
    CHECK(relative_error(result.fill_time.value_or(0), 400) <= 1e-3);
    CHECK(relative_error(time_across(problem, result, 0.9), 324) <= 5e-3);
    CHECK(relative_error(time_across(problem, result, -0.9), 216) <= 5e-3);
  }
}

TEST_CASE("Vents: behind an open vent nothing fills, all that comes in leaves") {
  // Beyond the vent at 1 m the strip stays dry, since the resin has no pressure there. The cells at
  // the vent are full to 1.005 m; it lets resin out from the step on in which they are.
  FillProblem problem = strip({.to = 1.2, .cells = 120});
  add_vent(problem, 1).bleed = open_for_ever;
  const FillResult result = watched_fill(problem, {.steps = 400});
  CHECK(result.verdict == Verdict::short_fill);
  CHECK(result.reason == ShortReason::pressure);
  CHECK(relative_error(result.resin_in_part, 1.005 * 9.6e-4) <= 5e-3);
  CHECK(relative_error(result.history.back().flow_rate, 1.2e-6) <= 1e-5);
  CHECK(relative_error(result.vents[0].reached_at.value_or(0), 400) <= 5e-3);
  REQUIRE(result.dry_spots.size() == 1);
  CHECK(relative_error(result.dry_spots[0].volume + result.resin_in_part, 1.2 * 9.6e-4) <= 1e-9);
  CHECK_FALSE(result.dry_spots[0].is_sealed);
}

TEST_CASE(
    "Vents: one that closes after a little resin neither ends the filling nor lets out more") {
  for (const int steps : {50, 100, 400}) {
    for (const double bleed : {1e-5, 1e-4}) {
      const FillResult result = fill(two_arms(bleed), {.steps = steps});
      CHECK(result.verdict == Verdict::filled);
      CHECK(relative_error(result.vents[0].bled, bleed) <= 1e-4);
      CHECK(relative_error(result.vents[0].reached_at.value_or(0), 400) <= 4e-2);
    }
  }
}

TEST_CASE("Vents: at a set flow, too, closing takes no thousands of steps") {
  FillProblem problem = two_arms(3e-4);
  problem.injector = {4e-6, std::nullopt};
  const FillResult result = fill(problem, {.steps = 50});
  CHECK(result.verdict == Verdict::filled);
  CHECK(result.work.steps < 500);
  CHECK(relative_error(result.vents[0].bled, 3e-4) <= 1e-4);
}

TEST_CASE("Vents: the moment one is reached is known to a part of a step, for few steps more") {
  // At a set flow the front is at half the length after half the fill time; the cell there is full
  // when the front leaves it, half a cell later.
  for (const int steps : {50, 100}) {
    FillProblem problem = strip({.cells = 400});
    problem.injector = {4e-6, std::nullopt};
    const FillResult without = fill(problem, {.steps = steps});
    add_vent(problem, 0.5).bleed = 1e-5;
    const FillResult result = fill(problem, {.steps = steps});
    const double exact = 0.5 * without.fill_time.value_or(0);
    CHECK(relative_error(result.vents[0].reached_at.value_or(0), exact) <= 2.5e-3 + 2e-3);
    CHECK(result.work.steps <= without.work.steps + 12);
  }
}

TEST_CASE("Vents: a filling goes on after waiting for one to have bled enough") {
  FillProblem problem = strip({.to = 1.2, .cells = 120});
  add_vent(problem, 1).bleed = 7.2e-4; // 600 s at 1.2e-6 m3/s from 400 s on
  const FillResult result = fill(problem);
  CHECK(result.verdict == Verdict::filled);
  CHECK(relative_error(result.vents[0].bled, 7.2e-4) <= 1e-6);
}

TEST_CASE("Vents: an open one bleeds on while the filling waits for a gate") {
  FillProblem problem = strip({.to = 1.2, .cells = 120});
  add_vent(problem, 1).bleed = open_for_ever;
  Gate& gate = add_gate(problem, 1.2);
  gate.own_injector = Injector{1e-6, std::nullopt};
  gate.opens.time = 1000;
  CHECK(relative_error(row_at(fill(problem), 999.9).vent_bleed[0], 7.2e-4) <= 1e-2);
}

TEST_CASE("Vents: the time resin reached a bleeding one is not that of the end") {
  ShellMesh mesh = plate({.length = 1, .width = 0.3, .columns = 100, .rows = 6});
  const std::vector<NodeId> left = across(mesh, 0);
  FillProblem problem = with_pressure(problem_on(std::move(mesh), left));
  problem.vents = {{"V1", {nearest_node(problem.mesh, Vector3(0.5, 0, 0))}, 0, open_for_ever}};
  CHECK(relative_error(fill(problem).vents[0].reached_at.value_or(0), 100) <= 2e-2);
}

TEST_CASE("Vents: one bleeds from the moment its cells are full") {
  // Nothing goes on beyond it but its own half cell: 1.005 m of 9.6e-4 m3/m.
  FillProblem problem = strip({.to = 1.2, .cells = 120});
  add_vent(problem, 1).bleed = open_for_ever;
  CHECK(relative_error(fill(problem).resin_in_part, 1.005 * 9.6e-4) <= 3e-3);
}

TEST_CASE("Vents: a part that would take days behind an open one is told within a day") {
  // Behind a hose that resists as much as x_e = 1.2222e-5 m of the strip (bore 20 mm, 20 mm long)
  // the vent keeps 1.22e-5 bar: the 0.2 m beyond it would take 0.04 / (2 D) / 1.22e-5 = 1.3e6 s.
  FillProblem problem = strip({.to = 1.2, .cells = 120});
  add_vent(problem, 1).bleed = open_for_ever;
  problem.vents[0].line = {{.length = 0.02, .bore = 20e-3}};
  const FillResult result = fill(problem);
  CHECK(result.verdict == Verdict::short_fill);
  CHECK(result.reason == ShortReason::pressure);
  CHECK(result.end_time < 86400);
  // One that keeps 100 times as much is slow as well, but fills.
  problem.vents[0].line = {{.length = 2, .bore = 20e-3}};
  const FillResult slow = fill(problem);
  CHECK(slow.verdict == Verdict::filled);
  CHECK(slow.fill_time.value_or(0) > 10000);
}
