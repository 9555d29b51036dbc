// The opening force of pressure fields known in closed form. The formulas for a round part come
// from integrating the logarithm by hand.
#include "solver/mould_load.hpp"

#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <numbers>
#include <numeric>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

FillProblem with_mould(ShellMesh mesh, double hold_down = 1e9,
                       const Vector3& direction = Vector3::UnitZ()) {
  FillProblem problem = with_pressure(problem_on(std::move(mesh), {NodeId(0)}));
  problem.mould = Mould{direction, hold_down};
  return problem;
}

PerNode<double> field(const FillProblem& problem,
                      const std::function<double(const Vector3&)>& value) {
  PerNode<double> result;
  for (const Vector3& x : problem.mesh.positions) {
    result.push_back(value(x));
  }
  return result;
}

PerNode<double> uniform(const FillProblem& problem, double pressure) {
  return PerNode<double>(problem.mesh.positions.size(), pressure);
}

MouldLoadMeter meter_of(const FillProblem& problem) {
  return {problem, uniform(problem, 0)};
}

/// A disc of 0.5 m with fine rings round a gate of 0.01 m.
ShellMesh disc_with_fine_middle() {
  return welded({disc(0.01, 16), annulus(0.01, 0.5, 120, 96, 2 * pi)});
}

} // namespace

TEST_CASE("mould load: a flat plate under constant pressure, of triangles or quadrilaterals") {
  for (const bool quads : {false, true}) {
    const FillProblem problem = with_mould(plate({.length = 1.2,
                                                  .width = 0.5,
                                                  .columns = 7,
                                                  .rows = 5,
                                                  .jitter = 0.2,
                                                  .seed = 1,
                                                  .quads = quads}));
    const MouldLoadMeter meter = meter_of(problem);
    CHECK(relative_error(meter.load().at_rest.projected_area, 0.6) <= 1e-12);
    CHECK(relative_error(meter.opening_force(uniform(problem, 1e5)), 6e4) <= 1e-12);
    CHECK(relative_error(meter.opening_force(uniform(problem, -5e4)), -3e4) <= 1e-12);
  }
}

TEST_CASE("mould load: the sign of neither the normals nor the direction matters") {
  FillProblem problem = with_mould(plate({.length = 1, .width = 1, .columns = 4, .rows = 4}));
  for (const ElementId element : problem.mesh.elements.ids()) {
    if (element.value() % 3 == 0) {
      std::swap(problem.mesh.elements[element].nodes[0], problem.mesh.elements[element].nodes[1]);
    }
  }
  problem.mould->closing_direction = -Vector3::UnitZ();
  CHECK(relative_error(meter_of(problem).load().at_rest.projected_area, 1) <= 1e-12);
}

TEST_CASE("mould load: a plate tilted by 60 degrees counts by half, one along the direction not") {
  ShellMesh mesh = plate({.length = 1, .width = 0.8, .columns = 5, .rows = 4});
  move_rigidly(mesh, Vector3::UnitY(), pi / 3, {1, 2, 3});
  const FillProblem tilted = with_mould(mesh);
  CHECK(relative_error(meter_of(tilted).opening_force(uniform(tilted, 1e5)), 4e4) <= 1e-12);
  const FillProblem along = with_mould(mesh, 1e9, Vector3::UnitY());
  CHECK(std::abs(meter_of(along).opening_force(uniform(along, 1e5))) <= 1e-9);
}

TEST_CASE("mould load: a hemisphere is seen as its disc") {
  const double radius = 0.5;
  ShellMesh mesh = disc(pi / 2 * radius, 60);
  wrap_on_sphere(mesh, radius);
  const FillProblem problem = with_mould(std::move(mesh));
  const MouldLoadMeter meter = meter_of(problem);
  // The rim is a polygon of 360 corners: 5e-5 less than the circle.
  const double expected = pi * radius * radius;
  CHECK(relative_error(meter.load().at_rest.projected_area, expected) <= 1e-4);
  CHECK(meter.load().at_rest.projected_area < expected);
  CHECK(relative_error(meter.opening_force(uniform(problem, 2e5)), 2e5 * expected) <= 1e-4);
}

