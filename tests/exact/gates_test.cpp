// Gates one by one on a strip, and what they do to each other. Expected values are worked out by
// hand from x^2 = 2 D t at a constant pressure, D = 1.25e-3 m2/s, and x = Q t / (phi A) at a
// constant flow, phi A = 9.6e-4 m2 (textbook: Rudd, Long, Kendall and Mangin, Liquid Moulding
// Technologies, Woodhead 1997; from memory).
#include "solver/channel_law.hpp"
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr PortRef second_gate{PortRef::Kind::gate, 1};
constexpr PortRef first_vent{PortRef::Kind::vent, 0};

void check_filled_at(const FillResult& result, double time, double tolerance) {
  CHECK(result.verdict == Verdict::filled);
  CAPTURE(result.fill_time.value_or(0));
  CHECK(relative_error(result.fill_time.value_or(0), time) <= tolerance);
}

/// Volume a gate gave by a time, and whether it gave nothing after.
double given_until(const FillResult& result, std::size_t gate, double time) {
  double before = 0;
  double begin = 0;
  for (const HistoryRow& row : result.history) {
    const double volume = row.gates[gate].flow_rate * (row.time - begin);
    if (row.time <= time * (1 + 1e-9)) {
      before += volume;
    } else {
      CHECK(std::abs(volume) <= 1e-15);
    }
    begin = row.time;
  }
  return before;
}

/// A gate on the common head along the lower side of a strip, or at two of its nodes.
Gate& add_line_gate(FillProblem& problem) {
  problem.gates.push_back(
      {"line",
       nodes_where(problem.mesh,
                   [](const Vector3& x) { return x.y() == 0 && x.x() > 0.195 && x.x() < 0.805; }),
       Vector3::Zero(), std::nullopt});
  return problem.gates.back();
}

Gate& add_gate_of_two_nodes(FillProblem& problem) {
  problem.gates.push_back(
      {"two",
       {nearest_node(problem.mesh, {0.3, 0, 0}), nearest_node(problem.mesh, {0.9, 0, 0})},
       Vector3::Zero(),
       std::nullopt});
  std::ranges::sort(problem.gates.back().nodes);
  return problem.gates.back();
}

} // namespace

// --- when a gate is open -----------------------------------------------------------------------

TEST_CASE("Gates: one that opens after 30 s fills the strip 30 s later, at 430 s") {
  FillProblem problem = strip();
  problem.gates[0].opens.time = 30;
  const FillResult result = watched_fill(problem);
  check_filled_at(result, 430, 1e-3);
  CHECK(result.gates[0].opened_at == 30);
  CHECK(result.time_cap_reached == 30);
  CHECK(relative_error(result.time_at_cap, 400) <= 1e-3);
}

TEST_CASE("Gates: half the strip from one end till 100 s, the rest from the other from 150 s on") {
  // Each half takes 0.25 / (2 D) = 100 s and 4.8e-4 m3; between them nothing moves.
  FillProblem problem = strip();
  problem.gates[0].closes.time = 100;
  add_gate(problem, 1).opens.time = 150;
  const FillResult result = watched_fill(problem);
  check_filled_at(result, 250, 1e-6);
  CHECK(result.gates[0].closed_at == 100);
  CHECK(result.gates[1].opened_at == 150);
  CHECK(relative_error(result.gates[0].injected, 4.8e-4) <= 1e-6);
  CHECK(relative_error(result.gates[1].injected, 4.8e-4) <= 1e-6);
  for (const HistoryRow& row : result.history) {
    if (row.time > 100 && row.time <= 150) {
      CHECK(row.flow_rate == 0);
      CHECK(row.filled_fraction == doctest::Approx(0.5).epsilon(1e-6));
    }
  }
}

TEST_CASE("Gates: while one fills its own cells steps are as short as the other's flow asks for") {
  FillProblem problem = strip();
  Gate& slow = add_gate(problem, 1); // an hour for half a cell
  slow.own_injector = Injector{1e-9, std::nullopt};
  const FillResult result = watched_fill(problem);
  check_filled_at(result, 400, 1e-3);
  double before = 0;
  for (const HistoryRow& row : result.history) {
    CHECK(row.filled_fraction - before < 0.05);
    before = row.filled_fraction;
  }
}

