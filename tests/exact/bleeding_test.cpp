// What vents let out once the part is full. A strip of 1 m at 1e5 Pa is full after 400 s with
// 9.6e-4 m3; then K A dp / (mu L) = 1.2e-6 m3/s runs through it. Worked out by hand from Darcy's
// law.
#include "solver/channel.hpp"
#include "solver/channel_law.hpp"
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <optional>

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
  CHECK(relative_error(result.fill_time.value_or(0), filled_at) <= 5e-3);
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

TEST_CASE("Bleeding: beside a wide channel no step is taken for the last drop that rounding left") {
  // Flows there are known to some 1e-7. A step of 5e-11 s for the rest told thousands of bar.
  FillProblem problem = with_pressure(
      problem_on(plate({.length = 0.5, .width = 0.2, .columns = 100, .rows = 40}), {}));
  problem.gates[0].nodes = nodes_where(problem.mesh, [](const Vector3& p) { return p.x() < 1e-9; });
  const auto at_far_end = [](const Vector3& p) { return p.x() > 0.5 - 1e-9; };
  problem.vents = {{"far end", nodes_where(problem.mesh, at_far_end), 0}};
  problem.vents[0].line = {{2, 4e-3}};
  const Region lane{"fast", 4e-3, 0.5, 2e-9, 2e-9, Vector3::Zero(), 0};
  Region tight = lane;
  tight.permeability_1 = tight.permeability_2 = 2e-10;
  set_regions(problem, {lane, tight}, [](const Vector3& p) { return p.y() > 0.1 ? 1 : 0; });
  problem.resin.viscosity = 0.05;
  const std::array<NodeId, 2> corners{nearest_node(problem.mesh, {0.5, 0, 0}),
                                      nearest_node(problem.mesh, {0.5, 0.2, 0})};
  const double area = std::numbers::pi * 1e-4;
  problem.channels.push_back(
      runner("vent channel", edge_path(problem.mesh, corners), area, tube_permeability(2e-2)));
  problem.mould = Mould{Vector3::UnitZ(), 5e4};
  for (int k = 0; k < 18; ++k) {
    problem.vents[0].bleed = 6e-4 + 3.7e-5 * k;
    const FillResult result = fill(problem);
    CAPTURE(k);
    REQUIRE(result.bleeding);
    CHECK(result.bleeding->ended_at);
    CHECK(result.mould_load->peak_pressure <= 1e5 * (1 + 1e-6));
    const auto& rows = result.history;
    CHECK(rows.back().time - rows[rows.size() - 2].time > 1);
  }
}

TEST_CASE("Bleeding: the time at the cap is that of the filling") {
  // At 4e-6 m3/s the cap is met with the front at K A dp / (mu Q) = 0.3 m, after 0.3 x 240 s; it
  // goes on as x^2 = 2 D t, to 400 (1 - 0.09) s later.
  FillProblem problem = bleeding_strip();
  problem.injector.flow_rate = 4e-6;
  const FillResult result = watched_fill(problem);
  CHECK(relative_error(result.fill_time.value_or(0), 72 + 364) <= 3e-3);
  CHECK(relative_error(result.time_at_cap, 364) <= 1e-2);
  REQUIRE(result.bleeding);
  CHECK(relative_error(result.end_time - result.fill_time.value_or(0), 100) <= 2e-2);
}

TEST_CASE("Bleeding: mixed inline, long bleeding takes longer and longer steps") {
  // A thousand times the part, in which the resin becomes a steady picture: mu = mu0 exp(age / tau)
  // with age = x / v gives Q = K A dp / (mu L) z / (e^z - 1), z = V / (Q tau).
  FillProblem problem = thickening(bleeding_strip(0.96), 2500);
  problem.resin.mixing = Mixing::inline_head;
  problem.injector.stages = {{1e8, std::nullopt, std::nullopt, 2e5}};
  double z = 0.32; // V / (1.2e-6 tau)
  for (int pass = 0; pass < 100; ++pass) {
    z = 0.32 * std::expm1(z) / z;
  }
  CHECK(relative_error(z, 0.39) <= 0.02);
  const FillResult result = watched_fill(problem);
  CHECK(result.work.steps < 1200);
  REQUIRE(result.bleeding);
  CHECK(result.bleeding->ended_at);
  CHECK(relative_error(result.history.back().flow_rate, 9.6e-4 / (z * 2500)) <= 0.02);
}

TEST_CASE("Bleeding: mixed inline, what has gelled waits for a stage in one go") {
  FillProblem problem = thickening(bleeding_strip(0.96), 1000);
  problem.resin.mixing = Mixing::inline_head;
  problem.resin.gel_time = 600; // it thickens on its way, so that this takes longer and longer
  problem.injector.stages = {{1e6, std::nullopt, std::nullopt, 1e5}};
  const FillResult result = watched_fill(problem);
  CHECK(result.work.steps < 600);
  REQUIRE(result.bleeding);
  CHECK(result.bleeding->reason == ShortReason::gel);
}

TEST_CASE("Bleeding: mixed inline, the oldest resin goes out first") {
  // At 2e-6 m3/s the part is full after 480 s and holds resin of 0 to 480 s from then on: in the
  // 480 s in which as much runs out nothing becomes 700 s old.
  FillProblem problem = bleeding_strip(9.6e-4);
  problem.injector = {2e-6, std::nullopt};
  problem.resin.mixing = Mixing::inline_head;
  problem.resin.gel_time = 700;
  const FillResult flows = watched_fill(problem);
  REQUIRE(flows.bleeding);
  CHECK(relative_error(flows.bleeding->ended_at.value_or(0), 960) <= 3e-3);
  REQUIRE(flows.age);
  CHECK(relative_error(flows.age->oldest, 480) <= 0.02);
  CHECK(relative_error(flows.age->mean, 240) <= 0.02);
  CHECK_FALSE(flows.age->first_gel);
  // At a quarter of that once it is full: what leaves at t came in at (t - 480) / 4, and is 700 s
  // old at 773 s.
  problem.injector.stages = {{480, std::nullopt, 5e-7, 1e6}};
  const FillResult slow = fill(problem); // gelled cells stand beside fresh ones
  REQUIRE(slow.age);
  REQUIRE(slow.age->first_gel);
  CHECK(relative_error(slow.age->first_gel->time, 773) <= 0.03);
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
