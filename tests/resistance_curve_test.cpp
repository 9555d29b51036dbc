// When one filling tells all others, and that it tells them right.
#include "solver/resistance_curve.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// 0.6 m x 0.4 m in two halves of different K, one of plies that push the mould open, a round port
/// off the middle behind a hose.
FillProblem plate_with_hose() {
  FillProblem problem = problem_on(
      plate({.length = 0.6, .width = 0.4, .columns = 48, .rows = 32, .jitter = 0.2, .seed = 3}),
      {});
  set_regions(problem,
              {{"near", 0.004, 0.8, 2e-9, 8e-10, Vector3::UnitX(), 0.4},
               {"far", 0.003, 0.6, 7e-10, 7e-10, Vector3::Zero(), 0}},
              [](const Vector3& x) { return x.x() < 0.35 ? 0 : 1; });
  problem.gates.front().radius = 0.03;
  problem.gates.front().centre = Vector3(0.15, 0.2, 0);
  problem.gates.front().nodes = nodes_where(
      problem.mesh, [](const Vector3& x) { return (x - Vector3(0.15, 0.2, 0)).norm() <= 0.03; });
  problem.injector.line = {{2, 0.006}};
  problem.regions[1].fibre_pressure = 0.6e5; // 6 kN on 0.1 m2, where 1 bar of resin does 15 kN
  problem.mould = Mould{Vector3::UnitZ(), 1e5};
  return problem;
}

FillFigures full_run(FillProblem problem, const PumpSetting& setting) {
  problem.injector.flow_rate = setting.flow_rate;
  problem.injector.pressure_cap = setting.pressure_cap;
  return fill_figures(problem, fill(problem));
}

} // namespace

TEST_CASE("resistance curve: every setting as in a full run, on a plate with a hose") {
  FillProblem problem = plate_with_hose();
  const CurveAttempt attempt = resistance_curve(problem, {});
  REQUIRE(attempt.curve);
  CHECK(!attempt.obstacle);
  // From the cap at once to the cap never reached.
  for (const PumpSetting setting :
       {PumpSetting{2e-5, 1e5}, PumpSetting{3e-6, 1e5}, PumpSetting{1.2e-6, 1e5},
        PumpSetting{2e-6, 3e5}, PumpSetting{1e-6, 5e5}}) {
    CAPTURE(setting.flow_rate);
    const FillFigures by_curve = fill_by_curve(*attempt.curve, problem.resin, setting);
    const FillFigures by_run = full_run(problem, setting);
    REQUIRE(by_curve.fill_time);
    REQUIRE(by_run.fill_time);
    CHECK(relative_error(*by_curve.fill_time, *by_run.fill_time) <= 5e-4);
    REQUIRE(by_curve.peak_force);
    if (setting.pressure_cap < 2e5) { // met well before the end
      CHECK(by_curve.peak_head_pressure == 1e5);
      CHECK(by_run.peak_head_pressure == 1e5);
      REQUIRE(by_curve.time_cap_reached);
      REQUIRE(by_run.time_cap_reached);
      CHECK(std::abs(*by_curve.time_cap_reached - *by_run.time_cap_reached) <=
            0.01 * *by_run.fill_time);
      CHECK(relative_error(*by_curve.peak_force, *by_run.peak_force) <= 0.05);
    }
  }
  // Another viscosity, from the same curve; and one that rises, of a batch.
  problem.resin.viscosity = 0.35;
  CHECK(relative_error(*fill_by_curve(*attempt.curve, problem.resin, {2e-6, 1e5}).fill_time,
                       *full_run(problem, {2e-6, 1e5}).fill_time) <= 5e-4);
  problem.resin.thickening = ExponentialThickening{1500};
  problem.resin.mixed_before = 100;
  const FillFigures ages = fill_by_curve(*attempt.curve, problem.resin, {2e-6, 3e5});
  const FillFigures ages_in_full = full_run(problem, {2e-6, 3e5});
  REQUIRE(ages.fill_time);
  REQUIRE(ages_in_full.fill_time);
  CHECK(relative_error(*ages.fill_time, *ages_in_full.fill_time) <= 2e-3);
}

TEST_CASE("resistance curve: few steps tell the fill time nearly as well as many") {
  const FillProblem problem = plate_with_hose();
  const CurveAttempt coarse = resistance_curve(problem, {.steps = 50});
  const CurveAttempt fine = resistance_curve(problem, {.steps = 400});
  for (const double flow : {1e-6, 2e-6, 4e-6}) {
    CHECK(relative_error(*fill_by_curve(*coarse.curve, problem.resin, {flow, 1e5}).fill_time,
                         *fill_by_curve(*fine.curve, problem.resin, {flow, 1e5}).fill_time) <=
          2e-3);
  }
}