TEST_CASE("Gates: one that opens when the front reaches it, on a common pressure") {
  // Front at 0.5 m after 100 s; from there on it has 0.5 m to go again. The gate opens when its
  // cells are full, with the front half a cell d further: from cell to cell the impulse rises by
  // 1, 2, 3 .. times phi d^2 / K, so that n cells are full after n (n + 1) d^2 / (2 D), here
  // 100.5 s.
  FillProblem problem = strip({.cells = 400});
  add_gate(problem, 0.5).opens.reached = second_gate;
  const FillResult result = watched_fill(problem, {.steps = 200});
  check_filled_at(result, 200.5, 2e-3);
  const double opened = result.gates[1].opened_at.value_or(0);
  CHECK(relative_error(opened, 100.5) <= 2e-3);
  CHECK(relative_error(time_across(problem, result, 0.5), 100) <= 2e-3);
  CHECK(relative_error(time_across(problem, result, 0.25), 25) <= 2e-3);
  CHECK(relative_error(time_across(problem, result, 0.75), 125.5) <= 3e-3);
  CHECK(relative_error(result.gates[0].injected, 4.812e-4) <= 2e-3); // with half a cell
  CHECK(relative_error(result.gates[1].injected, 4.788e-4) <= 2e-3);
  CHECK(result.gate_index[across(problem.mesh, 0.4)[0]] == 0);
  CHECK(result.gate_index[across(problem.mesh, 0.6)[0]] == 1);
}

TEST_CASE("Gates: one that opens when the front reaches it takes over all of the flow") {
  // Behind it the pressure is level from then on, and the head falls to what 0.5 m more need:
  // mu Q x / (K A) = 83333.33 Pa at the end.
  FillProblem problem = with_flow(strip(), 2e-6);
  add_gate(problem, 0.5).opens.reached = second_gate;
  const FillResult result = watched_fill(problem);
  check_filled_at(result, 480, 1e-9);
  CHECK(relative_error(result.gates[1].opened_at.value_or(0), 242.4) <= 1e-6); // 50.5 cells full
  CHECK(relative_error(result.gates[0].injected, 4.848e-4) <= 1e-6);
  CHECK(relative_error(result.gates[1].injected, 4.752e-4) <= 1e-6);
  CHECK(relative_error(result.history.back().head_pressure, 83333.33) <= 1e-2);
}

TEST_CASE("Gates: one closes and another opens when a vent is reached") {
  // 2e-6 m3/s till the cells at 0.6 m are full, 60.5 of 100: 290.4 s. 1e-6 m3/s for the rest,
  // 3.792e-4 m3: 379.2 s.
  FillProblem problem = with_flow(strip(), 2e-6);
  add_vent(problem, 0.6);
  problem.gates[0].closes.reached = first_vent;
  Gate& other = add_gate(problem, 1);
  other.own_injector = Injector{1e-6, std::nullopt};
  other.opens.reached = first_vent;
  const FillResult result = watched_fill(problem);
  check_filled_at(result, 669.6, 1e-6);
  CHECK(relative_error(result.vents[0].reached_at.value_or(0), 288) <= 1e-6);
  CHECK(relative_error(result.gates[0].closed_at.value_or(0), 290.4) <= 1e-6);
  CHECK(relative_error(result.gates[1].opened_at.value_or(0), 290.4) <= 1e-6);
  CHECK(relative_error(result.gates[0].injected, 5.808e-4) <= 1e-6);
  CHECK(relative_error(result.gates[1].injected, 3.792e-4) <= 1e-6);
}

TEST_CASE("Gates: one that opens at once after the start is waited for") {
  // The first step ends there: next to nothing comes in, and the front is not at rest.
  for (const double time : {1e-10, 1e-6, 1e-3}) {
    CAPTURE(time);
    FillProblem problem = with_pressure(strip(), 1e5);
    add_gate(problem, 1).opens.time = time;
    const FillResult result = watched_fill(problem);
    CHECK(result.verdict == Verdict::filled);
  }
}

// --- gates that give nothing -------------------------------------------------------------------

TEST_CASE("Gates: no resin goes back through one that has closed") {
  // It gives 1e-6 m3/s from 20 s to 50 s into what is still dry at 0.5 m: 3e-5 m3. Later resin
  // stands there at up to 0.5 bar. The strip is full when the first gate's impulse and those 3e-5
  // m3 at 0.5 m have done it: 0 = dp t / mu - w, w = phi L^2 / (2 K) - V x / (K h w), so it is 12.5
  // s earlier than 400 s.
  FillProblem problem = strip();
  Gate& short_lived = add_gate(problem, 0.5);
  short_lived.own_injector = Injector{1e-6, std::nullopt};
  short_lived.opens.time = 20;
  short_lived.closes.time = 50;
  const FillResult result = watched_fill(problem);
  check_filled_at(result, 387.5, 1e-3);
  CHECK(relative_error(result.gates[1].injected, 3e-5) <= 1e-9);
  CHECK(relative_error(given_until(result, 1, 50), 3e-5) <= 1e-9);
  CHECK(result.history[result.history.size() - 2].gates[1].pressure > 4.5e4);
}

