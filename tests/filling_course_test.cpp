// A made-up history, read between its rows by hand.
#include "io/filling_course.hpp"
#include "support/closeness.hpp"
#include "tests/support/sample_run.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// 25 mL/s to 100 s, 10 mL/s to 300 s, 1 mL/s to 600 s: 2.5 L, 4.5 L, 4.8 L by then.
FillResult three_steps() {
  FillResult result = sample_result();
  result.history.back().flow_rate = 1e-6;
  result.history.back().gates[0].flow_rate = 1e-6;
  return result;
}

} // namespace

TEST_CASE("course: read straight between the rows of the history") {
  const FillProblem problem = sample_case().problem;
  const auto half = course_at(problem, three_steps(), 0.5); // midway from 100 s to 300 s
  REQUIRE(half);
  CHECK(relative_error(half->time, 200) < 1e-12);
  REQUIRE(half->pumps.size() == 1);
  CHECK(relative_error(half->pumps[0].flow_rate, 1e-5) < 1e-12); // the middle of that step
  CHECK(relative_error(half->pumps[0].pressure, 1.1e5) < 1e-12);
  CHECK(relative_error(half->pumps[0].volume, 3.5e-3) < 1e-12);
  const auto tenth = course_at(problem, three_steps(), 0.1); // 0.4 of the first step
  CHECK(relative_error(tenth->time, 40) < 1e-12);
  CHECK(relative_error(tenth->pumps[0].volume, 1e-3) < 1e-12);
  CHECK(relative_error(tenth->pumps[0].flow_rate, 2.5e-5) < 1e-12);
}

TEST_CASE("course: the flow near start and end of a strip at constant pressure is that on paper") {
  // t = V^2 s and q = 1 / (2 V) with V from 0 to 1 m3, in steps of 1 % and a last one of 1e-7.
  for (const int steps : {20, 100, 400}) {
    std::vector<HistoryRow> history;
    double before = 0;
    for (int k = 1; k <= steps + 1; ++k) {
      const double filled = k > steps ? 1 : static_cast<double>(k) / steps - 1e-7;
      const double flow = (filled - before) / (filled * filled - before * before);
      history.push_back({filled * filled, filled, k > steps ? 7 : flow, 1e5, {{flow, 1e5}}, {0}});
      before = filled;
    }
    CAPTURE(steps);
    const FlowEnds flow = flow_ends(history);
    // 99 % are in at 0.9801 s, and after 1 % of that 9.9 %, whatever the first steps were.
    CHECK(relative_error(flow.start, 0.5 / 0.099) < (steps < 100 ? 5e-3 : 1e-3));
    CHECK(relative_error(flow.end, 0.5 / 0.99) <
          (steps < 100 ? 0.02 : 1e-4)); // not the 7 of the last
  }
}

TEST_CASE("course: the flow of a short filling is told within what came in") {
  const FlowEnds flow = flow_ends(short_result().history); // to 83.75 %, middles 12.5, 50, 79.4 %
  CHECK(flow.start == 2.5e-5);
  CHECK(relative_error(flow.end, short_result().history.back().flow_rate) < 1e-12);
  CHECK(flow_ends({}).start == 0);
}

