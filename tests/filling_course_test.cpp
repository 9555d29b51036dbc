// A made-up history, read between its rows by hand.
#include "io/filling_course.hpp"
#include "support/closeness.hpp"
#include "tests/support/sample_run.hpp"

#include <doctest/doctest.h>

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
    CHECK(relative_error(flow.start, steps < 100 ? 20 : 50) < 1e-4); // first step of 5 %: its mean
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

TEST_CASE("course: the flow of each row is the one told, at both ends too") {
  const auto all = [](const HistoryRow& row) { return row.flow_rate; };
  const FillResult result = three_steps();
  const std::vector<double> flows = told_flows(result, all);
  REQUIRE(flows.size() == 3);
  CHECK(flows.back() == flow_ends(result.history).end);
  FillResult stalled = three_steps();
  stalled.verdict = Verdict::short_fill; // its rows as they are
  CHECK(told_flows(stalled, all) == std::vector<double>{2.5e-5, 1e-5, 1e-6});
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

TEST_CASE("course: how old the resin in the hose is when the pump stops") {
  FillProblem problem = sample_case().problem;
  CHECK(oldest_in_hoses(problem, three_steps()) == 0); // there is none
  problem.injector.line = {{2, 0.01}}; // pi / 4 x 1e-4 m2 x 2 m = 157.08 mL, at 1 mL/s
  CHECK(relative_error(oldest_in_hoses(problem, three_steps()), 157.0796) < 1e-6);
  problem.injector.line = {{2, 0.1}}; // 15.7 L: that which was there from the start
  CHECK(relative_error(oldest_in_hoses(problem, three_steps()), 600) < 1e-12);
}