TEST_CASE("resistance curve: gel, time limit and a cap below the air") {
  // x = Q t / (phi A): 480 s at 2e-6 m3/s, cap beyond what is needed.
  FillProblem problem = strip({.cells = 60});
  const CurveAttempt attempt = resistance_curve(problem, {});
  REQUIRE(attempt.curve);
  problem.resin.gel_time = 300;
  problem.resin.mixed_before = 60;
  const FillFigures gels = fill_by_curve(*attempt.curve, problem.resin, {2e-6, 1e6});
  CHECK(gels.reason == ShortReason::gel);
  CHECK(relative_error(gels.end_time, 240) <= 1e-9);
  CHECK(relative_error(gels.filled_fraction, 0.5) <= 1e-6);
  const FillFigures late = fill_by_curve(*attempt.curve, problem.resin, {2e-6, 1e6}, 120);
  CHECK(late.reason == ShortReason::time_limit);
  CHECK(relative_error(late.filled_fraction, 0.25) <= 1e-6);
  problem.resin.gel_time = 600;
  const FillFigures fills = fill_by_curve(*attempt.curve, problem.resin, {2e-6, 1e6});
  CHECK(fills.reason == ShortReason::none);
  CHECK(relative_error(*fills.fill_time, 480) <= 1e-9);
  CHECK(relative_error(*fills.gel_share, 540.0 / 600) <= 1e-9);
  CHECK(relative_error(fills.peak_head_pressure, 166666.667) <= 3e-3); // mu Q L / (K A)
  const FillFigures stalls = fill_by_curve(*attempt.curve, problem.resin, {2e-6, 0.0});
  CHECK(stalls.reason == ShortReason::pressure);
  CHECK(!stalls.fill_time);
}

TEST_CASE("resistance curve: none where the wet shape is not a matter of volume") {
  const auto obstacle = [](const std::function<void(FillProblem&)>& change) {
    FillProblem problem = strip({.cells = 20});
    add_vent(problem, 1);
    change(problem);
    const CurveAttempt attempt = resistance_curve(problem, {});
    CHECK(!attempt.curve);
    REQUIRE(attempt.obstacle);
    return *attempt.obstacle;
  };
  CHECK(obstacle([](FillProblem& p) {
          p.heat = Heat{300, 320, 100, 1800, 800};
        }) == CurveObstacle::heat);
  CHECK(obstacle([](FillProblem& p) {
          p.resin.thickening = ExponentialThickening{300};
          p.resin.mixing = Mixing::inline_head;
        }) == CurveObstacle::inline_ageing);
  CHECK(obstacle([](FillProblem& p) { p.gravity = Vector3(0, 0, -9.8); }) ==
        CurveObstacle::gravity);
  CHECK(obstacle([](FillProblem& p) {
          add_gate(p, 0.5).own_injector = Injector{std::nullopt, 2e5};
        }) == CurveObstacle::several_pumps);
  CHECK(obstacle([](FillProblem& p) {
          p.injector.stages = {{60, std::nullopt, std::nullopt, 5e4}};
        }) == CurveObstacle::schedule);
  CHECK(obstacle([](FillProblem& p) { add_gate(p, 0.5).opens.time = 20; }) ==
        CurveObstacle::switched_gates);
  CHECK(obstacle([](FillProblem& p) { p.vents.front().bleed = 1e-5; }) == CurveObstacle::bleeding);
  CHECK(obstacle([](FillProblem& p) { add_vent(p, 0.5, -1e4); }) == CurveObstacle::vent_pressures);
  CHECK(obstacle([](FillProblem& p) { // the far half has no vent
          p.sealed_air = true;
          p.vents.front().nodes = across(p.mesh, 0.5);
        }) == CurveObstacle::shut_in_air);
  CHECK(obstacle([](FillProblem& p) { // a second piece that no gate reaches
          p.mesh = welded(
              {p.mesh, [] {
                 ShellMesh other = plate({.columns = 2, .rows = 2});
                 deform(other, [](const Vector3& x) -> Vector3 { return x + Vector3(0, 5, 0); });
                 return other;
               }()});
          p.element_region =
              PerElement<RegionId>(p.mesh.elements.size(), p.element_region[ElementId(0)]);
        }) == CurveObstacle::out_of_reach);
}

TEST_CASE(
    "resistance curve: gates on one pump and a gel time of resin mixed inline are no obstacle") {
  FillProblem problem = strip({.cells = 60});
  add_gate(problem, 0.5);
  problem.resin.gel_time = 200;
  problem.resin.mixing = Mixing::inline_head;
  const CurveAttempt attempt = resistance_curve(problem, {});
  REQUIRE(attempt.curve);
  for (const double cap : {2e4, 1e5}) {
    const FillFigures by_curve = fill_by_curve(*attempt.curve, problem.resin, {4e-6, cap});
    const FillFigures by_run = full_run(problem, {4e-6, cap});
    CHECK(by_curve.reason == by_run.reason);
    CHECK(relative_error(by_curve.end_time, by_run.end_time) <= 1e-3);
    CHECK(relative_error(by_curve.filled_fraction, by_run.filled_fraction) <= 3e-3);
  }
}