TEST_CASE("course: the flow of each row, at first that after 1 % of the time, at last at 99 %") {
  // Gate 1 to 103 s, a rest, gate 2 from 400 s. On paper: the first two steps are 6e-5 m3/s round
  // 0.45 %, the third 2e-5 round 20.45 %. 99 % are in at 568.33 s, and after 1 % of that, 5.6833 s,
  // 1.9492 %: 0.07496 of the way from 1 / 6e-5 to 1 / 2e-5; 99 % is 4 / 15 of that from 98.8 % with
  // 6e-6 to 99.55 % with 9e-5.
  FillProblem problem = sample_case().problem;
  problem.gates.push_back(problem.gates[0]);
  problem.gates[0].closes.time = 103;
  problem.gates[1].opens.time = 400;
  FillResult result = sample_result();
  result.gates = {{"G1", 0, 0, 0, 103}, {"G2", 0, 0, 400, 572}};
  const double filled_then = 0.009 + (5.68333333333333333 - 3) / 100 * 0.391;
  const double start = 1 / (1 / 6e-5 + (filled_then - 0.0045) / 0.2 * (1 / 2e-5 - 1 / 6e-5));
  const double end = 1 / (1 / 6e-6 + 4.0 / 15 * (1 / 9e-5 - 1 / 6e-6));
  struct Row {
    double time, filled, first_flow, second_flow;
  };
  const std::vector<Row> rows = {{1, 0.004, 8e-5, 0},   {3, 0.009, 5e-5, 0},   {103, 0.4, 2e-5, 0},
                                 {300, 0.4, 0, 0},      {400, 0.4, 0, 0},      {500, 0.8, 0, 3e-5},
                                 {560, 0.985, 0, 1e-5}, {570, 0.991, 0, 6e-6}, {572, 1, 0, 9e-5}};
  struct Told {
    std::size_t row;
    double first_flow, second_flow;
  };
  const std::vector<Told> expected = {{0, start, 0}, {1, start, 0}, {2, 2e-5, 0}, {2, 0, 0},
                                      {3, 0, 0},     {4, 0, 0},     {4, 0, 3e-5}, {5, 0, 3e-5},
                                      {6, 0, 1e-5},  {7, 0, end},   {8, 0, end}};
  result.history.clear();
  for (const Row& row : rows) {
    result.history.push_back({row.time,
                              row.filled,
                              row.first_flow + row.second_flow,
                              1e5,
                              {{row.first_flow, 1e5}, {row.second_flow, 1e5}},
                              {0}});
  }
  const auto all = [](const HistoryRow& row) { return row.flow_rate; };
  const auto gate = [](std::size_t g) {
    return [g](const HistoryRow& row) { return row.gates[g].flow_rate; };
  };
  const std::vector<ToldFlow> both = told_flows(problem, result, all);
  const std::vector<ToldFlow> first = told_flows(problem, result, gate(0));
  const std::vector<ToldFlow> second = told_flows(problem, result, gate(1));
  REQUIRE(both.size() == expected.size());
  REQUIRE(first.size() == expected.size());
  REQUIRE(second.size() == expected.size());
  for (std::size_t i = 0; i < expected.size(); ++i) {
    CAPTURE(i);
    const auto& [row, first_flow, second_flow] = expected[i];
    CHECK(both[i].row == row);
    CHECK(std::abs(both[i].flow_rate - (first_flow + second_flow)) < 1e-15);
    CHECK(std::abs(first[i].flow_rate - first_flow) < 1e-15);
    CHECK(std::abs(second[i].flow_rate - second_flow) < 1e-15);
  }
  CHECK(relative_error(flow_ends(result.history).end, both.back().flow_rate) < 1e-12);
  result.verdict = Verdict::short_fill; // its rows as they are
  const std::vector<ToldFlow> stalled = told_flows(problem, result, all);
  CHECK(stalled.front().flow_rate == 8e-5);
  CHECK(stalled.back().flow_rate == 9e-5);
}

TEST_CASE("course: no flow of before a stage is told of after it, and no flow of a rest") {
  FillResult result = sample_result();
  result.history = {{100, 0.5, 2e-5, 1e5, {{2e-5, 1e5}}, {0}},   // 2 L
                    {200, 0.993, 1e-5, 1e5, {{1e-5, 1e5}}, {0}}, // 3 L
                    {210, 0.993, 3e-6, 1e5, {{3e-6, 1e5}}, {0}}, // into a trap
                    {300, 1, 4e-5, 1e5, {{4e-5, 1e5}}, {0}}};
  const auto all = [](const HistoryRow& row) { return row.flow_rate; };
  const std::vector<ToldFlow> expected = {{0, 2e-5}, {1, 1e-5}, {1, 3e-6}, {2, 3e-6}, {3, 4e-5}};
  const auto check = [&](const FillProblem& problem) {
    const std::vector<ToldFlow> flows = told_flows(problem, result, all);
    REQUIRE(flows.size() == expected.size());
    for (std::size_t i = 0; i < expected.size(); ++i) {
      CAPTURE(i);
      CHECK(flows[i].row == expected[i].row);
      CHECK(std::abs(flows[i].flow_rate - expected[i].flow_rate) < 1e-15);
    }
  };
  FillProblem problem = sample_case().problem;
  // Without a stage 99 % lies between 74.65 % with 1e-5 and 99.65 % with 4e-5.
  CHECK(relative_error(told_flows(problem, result, all)[1].flow_rate,
                       1 / (1e5 - 0.2435 / 0.25 * 7.5e4)) < 1e-9);
  problem.injector.stages = {{200, {}, 4e-5, {}}};
  check(problem);
  problem.injector.stages = {{{}, 3e-3, 4e-5, {}}};
  check(problem);
  problem.gates[0].own_injector = problem.injector; // the same pump, but the gate's own
  problem.injector.stages.clear();
  check(problem);
}