TEST_CASE("Gates: no resin goes back through an open one whose pump is too weak") {
  // When it opens, at 225 s, the front is at 0.75 m and the resin at the gate at 0.33 bar, against
  // 0.2 bar of its pump.
  for (const std::optional<double> flow_rate : {std::optional<double>(), std::optional(1e-6)}) {
    FillProblem problem = strip();
    Gate& weak = add_gate(problem, 0.5);
    weak.own_injector = Injector{flow_rate, 0.2e5};
    weak.opens.time = 225;
    const FillResult result = watched_fill(problem);
    check_filled_at(result, 400, 1e-3);
    CHECK(std::abs(result.gates[1].injected) <= 1e-15);
  }
}

TEST_CASE("Gates: no air leaves through one that never opens, or whose pump is too weak") {
  // Boyle: 1 - 101325 / 201325 of the strip is filled at 1 bar, gauge.
  const auto check_stop = [](const FillProblem& problem) {
    const FillResult result = watched_fill(problem);
    CHECK(result.reason == ShortReason::trapped_air);
    CHECK(relative_error(result.filled_fraction, 1 - 101325.0 / 201325) <= 1e-3);
    CHECK(result.dry_spots.size() == 1);
  };
  FillProblem problem = strip();
  problem.sealed_air = true;
  add_gate(problem, 1);
  FillProblem idle = problem;
  idle.gates[1].opens.reached = second_gate;
  check_stop(idle);
  for (const double pressure : {0.0, 0.5e5}) {
    problem.gates[1].own_injector = Injector{std::nullopt, pressure};
    check_stop(problem);
  }
}

// --- a gate with a pump of its own -------------------------------------------------------------

TEST_CASE("Gates: one that is shut joins nothing, a line or two places") {
  const FillProblem plain = strip();
  const FillResult without = watched_fill(plain);
  check_filled_at(without, 400, 1e-3);
  for (const auto add : {add_line_gate, add_gate_of_two_nodes}) {
    FillProblem problem = plain;
    add(problem).opens.time = 1e5;
    const FillResult result = watched_fill(problem);
    CHECK(relative_error(result.fill_time.value_or(0), without.fill_time.value_or(0)) <= 1e-6);
    CHECK(result.gates[1].injected == 0);
    for (const double x : {0.25, 0.5, 0.75}) {
      CHECK(relative_error(time_across(problem, result, x), time_across(plain, without, x)) <=
            1e-6);
    }
  }
}

TEST_CASE("Gates: a line that opens late keeps the times at which the front had come to it") {
  FillProblem problem = strip();
  const NodeId early = nearest_node(problem.mesh, {0.4, 0, 0});
  const NodeId late = nearest_node(problem.mesh, {0.6, 0, 0});
  add_line_gate(problem).opens.time = 100; // the front is at 0.5 m
  const FillResult result = watched_fill(problem);
  CHECK(result.verdict == Verdict::filled);
  CHECK(result.fill_time.value_or(1e9) < 400);
  CHECK(result.gates[1].opened_at == 100);
  CHECK(relative_error(result.fill_time_field[early], 64) <= 5e-3); // 0.16 / (2 D)
  CHECK(result.fill_time_field[late] == 100);
  CHECK(result.gate_index[early] == 0);
  CHECK(result.gate_index[late] == 1);
}

TEST_CASE("Gates: a line that has closed joins nothing any more") {
  // In the end the pressure falls along it as along the part.
  FillProblem problem = strip();
  add_line_gate(problem).closes.time = 1e-3;
  const FillResult result = watched_fill(problem);
  CHECK(result.verdict == Verdict::filled);
  const auto pressure_at = [&](double x) {
    return result.pressure[nearest_node(problem.mesh, {x, 0, 0})];
  };
  CHECK(pressure_at(0.3) > pressure_at(0.5) + 1e4);
  CHECK(pressure_at(0.5) > pressure_at(0.7) + 1e4);
}