TEST_CASE("mould load: full strip fed at one end, dp w L / 2") {
  const FillProblem problem =
      with_mould(plate({.length = 1, .width = 0.3, .columns = 50, .rows = 15}));
  const auto pressure = field(problem, [](const Vector3& x) { return 1e5 * (1 - x.x()); });
  CHECK(relative_error(meter_of(problem).opening_force(pressure), 15000.0) <= 1e-9);
}

TEST_CASE("mould load: full disc fed in the middle, pi dp (R^2 - r0^2) / (2 ln(R / r0))") {
  const FillProblem problem = with_mould(disc_with_fine_middle());
  const auto pressure = field(problem, [](const Vector3& x) {
    return 1e5 * std::min(1.0, std::log(0.5 / x.norm()) / std::log(0.5 / 0.01));
  });
  CHECK(relative_error(meter_of(problem).opening_force(pressure), 10034.2458) <= 2e-3);
}

TEST_CASE("mould load: disc fed round its rim, the front at 0.1 m") {
  // pi dp [R0^2 - (R0^2 - r^2) / (2 ln(R0 / r))]
  const FillProblem problem =
      with_mould(welded({annulus(0.1, 0.5, 80, 240, 2 * pi), annulus(0.01, 0.1, 20, 240, 2 * pi)}));
  const auto pressure = field(problem, [](const Vector3& x) {
    return 1e5 * std::max(0.0, 1 - std::log(0.5 / x.norm()) / std::log(0.5 / 0.1));
  });
  CHECK(relative_error(meter_of(problem).opening_force(pressure), 55116.0411) <= 1e-3);
}

TEST_CASE("mould load: a lid held by vacuum lifts at a mean cavity pressure of 124156.25 Pa abs") {
  // p_atm + (p_atm - p_flange) A_flange / A_cavity: flange at 10 kPa abs, a quarter of the cavity's
  // area of 2 m2.
  const double ambient = 101325;
  const double hold_down = (ambient - 10e3) * 0.25 * 2;
  const FillProblem problem =
      with_mould(plate({.length = 2, .width = 1, .columns = 8, .rows = 4}), hold_down);
  // Pressure falling along x about its mean.
  const auto with_mean = [&](double absolute) {
    return field(problem,
                 [=](const Vector3& x) { return (absolute - ambient) + 3e4 * (1 - x.x()); });
  };
  MouldLoadMeter below = meter_of(problem);
  below.after_step(10, with_mean(124156.25 - 1), 1e-5, 1e5);
  CHECK_FALSE(below.load().lifts_at);
  CHECK_FALSE(below.load().head_pressure_at_lift);
  CHECK(below.load().hold_down_force == hold_down);
  MouldLoadMeter above = meter_of(problem);
  above.after_step(10, with_mean(124156.25 + 1), 1e-5, 1e5);
  CHECK(above.load().lifts_at);
}

TEST_CASE("mould load: peaks, end and the moment of lifting through a filling") {
  // 1 m2. The force rises by 100 N a second, its means over the steps stand at mid-step.
  const FillProblem problem =
      with_mould(plate({.length = 1, .width = 1, .columns = 3, .rows = 3}), 2700);
  MouldLoadMeter meter = meter_of(problem);
  CHECK(meter.after_step(10, uniform(problem, 500), 1e-5, 1e4) == doctest::Approx(500));
  CHECK(meter.after_step(30, uniform(problem, 2000), 1e-5, 3e4) == doctest::Approx(2000));
  CHECK_FALSE(meter.load().lifts_at);
  meter.after_step(40, uniform(problem, 3500), 1e-5, 4e4);
  // 2000 N at 20 s, 3500 N at 35 s: 2700 N at 27 s, still in the step that ended at 30 s.
  CHECK(meter.load().lifts_at.value_or(0) == doctest::Approx(27));
  CHECK(meter.load().head_pressure_at_lift.value_or(0) == doctest::Approx(3e4));
  PerNode<double> pressure = uniform(problem, 1000);
  pressure[NodeId(0)] = 9000; // a corner has a sixth of a cell or a third, of 1/9 m2
  meter.after_step(50, pressure, 1e-5, 2e4);
  CHECK(meter.load().peak_force == doctest::Approx(3500));
  CHECK(meter.load().peak_force_at == 40);
  CHECK(meter.load().end_force == doctest::Approx(1000 + 8000.0 / 27));
  CHECK(meter.load().peak_pressure == 9000);
  CHECK(meter.load().lifts_at.value_or(0) == doctest::Approx(27));
}