TEST_CASE("course: the opening force when so much is filled, between the middles of the steps") {
  std::vector<HistoryRow> history(3);
  history[0].filled_fraction = 0.4; // middles at 0.2, 0.6, 0.9
  history[1].filled_fraction = 0.8;
  history[2].filled_fraction = 1.0;
  CHECK_FALSE(opening_force_when(history, 0.5)); // no mould
  history[0].opening_force = -100;
  history[1].opening_force = 300;
  history[2].opening_force = 900;
  CHECK(opening_force_when(history, 0.1) == -100);
  CHECK(relative_error(opening_force_when(history, 0.5).value(), 200) < 1e-12);
  CHECK(relative_error(opening_force_when(history, 0.8).value(), 700) < 1e-12);
  CHECK_FALSE(opening_force_when(history, 0.95));
}

TEST_CASE("course: from the first moment to the end, and not beyond what was filled") {
  const FillProblem problem = sample_case().problem;
  const auto start = course_at(problem, three_steps(), 0);
  CHECK(start->time == 0);
  CHECK(start->pumps[0].volume == 0);
  CHECK(start->pumps[0].flow_rate == 2.5e-5);
  const auto end = course_at(problem, three_steps(), 1);
  CHECK(end->time == 600);
  CHECK(relative_error(end->pumps[0].volume, 4.8e-3) < 1e-12);
  CHECK(course_at(problem, short_result(), 0.8)); // it comes to 84 %
  CHECK_FALSE(course_at(problem, short_result(), 0.85));
  CHECK_FALSE(course_at(problem, short_result(), 1));
  CHECK_FALSE(course_at(problem, FillResult{}, 0));
  CHECK(course_end(problem, short_result())->time == 400);
  CHECK(course_end(problem, short_result())->filled_fraction == 0.8375);
  CHECK_FALSE(course_end(problem, FillResult{}));
}

TEST_CASE("course: what fills the cells of a gate at once is let in from its opening") {
  // The flows bring 2.5 L by 100 s, 4.5 L by 300 s and 4.8 L by the end.
  const FillProblem problem = sample_case().problem;
  FillResult result = three_steps();
  result.gates[0].injected = 5e-3;
  CHECK(course_at(problem, result, 0)->pumps[0].volume == 0);
  CHECK(relative_error(course_at(problem, result, 0.25)->pumps[0].volume, 2.7e-3) < 1e-12);
  CHECK(relative_error(course_at(problem, result, 1)->pumps[0].volume, 5e-3) < 1e-12);
  result.gates[0].opened_at = 100;
  CHECK(relative_error(course_at(problem, result, 0.25)->pumps[0].volume, 2.5e-3) < 1e-12);
  CHECK(relative_error(course_at(problem, result, 0.75)->pumps[0].volume, 4.7e-3) < 1e-12);
}

TEST_CASE("course: the common pump first, then gates with their own") {
  FillProblem problem = sample_case().problem;
  problem.gates.push_back(problem.gates[0]);
  problem.gates[0].own_injector = Injector{2e-5, 1e5};
  FillResult result = three_steps();
  for (HistoryRow& row : result.history) {
    row.gates.push_back({3e-6, 5e4});
  }
  const auto pumps = course_pumps(problem);
  REQUIRE(pumps.size() == 2);
  CHECK_FALSE(pumps[0].gate);
  CHECK(pumps[1].gate == 0U);
  const auto end = course_at(problem, result, 1);
  CHECK(relative_error(end->pumps[0].volume, 600 * 3e-6) < 1e-12);
  CHECK(relative_error(end->pumps[1].volume, 4.8e-3) < 1e-12);
  problem.gates[1].own_injector = Injector{2e-5, 1e5};
  CHECK(course_pumps(problem)[0].gate == 0U);
}