TEST_CASE("Gates: a flow rate of its own adds to the other's") {
  // 9.6e-4 m3 at 3e-6 m3/s, two thirds of it from the left.
  FillProblem problem = with_flow(strip(), 2e-6);
  add_gate(problem, 1).own_injector = Injector{1e-6, std::nullopt};
  const FillResult result = watched_fill(problem);
  check_filled_at(result, 320, 1e-9);
  CHECK(relative_error(result.gates[0].injected, 6.4e-4) <= 1e-9);
  CHECK(relative_error(result.gates[1].injected, 3.2e-4) <= 1e-9);
  CHECK(result.gate_index[across(problem.mesh, 0.65)[0]] == 0);
  CHECK(result.gate_index[across(problem.mesh, 0.68)[0]] == 1);
}

TEST_CASE("Gates: a pressure of its own") {
  // sqrt(2 D t) + sqrt(D t) = 1 m: 137.258 s, 0.585786 of the strip from the left.
  FillProblem problem = strip();
  add_gate(problem, 1).own_injector = Injector{std::nullopt, 0.5e5};
  const FillResult result = watched_fill(problem);
  check_filled_at(result, 137.258300, 1e-3);
  CHECK(relative_error(result.gates[0].injected, 0.585786 * 9.6e-4) <= 2e-3);
  CHECK(relative_error(result.gates[1].injected, 0.414214 * 9.6e-4) <= 2e-3);
  CHECK(result.gates[1].peak_pressure == 0.5e5);
}

TEST_CASE("Gates: a flow rate and a cap of its own") {
  // 2e-6 m3/s till 0.3 m and 144 s, then 0.5 bar: x^2 = 0.09 + D (t - 144 s). From the left
  // 1e-6 m3/s all along. They meet when 0.15 + s / 960 + sqrt(0.09 + D s) = 1, s = 228.0619 s.
  FillProblem problem = with_flow(strip({.cells = 400}), 1e-6);
  add_gate(problem, 1).own_injector = Injector{2e-6, 0.5e5};
  const FillResult result = watched_fill(problem, {.steps = 200});
  check_filled_at(result, 372.0619, 1e-3);
  const CapTime& at_cap = result.gates[1].at_cap;
  CHECK(relative_error(at_cap.reached.value_or(0), 144) <= 5e-3);
  CHECK(relative_error(at_cap.duration, 228.0619) <= 5e-3);
  CHECK_FALSE(result.time_cap_reached); // the pump on the left has no cap
  CHECK(result.time_at_cap == 0);
  CHECK(relative_error(result.gates[0].injected, 3.720619e-4) <= 1e-3);
}

TEST_CASE("Gates: each of two pumps has its own time at its own cap") {
  // From the right as above. From the left 2e-6 m3/s till 0.48 m and 230.4 s, then 0.8 bar:
  // x^2 = 0.2304 + 1.6 D s, with x^2 = 0.198 + D s from the right. They meet after s = 22.4032 s.
  FillProblem problem = with_flow_and_cap(strip({.cells = 400}), 2e-6, 0.8e5);
  add_gate(problem, 1).own_injector = Injector{2e-6, 0.5e5};
  const auto check_right = [](const CapTime& at_cap) {
    CHECK(relative_error(at_cap.reached.value_or(0), 144) <= 5e-3);
    CHECK(relative_error(at_cap.duration, 108.8032) <= 5e-3);
  };
  FillResult result = watched_fill(problem, {.steps = 200});
  CHECK(relative_error(result.time_cap_reached.value_or(0), 230.4) <= 5e-3);
  CHECK(relative_error(result.time_at_cap, 22.4032) <= 0.03);
  CHECK_FALSE(result.gates[0].at_cap.reached); // it has no pump of its own
  check_right(result.gates[1].at_cap);
  // Where both gates have their own, the one that stands at its cap the longest is told.
  problem.gates[0].own_injector = problem.injector;
  result = watched_fill(problem, {.steps = 200});
  CHECK(relative_error(result.gates[0].at_cap.reached.value_or(0), 230.4) <= 5e-3);
  check_right(result.gates[1].at_cap);
  check_right({result.time_at_cap, result.time_cap_reached});
}