TEST_CASE("mould load: head pressure at lifting between the ends of two steps") {
  const FillProblem problem =
      with_mould(plate({.length = 1, .width = 1, .columns = 3, .rows = 3}), 3000);
  MouldLoadMeter meter = meter_of(problem);
  meter.after_step(10, uniform(problem, 500), 1e-5, 1e4);
  meter.after_step(50, uniform(problem, 5500), 1e-5, 5e4);
  // 500 N at 5 s, 5500 N at 30 s: 3000 N at 17.5 s, where the head is at 1.75e4 Pa.
  CHECK(meter.load().lifts_at.value_or(0) == doctest::Approx(17.5));
  CHECK(meter.load().head_pressure_at_lift.value_or(0) == doctest::Approx(1.75e4));
}

TEST_CASE("mould load: in a last layer that waits for long the force stays within the pressures") {
  const FillProblem problem =
      with_mould(plate({.length = 2, .width = 0.5, .columns = 4, .rows = 2}));
  MouldLoadMeter meter = meter_of(problem); // 1 m2
  for (int step = 1; step <= 10; ++step) {  // 5e3 N more with each second
    meter.after_step(step, uniform(problem, 5e3 * step), 0.1, 1e5);
  }
  // The means lie at 0.5 s, 1.5 s, ...: at 10.5 s the line is at 55 kN.
  CHECK(meter.in_last_layer(10.5, 11, 0.1, 1.2e5, 1e5) == doctest::Approx(55e3));
  // A hundred seconds later it would be at 555 kN, but 1 bar on 1 m2 is 100 kN.
  CHECK(meter.in_last_layer(110.5, 200, 0.1, 1.2e5, 1e5) == doctest::Approx(1e5));
  CHECK(meter.load().peak_force == doctest::Approx(1e5));
}

TEST_CASE("mould load: from the vacuum before the injection") {
  const FillProblem problem =
      with_mould(plate({.length = 1, .width = 1, .columns = 3, .rows = 3}), 0);
  MouldLoadMeter meter(problem, uniform(problem, -5e4));
  CHECK(meter.load().peak_force == doctest::Approx(-5e4));
  CHECK(meter.load().peak_force_at == 0);
  CHECK(meter.load().peak_pressure == -5e4);
  meter.after_step(10, uniform(problem, -6e4), 1e-5, 0);
  CHECK(meter.load().peak_force == doctest::Approx(-5e4));
  CHECK(meter.load().end_force == doctest::Approx(-6e4));
  CHECK_FALSE(meter.load().lifts_at);
  const MouldLoadMeter gaping(problem, uniform(problem, 1e4));
  CHECK(gaping.load().lifts_at == 0);
}

TEST_CASE("mould load: the fibres push on top of the resin, whatever its pressure") {
  // 0.48 bar on 1 m2 are 48 kN; with 0.5 bar of resin on it 98 kN (total stress is that on the
  // fibres plus the pressure of the fluid: Terzaghi 1943, Theoretical Soil Mechanics, from memory).
  ShellMesh mesh = plate({.length = 1, .width = 1, .columns = 6, .rows = 4, .quads = true});
  FillProblem problem = with_mould(mesh, 60e3);
  problem.regions[0].fibre_pressure = 0.48e5;
  const FibrePush push = fibre_push(problem);
  CHECK(relative_error(push.force, 48e3) <= 1e-12);
  CHECK(relative_error(push.counted_area, 1) <= 1e-12);
  CHECK(push.uncounted_area == 0);
  MouldLoadMeter meter = meter_of(problem);
  CHECK(relative_error(meter.load().peak_force, 48e3) <= 1e-12); // before anything flows
  CHECK(relative_error(meter.opening_force(uniform(problem, 0.5e5)), 98e3) <= 1e-12);
  CHECK(relative_error(meter.opening_force(uniform(problem, -0.4e5)), 8e3) <= 1e-12);
  // From 48 kN at 0 s to 98 kN at the middle of the step, 60 kN are passed after 12 of 50.
  meter.after_step(10, uniform(problem, 0.5e5), 1e-3, 1e5);
  CHECK(relative_error(meter.load().lifts_at.value_or(0), 5 * 12.0 / 50) <= 1e-9);
  // Tilted by 60 degrees half of the area faces the halves, and of the push as of the resin.
  move_rigidly(mesh, Vector3::UnitY(), pi / 3, {1, 2, 3});
  FillProblem tilted = with_mould(mesh);
  tilted.regions[0].fibre_pressure = 0.48e5;
  CHECK(relative_error(fibre_push(tilted).force, 24e3) <= 1e-12);
}