TEST_CASE("course: what stands at a gate that is shut is not what it gives at") {
  FillProblem problem = sample_case().problem; // cap 1.2e5 Pa
  problem.gates.push_back(problem.gates[0]);
  problem.gates[1].own_injector = Injector{std::nullopt, 3e5};
  FillResult result = three_steps();
  result.peak_head_pressure = 3e5;
  result.gates = {{"G1", 3e-3, 2.9e5, 0, 600}, {"G2", 9e-4, 3e5, 300, 600}};
  result.history = {{100, 0.25, 2.5e-5, 1e5, {{2.5e-5, 1e5}, {0, 5e4}}, {0}},
                    {300, 0.75, 2.5e-6, 1.1e5, {{2.5e-6, 1.1e5}, {0, 6e4}}, {0}},
                    {600, 1, 3e-6, 0, {{0, 2.9e5}, {3e-6, 3e5}}, {0}}};
  CHECK(gate_pressures(problem, result, 0).giving == 1.1e5);
  CHECK(gate_pressures(problem, result, 0).shut == 2.9e5);
  CHECK(gate_pressures(problem, result, 1).giving == 3e5);
  CHECK_FALSE(gate_pressures(problem, result, 1).shut);
  CHECK(peak_at_head(problem, result) == 1.1e5);
  const HeadPeak highest = highest_head(problem, result);
  CHECK(highest.pump.gate == 1U);
  CHECK(highest.pressure == 3e5);
  CHECK(place_of_head(problem, highest.pump) == "the pump of gate " + problem.gates[1].name);
  // Its cells filled at once, at the cap.
  result.gates[0].injected = 3.1e-3;
  CHECK(gate_pressures(problem, result, 0).giving == 1.2e5);
  CHECK(peak_at_head(problem, result) == 1.2e5);
  // Closed by then: nothing is pushed shut.
  result.gates[0].injected = 3e-3;
  result.gates[0].closed_at = 300;
  CHECK(gate_pressures(problem, result, 0).giving == 1.1e5);
  CHECK_FALSE(gate_pressures(problem, result, 0).shut);
  // Open, but never stronger than what comes against it.
  result.gates[0] = {"G1", 0, 2.9e5, 0, 600};
  for (HistoryRow& row : result.history) {
    row.gates[0].flow_rate = 0;
  }
  CHECK_FALSE(gate_pressures(problem, result, 0).giving);
  CHECK(gate_pressures(problem, result, 0).shut == 2.9e5);
}

TEST_CASE("course: what the last hundredth of the resin asks for is told apart") {
  const FillProblem problem = sample_case().problem;
  FillResult result = three_steps();
  result.history = {{100, 0.25, 2.5e-5, 1e5, {{2.5e-5, 1e5}}, {0}},
                    {300, 0.98, 2.5e-6, 1.1e5, {{2.5e-6, 1.1e5}}, {0}},
                    {600, 1, 3e-6, 3.1e5, {{3e-6, 3.1e5}}, {0}}};
  result.peak_head_pressure = 3.1e5;
  CHECK(relative_error(peak_till_near_end(problem, result), 2.1e5) < 1e-9); // half way
  CHECK(peaks_at_the_last(3.1e5, 2.1e5));
  CHECK(!peaks_at_the_last(2.2e5, 2.1e5));
  // Higher before: nothing to tell apart.
  result.history[0].head_pressure = 4e5;
  result.peak_head_pressure = 4e5;
  CHECK(peak_till_near_end(problem, result) == 4e5);
  // Of several pumps without a common one the history has the first only.
  FillProblem two = problem;
  two.gates.push_back(two.gates[0]);
  two.gates[0].own_injector = Injector{std::nullopt, 1e5};
  two.gates[1].own_injector = Injector{std::nullopt, 4e5};
  FillResult of_two = result;
  of_two.history[0].head_pressure = 1e5;
  CHECK(peak_till_near_end(two, of_two) == 4e5);
  // That with the highest head has a history of its own.
  for (HistoryRow& row : of_two.history) {
    row.gates.push_back({1e-6, row.filled_fraction * 1e5, 3 * row.filled_fraction * 1e5});
    row.gates[0] = {1e-6, 1e5, 1e5};
  }
  const HeadPeak highest = highest_head(two, of_two);
  CHECK(highest.pump.gate == 1U);
  CHECK(highest.pressure == 3e5);
  CHECK(relative_error(highest.till_near_end, 2.97e5) < 1e-9);
  // Of a short filling, the last hundredth of what it takes.
  result.history[0].head_pressure = 1e5;
  result.history[2].filled_fraction = 0.985;
  result.peak_head_pressure = 3.1e5;
  CHECK(relative_error(peak_till_near_end(problem, result), 1.1e5) < 0.05);
}

TEST_CASE("course: how old the resin in the hose is when the pump stops") {
  FillProblem problem = sample_case().problem;
  CHECK(oldest_in_hoses(problem, three_steps()) == 0); // there is none
  problem.injector.line = {{2, 0.01}}; // pi / 4 x 1e-4 m2 x 2 m = 157.08 mL, at 1 mL/s
  CHECK(relative_error(oldest_in_hoses(problem, three_steps()), 157.0796) < 1e-6);
  problem.injector.line = {{2, 0.1}}; // 15.7 L: that which was there from the start
  CHECK(relative_error(oldest_in_hoses(problem, three_steps()), 600) < 1e-12);
}

TEST_CASE("course: the time at which a share was full lies between two rows") {
  std::vector<HistoryRow> history(2);
  history[0].time = 10;
  history[0].filled_fraction = 0.5;
  history[1].time = 30;
  history[1].filled_fraction = 1;
  CHECK(time_of_share(history, 0.25) == 5);
  CHECK(time_of_share(history, 0.95) == 28);
  history.pop_back();
  CHECK(!time_of_share(history, 0.95));
}
