// Why a filling ends, and what it leaves dry.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// A strip 1 m x 0.3 m that fills from x = 0 in 400 s at 1e5 Pa (x^2 = 2 D t, D = 1.25e-3 m2/s).
FillProblem strip_problem() {
  ShellMesh mesh =
      plate({.length = 1, .width = 0.3, .columns = 50, .rows = 15, .jitter = 0.2, .seed = 61});
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; });
  return with_pressure(problem_on(std::move(mesh), gate));
}

double dry_volume(const FillResult& result) {
  double volume = 0;
  for (const DrySpot& spot : result.dry_spots) {
    volume += spot.volume;
  }
  return volume;
}

} // namespace

TEST_CASE("A pump far too fast for the part meets its cap at once: the part fills all the same") {
  FillProblem problem = strip_problem();
  problem.injector.flow_rate = 1; // fills the gate's cells in 0.1 ms
  const CheckedFill result = checked_fill(problem);
  CHECK(result.verdict == Verdict::filled);
  CHECK(relative_error(result.end_time, 400) <= 5e-3);
}

TEST_CASE("Gel before the end: short at that time, the far end dry") {
  FillProblem problem = strip_problem();
  problem.resin.gel_time = 256; // x = 0.8 m
  const CheckedFill result = checked_fill(problem);
  CHECK(result.verdict == Verdict::short_fill);
  CHECK(result.reason == ShortReason::gel);
  CHECK_FALSE(result.fill_time);
  CHECK(result.end_time == doctest::Approx(256).epsilon(1e-12));
  CHECK(relative_error(result.filled_fraction, 0.8) <= 2e-3);
  REQUIRE(result.dry_spots.size() == 1);
  CHECK(relative_error(result.dry_spots[0].volume, 0.2 * 0.3 * 4e-3 * 0.8) <= 0.01);
  CHECK(std::abs(result.dry_spots[0].position.x() - 0.9) <= 0.03);
  CHECK(result.dry_spots[0].air_pressure == 0);
  CHECK(relative_error(dry_volume(result) + result.resin_in_part, result.pore_volume) <= 1e-9);
  for (const NodeId node : problem.mesh.positions.ids()) {
    const double x = problem.mesh.positions[node].x();
    if (x > 0.83) {
      CHECK(std::isnan(result.fill_time_field[node]));
    } else if (x < 0.77) {
      CHECK(result.fill_time_field[node] < 256);
    }
  }
}

TEST_CASE("Gel after the end does not matter") {
  FillProblem problem = strip_problem();
  problem.resin.gel_time = 401;
  const CheckedFill result = checked_fill(problem);
  CHECK(result.verdict == Verdict::filled);
  CHECK(result.reason == ShortReason::none);
  CHECK(result.dry_spots.empty());
}

TEST_CASE("Time limit") {
  SUBCASE("before the end") {
    const CheckedFill result = checked_fill(strip_problem(), {.steps = 100, .time_limit = 36});
    CHECK(result.verdict == Verdict::short_fill);
    CHECK(result.reason == ShortReason::time_limit);
    CHECK(result.end_time == doctest::Approx(36).epsilon(1e-12));
    CHECK(relative_error(result.filled_fraction, 0.3) <= 5e-3);
  }
  SUBCASE("within the very first cells, at a flow rate") {
    const CheckedFill result =
        checked_fill(with_flow(strip_problem(), 2e-6), {.steps = 100, .time_limit = 1});
    CHECK(result.reason == ShortReason::time_limit);
    CHECK(relative_error(result.injected, 2e-6) <= 1e-12);
    CHECK(relative_error(result.resin_in_part, 2e-6) <= 1e-9);
  }
  SUBCASE("after the end") {
    const CheckedFill result = checked_fill(strip_problem(), {.steps = 100, .time_limit = 1000});
    CHECK(result.verdict == Verdict::filled);
  }
  SUBCASE("before gel") {
    FillProblem problem = strip_problem();
    problem.resin.gel_time = 50;
    CHECK(checked_fill(problem, {.steps = 100, .time_limit = 36}).reason ==
          ShortReason::time_limit);
    CHECK(checked_fill(problem, {.steps = 100, .time_limit = 64}).reason == ShortReason::gel);
  }
}