TEST_CASE("mould load: fibres of which no compaction is known are told, gaps have none") {
  FillProblem problem = with_mould(plate({.length = 1, .width = 1, .columns = 4, .rows = 4}), 60e3);
  CHECK(relative_error(fibre_push(problem).uncounted_area, 1) <= 1e-12);
  CHECK(fibre_push(problem).force == 0);
  problem.regions[0].fibre_volume_fraction = 0; // an open gap
  CHECK(fibre_push(problem).uncounted_area == 0);
  problem.mould.reset();
  CHECK(fibre_push(problem).counted_area == 0);
}

TEST_CASE("mould load: what the last layer tells stays within what fibres and cap can do") {
  FillProblem problem = with_mould(plate({.length = 1, .width = 1, .columns = 4, .rows = 4}), 1e9);
  problem.regions[0].fibre_pressure = 0.2e5;
  MouldLoadMeter meter = meter_of(problem);
  meter.after_step(1, uniform(problem, 0.1e5), 1e-3, 0.5e5);
  meter.after_step(2, uniform(problem, 0.4e5), 1e-3, 0.5e5);
  // The line through 30 kN at 0.5 s and 60 kN at 1.5 s passes 70 kN: 20 kN of fibres, 0.5 bar.
  CHECK(relative_error(meter.in_last_layer(4, 4, 1e-3, 0.5e5, 0.5e5), 70e3) <= 1e-12);
}

TEST_CASE("mould load: of a tube each half of the mould feels one wall, not both") {
  // Round a core, 1 m long with a radius of 0.2 m: 0.4 m2 are seen, both walls face 0.8 m2.
  ShellMesh mesh = plate({.length = 2 * pi * 0.2, .width = 1, .columns = 32, .rows = 8});
  roll_on_cylinder(mesh, 0.2);
  FillProblem problem = with_mould(std::move(mesh));
  problem.regions[0].fibre_pressure = 0.3e5;
  const HalfAreas areas = half_areas(problem.mesh, Vector3::UnitZ());
  CHECK(relative_error(areas.projected_area, 0.4) <= 1e-9);
  CHECK(relative_error(areas.faces, 0.8) <= 1e-9);
  const MouldLoadMeter meter = meter_of(problem);
  CHECK(relative_error(meter.load().at_rest.projected_area, 0.4) <= 1e-9);
  CHECK(relative_error(meter.opening_force(uniform(problem, 1e5)), 40e3 + 12e3) <= 1e-9);
  // Along its axis next to nothing of it is seen, and nothing hides anything.
  CHECK(half_areas(problem.mesh, Vector3::UnitY()).lower.empty());
}

TEST_CASE("mould load: of two plates behind each other the harder pressed half counts") {
  // 1 m2 below, half of it covered by a plate of 0.5 m2. Above: the small plate and what it leaves
  // of the large one; below: the large one.
  ShellMesh small = plate({.length = 0.5, .width = 1, .columns = 5, .rows = 10});
  move_rigidly(small, Vector3::UnitZ(), 0, {0, 0, 0.1});
  const FillProblem problem =
      with_mould(welded({plate({.length = 1, .width = 1, .columns = 10, .rows = 10}), small}));
  const MouldLoadMeter meter = meter_of(problem);
  CHECK(relative_error(meter.load().at_rest.projected_area, 1) <= 1e-9);
  CHECK(relative_error(meter.opening_force(uniform(problem, 1e5)), 1e5) <= 1e-9);
  const auto only = [&](bool is_small) {
    return field(problem, [=](const Vector3& x) { return (x.z() > 0.05) == is_small ? 1e5 : 0.0; });
  };
  CHECK(relative_error(meter.opening_force(only(true)), 50e3) <= 1e-9);
  CHECK(relative_error(meter.opening_force(only(false)), 100e3) <= 1e-9); // on the lower half
}