TEST_CASE("Gates: on one pump, whichever opens first, the same volumes give the same front") {
  // Gustafsson 1985, Nonlinear Anal. TMA 9:203, first page seen: only volumes count. The first
  // gate's resin lies round the second when that opens, and the other way about.
  ShellMesh mesh =
      plate({.length = 0.6, .width = 0.36, .columns = 30, .rows = 18, .jitter = 0.2, .seed = 31});
  const NodeId left = nearest_node(mesh, Vector3(0.2, 0.16, 0));
  const NodeId right = nearest_node(mesh, Vector3(0.34, 0.2, 0));
  const auto front = [&](std::size_t first) {
    FillProblem problem = with_flow(problem_on(mesh, {left}), 2e-6);
    problem.gates.push_back({"G2", {right}, Vector3::Zero(), std::nullopt});
    problem.gates[first].closes.time = 100;
    problem.gates[1 - first].opens.time = 100;
    problem.gates[1 - first].closes.time = 200;
    const FillResult result = watched_fill(problem);
    CHECK(result.reason == ShortReason::no_path);
    CHECK(relative_error(result.gates[0].injected, 2e-4) <= 1e-8);
    CHECK(relative_error(result.gates[1].injected, 2e-4) <= 1e-8);
    return result.fill_fraction;
  };
  const PerNode<double> one = front(0);
  const PerNode<double> other = front(1);
  double worst = 0;
  for (const NodeId node : one.ids()) {
    worst = std::max(worst, std::abs(one[node] - other[node]));
  }
  CHECK(worst <= 1e-8);
}

// --- schedules ---------------------------------------------------------------------------------

TEST_CASE("Schedule: flow rates over time, over volume, fill in 540 s") {
  // 2e-6 m3/s for 120 s, 4e-6 for 100 s, 1e-6 for the last 3.2e-4 m3. The pressure is
  // mu Q x / (K A): highest at the end of the second stage, 2/3 m: 222222 Pa.
  // from a time [s] or a volume [m3], flow rate, cap
  const std::vector<InjectorStage> by_time{{120, std::nullopt, 4e-6, std::nullopt},
                                           {220, std::nullopt, 1e-6, std::nullopt}};
  const std::vector<InjectorStage> by_volume{{std::nullopt, 2.4e-4, 4e-6, std::nullopt},
                                             {std::nullopt, 6.4e-4, 1e-6, std::nullopt}};
  for (const auto& stages : {by_time, by_volume}) {
    FillProblem problem = with_flow(strip(), 2e-6);
    problem.injector.stages = stages;
    const FillResult result = watched_fill(problem);
    check_filled_at(result, 540, 1e-9);
    CHECK(relative_error(result.peak_head_pressure, 222222.22) <= 5e-3);
    double begin = 0;
    for (const HistoryRow& row : result.history) {
      const double middle = 0.5 * (begin + row.time);
      const double flow_rate = middle < 120 ? 2e-6 : middle < 220 ? 4e-6 : 1e-6;
      CHECK(relative_error(row.flow_rate, flow_rate) <= 1e-6);
      begin = row.time;
    }
  }
}

TEST_CASE("Schedule: half the pressure for 200 s, or for the first half, then all: 500 s") {
  // The integral of the pressure counts, 4e7 Pa s in all; half of the strip takes 200 s at 0.5 bar
  // and, by x^2, another 300 s at 1 bar.
  FillProblem problem = with_pressure(strip({.cells = 400}), 0.5e5);
  problem.injector.stages = {{200, std::nullopt, std::nullopt, 1e5}};
  const FillResult by_time = watched_fill(problem);
  check_filled_at(by_time, 500, 1e-3);
  CHECK(by_time.peak_head_pressure == 1e5);
  problem.injector.stages = {{std::nullopt, 4.8e-4, std::nullopt, 1e5}};
  check_filled_at(watched_fill(problem), 500, 2e-3);
}

TEST_CASE("Schedule: a cap raised at 200 s frees the flow rate again, 552 s") {
  // 2e-6 m3/s to 0.3 m at 144 s; 0.5 bar to 0.4 m at 200 s; 2e-6 m3/s again, at 66667 Pa rising to
  // 1 bar, to 0.6 m at 296 s; 1 bar for the last 0.64 / (2 D) = 256 s.
  FillProblem problem = with_flow_and_cap(strip(), 2e-6, 0.5e5);
  problem.injector.stages = {{200, std::nullopt, std::nullopt, 1e5}};
  const FillResult result = watched_fill(problem);
  check_filled_at(result, 552, 1e-3);
  CHECK(relative_error(result.time_at_cap, 56 + 256) <= 5e-3);
  CHECK(relative_error(row_at(result, 205).flow_rate, 2e-6) <= 1e-6);
  CHECK(relative_error(row_at(result, 285).flow_rate, 2e-6) <= 1e-6);
  CHECK(row_at(result, 320).flow_rate < 1.95e-6);
}