TEST_CASE("A cap at or below the front pressure moves nothing") {
  for (const double cap : {-1e4, -2e4}) {
    CAPTURE(cap);
    FillProblem problem = with_flow_and_cap(strip_problem(), 2e-6, cap);
    problem.cavity_pressure = -1e4;
    const CheckedFill result = checked_fill(problem);
    CHECK(result.verdict == Verdict::short_fill);
    CHECK(result.reason == ShortReason::pressure);
    CHECK(result.injected == 0);
    CHECK(result.filled_fraction == 0);
    REQUIRE(result.dry_spots.size() == 1);
    CHECK(relative_error(result.dry_spots[0].volume, result.pore_volume) <= 1e-9);
    CHECK(result.dry_spots[0].air_pressure == -1e4);
  }
}

TEST_CASE("A separate piece without a gate is not reached") {
  ShellMesh other = plate({.length = 0.4, .width = 0.2, .columns = 8, .rows = 4});
  deform(other, [](const Vector3& x) { return Vector3(x + Vector3(0, 1, 0)); });
  ShellMesh mesh = welded({strip_problem().mesh, other});
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0 && x.y() < 0.5; });
  const FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  const CheckedFill result = checked_fill(problem);
  CHECK(result.verdict == Verdict::short_fill);
  CHECK(result.reason == ShortReason::no_path);
  CHECK(relative_error(result.end_time, 400.0) <= 2e-3);
  REQUIRE(result.dry_spots.size() == 1);
  CHECK(relative_error(result.dry_spots[0].volume, 0.4 * 0.2 * 4e-3 * 0.8) <= 1e-9);
  CHECK((result.dry_spots[0].position - Vector3(0.2, 1.1, 0)).norm() <= 0.05);
  CHECK(relative_error(result.filled_fraction, 0.3 / (0.3 + 0.08)) <= 1e-9);
  for (const NodeId node : problem.mesh.positions.ids()) {
    if (problem.mesh.positions[node].y() > 0.5) {
      CHECK(std::isnan(result.fill_time_field[node]));
      CHECK(result.fill_fraction[node] == 0);
    }
  }
}

TEST_CASE("Air shut in on the piece with the gate is told before a piece without one") {
  ShellMesh other = plate({.length = 0.4, .width = 0.2, .columns = 8, .rows = 4});
  deform(other, [](const Vector3& x) { return Vector3(x + Vector3(0, 1, 0)); });
  ShellMesh mesh = welded({strip_problem().mesh, other});
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0 && x.y() < 0.5; });
  const auto vent = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0 && x.y() > 0.5; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  problem.sealed_air = true;
  problem.ambient = 101325;
  problem.vents = {{"V1", vent, 0}}; // on the piece without a gate: the strip's air has no way out
  const FillResult result = fill(problem);
  CHECK(result.verdict == Verdict::short_fill);
  CHECK(result.reason == ShortReason::trapped_air);
  REQUIRE(result.dry_spots.size() == 2);
}

TEST_CASE("What stays half full at the end is not among the last places to fill") {
  FillProblem problem = strip_problem();
  problem.sealed_air = true;
  problem.ambient = 101325;
  problem.vents = {{"V1", problem.gates[0].nodes, 0}}; // beside the gate: shut at once
  const FillResult result = fill(problem);
  CHECK(result.reason == ShortReason::trapped_air);
  for (const LastFilled& place : result.last_filled) {
    CHECK(result.fill_fraction[place.node] > 1 - 1e-6);
  }
}