TEST_CASE(
    "mould load: a full part at rest bears the weight of the resin below and above the head") {
  // 1 m x 0.5 m, upright in x, with 1000 kg/m3 and 10 m/s2: from a head at the top to the bottom
  // 0.1 bar more, on average 0.05 bar, which is 2.5 kN; from the bottom as much less.
  FillProblem problem = with_mould(plate({.length = 1, .width = 0.5, .columns = 10, .rows = 5}));
  problem.resin.density = 1000;
  problem.gravity = Vector3(-10, 0, 0);
  problem.cavity_pressure = -1e5;
  problem.regions[0].fibre_pressure = 2e3; // 1 kN
  const auto nodes_at = [&](double x) {
    std::vector<NodeId> nodes;
    for (const NodeId node : problem.mesh.positions.ids()) {
      if (std::abs(problem.mesh.positions[node].x() - x) < 1e-9) {
        nodes.push_back(node);
      }
    }
    return nodes;
  };
  problem.gates[0].nodes = nodes_at(1);
  const RestingPush top = resting_push(problem);
  CHECK(relative_error(top.at(0.4e5), 20e3 + 2.5e3 + 1e3) <= 1e-12);
  CHECK(relative_error(*top.highest_head(23.5e3), 0.4e5) <= 1e-9);
  problem.gates[0].nodes = nodes_at(0);
  CHECK(relative_error(resting_push(problem).at(0.4e5), 20e3 - 2.5e3 + 1e3) <= 1e-12);
  // Two gates on one pump stand at their mean height, also where one closes.
  problem.gates.push_back(problem.gates[0]);
  problem.gates[1].nodes = nodes_at(1);
  CHECK(relative_error(resting_push(problem).at(0.4e5), 20e3 + 1e3) <= 1e-12);
  problem.gates[1].closes.time = 60;
  CHECK(relative_error(resting_push(problem).at(0.4e5), 20e3 + 1e3) <= 1e-12);
  // No place comes under less than its air: at 0 bar below and 0 above, 0.025 bar on average.
  problem.cavity_pressure = 0;
  problem.gates.pop_back();
  CHECK(resting_push(problem).at(0.05e5) == doctest::Approx(1e3 + 0.5 * 1.25e3).epsilon(0.02));
  problem.gravity.reset();
  CHECK(relative_error(resting_push(problem).at(0.4e5), 21e3) <= 1e-12);
  CHECK(!resting_push(problem).highest_head(0.5e3)); // the fibres alone push harder
}

TEST_CASE("mould load: of pumps at different heights that which presses hardest counts, by its own "
          "height") {
  // Upright, 1 m high and 0.5 m wide, of 1000 kg/m3 under 10 m/s2: 0.1 bar of column.
  FillProblem problem = with_mould(plate({.length = 1, .width = 0.5, .columns = 10, .rows = 5}));
  problem.resin.density = 1000;
  problem.gravity = Vector3(-10, 0, 0);
  problem.cavity_pressure = -1e5;
  problem.gates[0].own_injector = Injector{std::nullopt, 0.45e5};
  problem.gates.push_back(problem.gates[0]);
  problem.gates[1].own_injector->pressure_cap = 0.4e5;
  problem.gates[0].nodes = {nearest_node(problem.mesh, Vector3(0, 0, 0))};
  problem.gates[1].nodes = {nearest_node(problem.mesh, Vector3(1, 0, 0))};
  CHECK(relative_error(rise_of_head(problem, 0), -0.1e5) <= 1e-9);
  CHECK(std::abs(rise_of_head(problem, 1)) <= 1e-9);
  FillResult result;
  result.verdict = Verdict::filled;
  result.end_time = 100;
  result.gates = {{"low", 1e-3, 0, 0, 100}, {"high", 1e-3, 0, 0, 100}};
  result.mould_load = MouldLoad{};
  result.mould_load->at_rest = resting_push(problem);
  const auto rest = left_on(problem, result);
  REQUIRE(rest);
  CHECK(rest->gate == 1u); // 0.4 bar at the top is 0.5 bar at the bottom
  CHECK(rest->cap == 0.4e5);
  CHECK(relative_error(rest->force, 0.45e5 * 0.5) <= 1e-9);
  problem.gates[1].own_injector->pressure_cap = 0.3e5;
  // A pressure counts at the height of the gate that has it.
  result.gates[0].peak_pressure = 0.45e5;
  result.gates[1].peak_pressure = 0.3e5;
  result.peak_head_pressure = 0.45e5;
  CHECK(relative_error(push_at_highest_head(problem, result), 0.4e5 * 0.5) <= 1e-9);
  problem.gates.pop_back(); // one pump: its head, here at the bottom
  result.mould_load->at_rest = resting_push(problem);
  CHECK(relative_error(push_at_highest_head(problem, result), 0.4e5 * 0.5) <= 1e-9);
  problem.gates.push_back(problem.gates[0]);
  problem.gates[1].nodes = {nearest_node(problem.mesh, Vector3(1, 0, 0))};
  result.mould_load->at_rest = resting_push(problem);
  problem.gates[1].own_injector->pressure_cap = 0.3e5;
  const auto other = left_on(problem, result);
  REQUIRE(other);
  CHECK(other->gate == 0u);
  CHECK(relative_error(other->force, 0.4e5 * 0.5) <= 1e-9);
}

