// What vents let out once the part is full. A strip of 1 m at 1e5 Pa is full after 400 s with
// 9.6e-4 m3; then K A dp / (mu L) = 1.2e-6 m3/s runs through it. Worked out by hand from Darcy's
// law.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr double bleed = 1.2e-4; // [m3], 100 s at that flow

FillProblem bleeding_strip(double volume = bleed) {
  FillProblem problem = strip();
  add_vent(problem, 1).bleed = volume;
  return problem;
}

FillProblem thickening(FillProblem problem, double time_constant) {
  problem.resin.thickening = ExponentialThickening{time_constant};
  return problem;
}

void check_bleeding(const FillResult& result, double filled_at, double ended_at, double volume) {
  CHECK(result.verdict == Verdict::filled);
  CHECK(relative_error(result.fill_time.value_or(0), filled_at) <= 3e-3);
  REQUIRE(result.bleeding);
  CHECK(result.bleeding->reason == ShortReason::none);
  CHECK(relative_error(result.bleeding->ended_at.value_or(0), ended_at) <= 2e-3);
  CHECK(result.end_time == result.bleeding->ended_at.value_or(0));
  CHECK(relative_error(result.vents[0].bled, volume) <= 1e-6);
  CHECK(relative_error(result.injected, 9.6e-4 + volume) <= 1e-6);
  CHECK(std::abs(result.mass_balance_error) <= 1e-9);
}

} // namespace

// Some of the bleed runs out while the last cells along the vent fill: hence tolerances.
TEST_CASE("Bleeding: a vent at the far end lets out its volume at the steady flow") {
  check_bleeding(watched_fill(bleeding_strip()), 400, 500, bleed);
}

TEST_CASE("Bleeding: it goes on when the pump comes back after a rest") {
  FillProblem problem = bleeding_strip();
  problem.injector.stages = {{450, std::nullopt, std::nullopt, 0},
                             {700, std::nullopt, std::nullopt, 1e5}};
  check_bleeding(watched_fill(problem), 400, 750, bleed); // 50 s before the rest, 50 s after it
}

TEST_CASE("Bleeding: a pump at its flow, at up to the pressure that drives it through all") {
  FillProblem problem = bleeding_strip();
  problem.injector.pressure_cap.reset();
  problem.injector.flow_rate = 2e-6; // 480 s, then 60 s; 2 / 1.2 of 1e5 Pa
  const FillResult free = watched_fill(problem);
  check_bleeding(free, 480, 540, bleed);
  CHECK(relative_error(free.peak_head_pressure, 1e5 * 2 / 1.2) <= 0.01);
  CHECK(relative_error(free.history.back().head_pressure, 1e5 * 2 / 1.2) <= 1e-6);
  problem.injector.pressure_cap = 1e5;
  const FillResult capped = watched_fill(problem);
  REQUIRE(capped.bleeding);
  CHECK(relative_error(capped.bleeding->ended_at.value_or(0) - capped.fill_time.value_or(0), 100) <=
        1e-2);
}

TEST_CASE("Bleeding: resin that thickens bleeds in the integral of 1 / mu") {
  // 400 s and 500 s of fresh resin, with tau = 1000 s: -1000 ln 0.6 and -1000 ln 0.5 s.
  check_bleeding(watched_fill(thickening(bleeding_strip(), 1000)), -1000 * std::log(0.6),
                 -1000 * std::log(0.5), bleed);
  // Mixed inline all in it is younger, so that it comes sooner, but later than if it were fresh.
  FillProblem problem = thickening(bleeding_strip(), 1000);
  problem.resin.mixing = Mixing::inline_head;
  const FillResult parcels = watched_fill(problem);
  REQUIRE(parcels.bleeding);
  const double took = parcels.bleeding->ended_at.value_or(0) - parcels.fill_time.value_or(0);
  CHECK(took > 105);
  CHECK(took < 180);
  CHECK(relative_error(parcels.vents[0].bled, bleed) <= 1e-6);
}

TEST_CASE("Bleeding: what the resin does not come to is told as not ended") {
  // Of tau = 1000 s 600 s are left after the filling, for 7.2e-4 m3 and no more.
  const FillResult thick = watched_fill(thickening(bleeding_strip(1e-3), 1000));
  CHECK(thick.verdict == Verdict::filled);
  REQUIRE(thick.bleeding);
  CHECK_FALSE(thick.bleeding->ended_at);
  CHECK(thick.bleeding->reason == ShortReason::gel);
  CHECK(relative_error(thick.vents[0].bled, 7.2e-4) <= 2e-3);
  FillOptions options;
  options.time_limit = 450;
  const FillResult broken_off = watched_fill(bleeding_strip(), options);
  CHECK(broken_off.verdict == Verdict::filled);
  REQUIRE(broken_off.bleeding);
  CHECK(broken_off.bleeding->reason == ShortReason::time_limit);
  CHECK(relative_error(broken_off.vents[0].bled, 6e-5) <= 2e-2);
}

TEST_CASE("Bleeding: with the gate shut nothing drives it any more") {
  FillProblem problem = bleeding_strip();
  problem.gates[0].closes.time = 450;
  const FillResult result = watched_fill(problem);
  CHECK(result.verdict == Verdict::filled);
  REQUIRE(result.bleeding);
  CHECK_FALSE(result.bleeding->ended_at);
  CHECK(result.bleeding->reason == ShortReason::pressure);
  CHECK(relative_error(result.end_time, 450) <= 1e-9);
  CHECK(relative_error(result.vents[0].bled, 6e-5) <= 2e-2);
}

TEST_CASE("Bleeding: of constant viscosity it is followed past the gel, to tell by how much") {
  FillProblem problem = bleeding_strip();
  problem.resin.gel_time = 450;
  check_bleeding(watched_fill(problem), 400, 500, bleed);
}

TEST_CASE("Bleeding: two vents close one after the other, one that never closes bleeds on") {
  // From the middle to both ends of 2 m: each arm as above. With one vent shut the other goes on.
  FillProblem problem = strip({.from = -1, .to = 1, .cells = 200});
  add_vent(problem, -1).bleed = bleed;
  add_vent(problem, 1).bleed = 2 * bleed;
  const FillResult result = watched_fill(problem);
  REQUIRE(result.bleeding);
  CHECK(relative_error(result.bleeding->ended_at.value_or(0), 600) <= 2e-3);
  CHECK(relative_error(result.vents[0].bled, bleed) <= 1e-6);
  CHECK(relative_error(result.vents[1].bled, 2 * bleed) <= 1e-6);
  problem.vents[0].bleed = std::numeric_limits<double>::infinity();
  const FillResult open = watched_fill(problem);
  CHECK(relative_error(open.vents[0].bled, 2 * bleed) <= 1e-2);
  problem.vents.pop_back();
  CHECK_FALSE(watched_fill(problem).bleeding); // it has no end that could be told
}

TEST_CASE("Pressure: of a full part the field ends at the gate with what the head comes to") {
  FillProblem problem = strip();
  problem.injector.pressure_cap.reset();
  problem.injector.flow_rate = 2e-6;
  const FillResult result = watched_fill(problem);
  const double head = result.history.back().head_pressure;
  CHECK(relative_error(head, 1e5 * 2 / 1.2) <= 0.01);
  CHECK(relative_error(result.pressure[problem.gates[0].nodes.front()], head) <= 1e-9);
  // Straight down to the front: a quarter of the way three quarters of it.
  const NodeId quarter = across(problem.mesh, 0.25).front();
  CHECK(relative_error(result.pressure[quarter], 0.75 * head) <= 0.01);
}