TEST_CASE("Two pieces with a gate each fill from the one head") {
  ShellMesh other = plate({.length = 0.5, .width = 0.2, .columns = 25, .rows = 10});
  deform(other, [](const Vector3& x) { return Vector3(x + Vector3(0, 1, 0)); });
  ShellMesh mesh = welded({strip_problem().mesh, other});
  const auto first = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0 && x.y() < 0.5; });
  const auto second = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0 && x.y() > 0.5; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), first));
  problem.gates.push_back({"G2", second, Vector3::Zero(), std::nullopt});
  const CheckedFill result = checked_fill(problem);
  CHECK(result.verdict == Verdict::filled);
  CHECK(relative_error(result.fill_time.value_or(0), 400.0) <= 2e-3);
  REQUIRE(result.gates.size() == 2);
  CHECK(relative_error(result.gates[0].injected, 0.3 * 4e-3 * 0.8) <= 1e-8);
  CHECK(relative_error(result.gates[1].injected, 0.5 * 0.2 * 4e-3 * 0.8) <= 1e-8);
  CHECK(relative_error(result.gates[0].injected + result.gates[1].injected, result.injected) <=
        1e-9);
  // The shorter piece is full after 0.25 / (2 D) = 100 s, and is listed among the last places.
  bool is_listed = false;
  for (const LastFilled& place : result.last_filled) {
    const Vector3 at = problem.mesh.positions[place.node];
    if (at.y() > 0.5) {
      is_listed = true;
      CHECK(at.x() == 0.5);
      CHECK(std::abs(place.time - 100) <= 4);
    }
  }
  CHECK(is_listed);
}

TEST_CASE("A watcher that returns false stops the filling there") {
  int calls = 0;
  const FillResult result = fill(strip_problem(), {}, [&](const StepReport& report) {
    ++calls;
    CHECK(report.step == calls);
    CHECK_FALSE(report.is_last);
    CHECK(report.row.filled_fraction > 0);
    return calls < 12;
  });
  CHECK(calls == 12);
  CHECK(result.work.steps == 12);
  CHECK(result.verdict == Verdict::short_fill);
  CHECK(result.reason == ShortReason::interrupted);
  CHECK_FALSE(result.fill_time);
  CHECK(result.filled_fraction == doctest::Approx(result.history.back().filled_fraction));
  CHECK(result.dry_spots.size() == 1);
  CHECK(std::abs(result.mass_balance_error) <= 1e-8);
}

TEST_CASE("The watcher sees the last step as the last") {
  int last_calls = 0;
  int calls = 0;
  const FillResult result = fill(strip_problem(), {}, [&](const StepReport& report) {
    ++calls;
    last_calls += report.is_last ? 1 : 0;
    return true;
  });
  CHECK(last_calls == 1);
  CHECK(calls == result.work.steps);
  CHECK(calls == static_cast<int>(result.history.size()));
  CHECK(result.history.back().filled_fraction == doctest::Approx(1));
  CHECK(result.history.back().time == result.end_time);
}

TEST_CASE("An interrupt at the last step leaves a filled part filled") {
  const FillResult result =
      fill(strip_problem(), {}, [](const StepReport& report) { return !report.is_last; });
  CHECK(result.verdict == Verdict::filled);
  CHECK(result.reason == ShortReason::none);
}

TEST_CASE("A gate on every node is full at once at a pressure, after V / Q at a flow rate") {
  ShellMesh mesh = plate({.length = 0.2, .width = 0.1, .columns = 2, .rows = 1});
  const auto all = nodes_where(mesh, [](const Vector3&) { return true; });
  const FillProblem problem = problem_on(std::move(mesh), all);
  const CheckedFill by_flow = checked_fill(with_flow(problem, 1e-6));
  CHECK(by_flow.verdict == Verdict::filled);
  CHECK(relative_error(by_flow.fill_time.value_or(0), 0.2 * 0.1 * 4e-3 * 0.8 / 1e-6) <= 1e-12);
}