TEST_CASE(
    "mould load: the weight of the resin pushes on when the pump is off, and limits the rise") {
  FillProblem problem = with_mould(plate({.length = 1, .width = 0.5, .columns = 10, .rows = 5}));
  problem.resin.density = 1000;
  problem.gravity = Vector3(-10, 0, 0);
  problem.gates[0].nodes = {nearest_node(problem.mesh, Vector3(1, 0, 0))};
  FillResult result;
  result.verdict = Verdict::filled;
  result.mould_load = MouldLoad{};
  result.mould_load->at_rest = resting_push(problem);
  result.mould_load->peak_force = 2e3;
  const auto force = push_of_weight(problem, result); // 0.05 bar in the mean
  REQUIRE(force);
  CHECK(relative_error(*force, 2.5e3) <= 1e-9);
  result.mould_load->peak_force = 2.6e3;
  CHECK(!push_of_weight(problem, result));
  result.mould_load->peak_force = -5e3; // vacuum outweighs all
  CHECK(push_of_weight(problem, result));
  problem.cavity_pressure = -1e5;
  FillResult low = result;
  problem.gates[0].nodes = {nearest_node(problem.mesh, Vector3(0, 0, 0))};
  low.mould_load->at_rest = resting_push(problem); // it hangs from the gate: less than outside
  CHECK(!push_of_weight(problem, low));
  problem.cavity_pressure = 0;
  problem.gates[0].nodes = {nearest_node(problem.mesh, Vector3(1, 0, 0))};
  result.mould_load->peak_force = 2e3;
  result.verdict = Verdict::short_fill;
  CHECK(!push_of_weight(problem, result));
  CHECK(std::abs(*pressure_to_the_top(problem, {})) <= 1e-9);
  problem.gates[0].nodes = {nearest_node(problem.mesh, Vector3(0, 0, 0))};
  CHECK(relative_error(*pressure_to_the_top(problem, {}), 0.1e5) <= 1e-9);
  problem.vents.push_back({"top", {NodeId(0)}, -0.5e5});
  CHECK(relative_error(*pressure_to_the_top(problem, {}), front_pressure(problem) + 0.1e5) <= 1e-9);
  problem.gravity.reset();
  CHECK(!pressure_to_the_top(problem, {}));
  CHECK(!push_of_weight(problem, result));
  CHECK(rise_of_head(problem, {}) == 0);
}

TEST_CASE("mould load: what a pump that stays on comes to, by its schedule") {
  Injector pump{1e-5, 0.4e5};
  CHECK(cap_left_on(pump, 100, 1e-3) == 0.4e5);
  pump.stages = {{.from_time = {}, .from_volume = 5e-4, .flow_rate = {}, .pressure_cap = 0.2e5}};
  CHECK(cap_left_on(pump, 100, 1e-3) == 0.2e5);
  CHECK(cap_left_on(pump, 100, 4e-4) == 0.4e5); // never comes in a full part
  pump.stages.push_back(
      {.from_time = 300, .from_volume = {}, .flow_rate = {}, .pressure_cap = 0.6e5});
  CHECK(cap_left_on(pump, 100, 1e-3) == 0.6e5); // will come
  pump.stages.back().pressure_cap = 0.1e5;
  CHECK(cap_left_on(pump, 100, 1e-3) == 0.2e5);
  CHECK(!cap_left_on({1e-5, std::nullopt}, 100, 1e-3));
}