TEST_CASE("Gates: the last row of a filling that a weak second pump ends is one of the filling") {
  FillProblem problem = strip();
  Gate& weak = add_gate(problem, 0.5);
  weak.own_injector = Injector{std::nullopt, 0.2e5};
  weak.opens.time = 225;
  const FillResult result = fill(problem);
  CHECK(result.history.back().flow_rate <= 2e-6);
  CHECK(result.history.back().head_pressure == 1e5);
  CHECK(result.pressure[across(problem.mesh, 0)[0]] == doctest::Approx(1e5));
}

TEST_CASE("Gates: a stage by volume counts what filled the gate's cells at once") {
  FillProblem problem = with_pressure(strip(), 0.5e5); // half the strip in 200 s, then 300 s more
  problem.injector.stages = {{std::nullopt, 4.8e-4, std::nullopt, 1e5}};
  CHECK(relative_error(fill(problem).fill_time.value_or(0), 500) <= 1e-3);
}

TEST_CASE("Gates: what fills a second gate's cells is credited to it") {
  FillProblem problem = strip();
  problem.gates[0].closes.time = 100;
  add_gate(problem, 1).opens.time = 60;
  const FillResult result = fill(problem);
  CHECK(relative_error(result.fill_time.value_or(0), 160) <= 1e-6);
  CHECK(relative_error(result.gates[0].injected, 4.8e-4) <= 1e-3);
}

TEST_CASE("Gates: to await one in shut-in air costs no more steps than not to") {
  FillProblem problem = strip({.cells = 200});
  problem.sealed_air = true;
  const int without = fill(problem).work.steps;
  add_gate(problem, 1).opens.reached = PortRef{PortRef::Kind::gate, 1};
  CHECK(fill(problem).work.steps <= 2 * without);
}

TEST_CASE("Gates: a pump at a set flow whose part is full stops, another goes on") {
  // Arms that do not touch: the first has room for 1 m of 9.6e-4 m3/m, at 8e-7 m3/s for 1200 s.
  ShellMesh mesh = strip().mesh;
  ShellMesh other = mesh;
  deform(other, [](const Vector3& x) { return Vector3(x + Vector3(0, 1, 0)); });
  mesh = welded({mesh, other});
  const auto start = [&](double y) {
    return nodes_where(mesh,
                       [=](const Vector3& x) { return x.x() == 0 && std::abs(x.y() - y) < 0.5; });
  };
  const std::vector<NodeId> first = start(0.15);
  const std::vector<NodeId> second = start(1.15);
  FillProblem problem = with_pressure(problem_on(std::move(mesh), first));
  Gate gate = problem.gates[0];
  gate.name = "other";
  gate.nodes = second;
  for (const double flow : {8e-7, 8e-6}) { // after and before the other is full, at 400 s
    FillProblem two = problem;
    gate.own_injector = Injector{flow, std::nullopt};
    two.gates.push_back(gate);
    check_filled_at(watched_fill(two), std::max(400.0, 9.6e-4 / flow), 1e-3);
  }
}

TEST_CASE("Gates: one held at a pressure does not stand for the pump that comes to its cap") {
  // From 0 on 1e-6 m3/s through a hose that takes mu R Q; mu Q x / (K A) behind it. The other end
  // is held at a pressure from the start.
  FillProblem problem = strip();
  problem.gates[0].own_injector = Injector{.flow_rate = 1e-6, .pressure_cap = 0.4e5};
  problem.gates[0].own_injector->line = {{1, 0.008}};
  add_gate(problem, 1).own_injector = Injector{std::nullopt, 0.2e5};
  const FillResult result = watched_fill(problem);
  REQUIRE(result.verdict == Verdict::filled);
  REQUIRE(result.time_cap_reached);
  const double through_hose = 0.2 * hose_resistance(problem.gates[0].own_injector->line) * 1e-6;
  const double by_hand = (0.4e5 - through_hose) / 83333.33 * 960;
  CHECK(relative_error(*result.time_cap_reached, by_hand) <= 0.01);
  CHECK(result.time_at_cap < *result.fill_time);
  for (const HistoryRow& row : result.history) {
    REQUIRE(row.gates[0].head);
    CHECK(*row.gates[0].head >= row.gates[0].pressure);
    CHECK(relative_error(*row.gates[0].head - row.gates[0].pressure,
                         through_hose * row.gates[0].flow_rate / 1e-6) <= 1e-6);
  }
}
