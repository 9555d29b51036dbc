// Statements that hold on any part, mesh and material map as long as the viscosity is one number,
// the front has one pressure and nothing is bled: the filling is an obstacle problem for
// u = integral of (p - p_front) / mu dt (Elliott and Janovsky 1981, Proc. R. Soc. Edinburgh A
// 88:93, from memory; Gustafsson 1985, Nonlinear Anal. TMA 9:203, first page seen). The linear
// systems are solved here by sparse Cholesky on the program's own network.
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/fleet.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/network_solve.hpp"
#include "tests/support/one_gate.hpp"

#include "solver/pressure_step.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>
#include <random>

using namespace tidemark;
using namespace tidemark::test;

namespace {

NodeId last_node(const FillResult& result) {
  REQUIRE(!result.last_filled.empty());
  return result.last_filled[0].node;
}

} // namespace

TEST_CASE("The whole filling agrees with one linear solve") {
  // t = mu max(w) / dp with A w = V, w = 0 at the gate; the last node is where w is largest. Exact
  // on the network, so the tolerance is the solver's.
  const auto check = [](const FillProblem& meshed) {
    const FillProblem problem = with_border_points(meshed);
    const Completion completion = completion_of(problem);
    const CheckedFill result = checked_fill(problem);
    const double expected = problem.resin.viscosity * completion.head_impulse / 1e5;
    CHECK(relative_error(result.fill_time.value_or(0), expected) <= 1e-6);
    CHECK(last_node(result) == completion.last_node);
  };
  SUBCASE("random regions") {
    for (const std::uint32_t seed : {1u, 2u, 3u}) {
      CAPTURE(seed);
      check(random_regions_problem(48, 32, seed));
    }
  }
  SUBCASE("the fleet, with random regions everywhere") {
    for (FleetProblem& item : fleet()) {
      CAPTURE(item.name);
      if (item.name != "regular plate") { // whose last nodes are a tie
        set_random_regions(item.problem, 0.2, 4);
        check(item.problem);
      }
    }
  }
}

TEST_CASE(
    "At constant flow and with a cap the pressure's time integral is that of the linear solve") {
  // Whatever the pressure did, when the last place fills its integral at the gate is mu max(w).
  const FillProblem problem = with_border_points(random_regions_problem(48, 32, 5));
  const Completion completion = completion_of(problem);
  const double expected = problem.resin.viscosity * completion.head_impulse;
  SUBCASE("flow") {
    const CheckedFill result = checked_fill(with_flow(problem, 2e-6));
    CHECK(relative_error(result.head_impulse, expected) <= 1e-6);
    CHECK(last_node(result) == completion.last_node);
    CHECK(relative_error(result.fill_time.value_or(0), result.pore_volume / 2e-6) <= 1e-9);
  }
  SUBCASE("flow and cap") {
    const CheckedFill result = checked_fill(with_flow_and_cap(problem, 5e-6));
    CHECK(result.time_at_cap > 0.1 * result.end_time);
    CHECK(result.time_at_cap < 0.95 * result.end_time);
    CHECK(relative_error(result.head_impulse, expected) <= 1e-6);
    CHECK(last_node(result) == completion.last_node);
  }
}

namespace {

/// The fill fractions after giving volumes one after the other, the head full at the start.
std::vector<double> fill_by_volumes(const FlowSystem& system, const std::vector<double>& volumes) {
  OneGate step(system);
  std::vector<double> fill(system.size(), 0.0);
  fill[OneGate::gate] = 1;
  for (const double volume : volumes) {
    const Drive drive{volume, std::nullopt};
    step.solve(drive, fill, 1);
    step.step().advance(fill);
  }
  return fill;
}

std::vector<double> fill_by_impulses(const FlowSystem& system,
                                     const std::vector<double>& impulses) {
  OneGate step(system);
  std::vector<double> fill(system.size(), 0.0);
  fill[OneGate::gate] = 1; // a held pressure fills the head at once
  for (const double impulse : impulses) {
    const Drive drive{std::nullopt, impulse};
    step.solve(drive, fill, 1);
    step.step().advance(fill);
  }
  return fill;
}

double largest_difference(const std::vector<double>& a, const std::vector<double>& b) {
  REQUIRE(a.size() == b.size());
  double largest = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    largest = std::max(largest, std::abs(a[i] - b[i]));
  }
  return largest;
}

/// A total cut into random parts.
std::vector<double> random_parts(double total, int count, std::uint32_t seed) {
  std::mt19937 random(seed);
  std::vector<double> parts;
  for (int i = 0; i < count; ++i) {
    parts.push_back(1 + static_cast<double>(random() % 1000));
  }
  const double sum = std::accumulate(parts.begin(), parts.end(), 0.0);
  for (double& part : parts) {
    part *= total / sum;
  }
  return parts;
}

} // namespace

TEST_CASE("The wet region depends on the volume given alone, not on the steps or their order") {
  for (FleetProblem& item : fleet()) {
    CAPTURE(item.name);
    set_random_regions(item.problem, 0.2, 6);
    const FlowSystem system = flow_system(flow_network(item.problem), item.problem.gates);
    const double total = std::accumulate(system.volume.begin(), system.volume.end(), 0.0);
    const double volume = 0.6 * total;
    const auto at_once = fill_by_volumes(system, {volume});
    const double given =
        std::inner_product(at_once.begin(), at_once.end(), system.volume.begin(), 0.0);
    CHECK(relative_error(given, system.volume[OneGate::gate] + volume) <= 1e-9);
    CHECK(largest_difference(at_once, fill_by_volumes(system, random_parts(volume, 50, 1))) <=
          1e-8);
    std::vector<double> parts = random_parts(volume, 7, 2);
    const auto forth = fill_by_volumes(system, parts);
    std::ranges::reverse(parts);
    CHECK(largest_difference(forth, fill_by_volumes(system, parts)) <= 1e-8);
    CHECK(largest_difference(forth, at_once) <= 1e-8);
  }
}

TEST_CASE("The wet region depends on the pressure's time integral alone") {
  for (FleetProblem& item : fleet()) {
    CAPTURE(item.name);
    set_random_regions(item.problem, 0.2, 7);
    const FlowSystem system = flow_system(flow_network(item.problem), item.problem.gates);
    const double impulse = 0.5 * std::ranges::max(completion_field(system));
    const auto at_once = fill_by_impulses(system, {impulse});
    CHECK(*std::ranges::min_element(at_once) < 0.5);
    CHECK(largest_difference(at_once, fill_by_impulses(system, random_parts(impulse, 40, 3))) <=
          1e-8);
    // The volume that went in gives the same wet region when it is given as a volume.
    const double volume =
        std::inner_product(at_once.begin(), at_once.end(), system.volume.begin(), 0.0) -
        system.volume[OneGate::gate];
    CHECK(largest_difference(at_once, fill_by_volumes(system, {volume})) <= 1e-8);
  }
}

TEST_CASE("Moments: the integral of a harmonic function over the resin is its value at the gate") {
  // For psi with A psi = 0 wherever it is wet: sum of psi_i F_i V_i = V psi_gate (Richardson 1972,
  // J. Fluid Mech. 56:609, abstract seen). psi is solved for with random values on the far edges.
  for (const std::uint32_t seed : {11u, 12u, 13u}) {
    CAPTURE(seed);
    const FillProblem problem =
        with_flow(with_border_points(random_regions_problem(40, 28, seed)), 2e-6);
    const double volume = 0.25 * 1 * 0.7 * 4e-3 * 0.65;
    const CheckedFill result = checked_fill(problem, {.steps = 30, .time_limit = volume / 2e-6});
    CHECK(relative_error(result.injected, volume) <= 1e-9);
    const FlowNetwork network = flow_network(problem);
    const FlowSystem system = flow_system(network, problem.gates);
    std::mt19937 random(seed);
    std::vector<std::optional<double>> held(system.size());
    for (const NodeId node : problem.mesh.positions.ids()) {
      if (problem.mesh.positions[node].x() > 0.9) {
        REQUIRE(result.fill_fraction[node] == 0);
        held[static_cast<std::size_t>(system.unknown[node])] = static_cast<double>(random() % 1000);
      }
    }
    const std::vector<double> psi =
        solve_network(system, held, std::vector<double>(system.size(), 0.0));
    double moment = 0;
    for (const NodeId node : problem.mesh.positions.ids()) {
      moment += psi[static_cast<std::size_t>(system.unknown[node])] * result.fill_fraction[node] *
                network.pore_volume[node];
    }
    CHECK(relative_error(moment, volume * psi[OneGate::gate]) <= 1e-8);
  }
}

TEST_CASE("Away from walls the centre of the resin stays at the gate") {
  // psi = x and psi = y in a plate of one permeability, to the accuracy of the mesh.
  ShellMesh mesh =
      plate({.length = 1, .width = 1, .columns = 60, .rows = 60, .jitter = 0.25, .seed = 14});
  const Vector3 gate_at(0.45, 0.55, 0);
  const NodeId gate = move_node_to(mesh, gate_at);
  FillProblem problem = with_flow(problem_on(std::move(mesh), {gate}), 5e-6);
  problem.regions[0].permeability_2 = 8e-10;
  problem.regions[0].angle = 0.6;
  const CheckedFill result = checked_fill(problem, {.steps = 100, .time_limit = 80});
  const FlowNetwork network = flow_network(problem);
  Vector3 centre = Vector3::Zero();
  for (const NodeId node : problem.mesh.positions.ids()) {
    centre += result.fill_fraction[node] * network.pore_volume[node] * problem.mesh.positions[node];
  }
  centre /= result.resin_in_part;
  CHECK((centre - gate_at).norm() <= 0.1 / 60);
}

TEST_CASE("Scaling: fill times follow the dimensions") {
  const FillProblem problem = random_regions_problem(30, 20, 15);
  const auto pressure_time = [](const FillProblem& p) {
    return checked_fill(with_pressure(p, 1e5)).fill_time.value_or(0);
  };
  const auto flow_of = [](const FillProblem& p, double flow) {
    return checked_fill(with_flow(p, flow));
  };
  const double time = pressure_time(problem);
  const CheckedFill flow = flow_of(problem, 2e-6);
  FillProblem changed = problem;
  SUBCASE("viscosity") {
    changed.resin.viscosity *= 7;
    CHECK(relative_error(pressure_time(changed), 7 * time) <= 1e-8);
    const CheckedFill other = flow_of(changed, 2e-6);
    CHECK(relative_error(*other.fill_time, *flow.fill_time) <= 1e-9);
    CHECK(relative_error(other.peak_head_pressure, 7 * flow.peak_head_pressure) <= 1e-8);
  }
  SUBCASE("porosity") {
    for (Region& region : changed.regions) {
      region.porosity *= 0.3;
    }
    CHECK(relative_error(pressure_time(changed), 0.3 * time) <= 1e-8);
    CHECK(relative_error(*flow_of(changed, 2e-6).fill_time, 0.3 * *flow.fill_time) <= 1e-9);
  }
  SUBCASE("permeability") {
    for (Region& region : changed.regions) {
      region.permeability_1 *= 5;
      region.permeability_2 *= 5;
    }
    CHECK(relative_error(pressure_time(changed), time / 5) <= 1e-8);
    CHECK(relative_error(flow_of(changed, 2e-6).peak_head_pressure, flow.peak_head_pressure / 5) <=
          1e-8);
  }
  SUBCASE("thickness") {
    for (Region& region : changed.regions) {
      region.thickness *= 2;
    }
    CHECK(relative_error(pressure_time(changed), time) <= 1e-8);
    const CheckedFill other = flow_of(changed, 2e-6);
    CHECK(relative_error(*other.fill_time, 2 * *flow.fill_time) <= 1e-9);
    CHECK(relative_error(other.peak_head_pressure, flow.peak_head_pressure / 2) <= 1e-8);
  }
  SUBCASE("size") {
    deform(changed.mesh, [](const Vector3& x) { return Vector3(3 * x); });
    CHECK(relative_error(pressure_time(changed), 9 * time) <= 1e-8);
    const CheckedFill other = flow_of(changed, 2e-6);
    CHECK(relative_error(*other.fill_time, 9 * *flow.fill_time) <= 1e-9);
    CHECK(relative_error(other.peak_head_pressure, flow.peak_head_pressure) <= 1e-8);
  }
  SUBCASE("pressure and flow rate") {
    CHECK(relative_error(checked_fill(with_pressure(problem, 4e5)).fill_time.value_or(0),
                         time / 4) <= 1e-8);
    const CheckedFill other = flow_of(problem, 6e-6);
    CHECK(relative_error(*other.fill_time, *flow.fill_time / 3) <= 1e-9);
    CHECK(relative_error(other.peak_head_pressure, 3 * flow.peak_head_pressure) <= 1e-8);
  }
  SUBCASE("level of the pressures") {
    changed.cavity_pressure = -8e4;
    CHECK(relative_error(checked_fill(with_pressure(changed, 2e4)).fill_time.value_or(0), time) <=
          1e-9);
    changed.vents.push_back({"V1", {last_node(flow)}, -3e4}); // the vent's level counts then
    CHECK(relative_error(checked_fill(with_pressure(changed, 7e4)).fill_time.value_or(0), time) <=
          1e-9);
  }
}

TEST_CASE("A system of units is a matter of numbers: mm, bar and minutes") {
  // The same equations in mm, bar, min: mu 0.2 Pa s = 2e-6 bar s = (2e-6 / 60) bar min, K in mm2.
  const FillProblem problem = random_regions_problem(30, 20, 16);
  const CheckedFill in_si = checked_fill(with_flow_and_cap(problem, 4e-6));
  FillProblem changed = problem;
  deform(changed.mesh, [](const Vector3& x) { return Vector3(1e3 * x); });
  for (Region& region : changed.regions) {
    region.thickness *= 1e3;
    region.permeability_1 *= 1e6;
    region.permeability_2 *= 1e6;
  }
  changed.resin.viscosity = 0.2 / 1e5 / 60;
  const CheckedFill in_shop = checked_fill(with_flow_and_cap(changed, 4e-6 * 1e9 * 60, 1.0));
  REQUIRE(in_si.fill_time);
  REQUIRE(in_si.time_cap_reached);
  CHECK(relative_error(in_shop.fill_time.value_or(0), *in_si.fill_time / 60) <= 1e-8);
  CHECK(relative_error(in_shop.time_cap_reached.value_or(0), *in_si.time_cap_reached / 60) <= 1e-6);
  CHECK(relative_error(in_shop.injected, in_si.injected * 1e9) <= 1e-9);
}

TEST_CASE(
    "Splitting a region into regions of equal property changes nothing but where edges flip") {
  // On a regular mesh nothing is flipped, so that the networks are the same.
  ShellMesh mesh = plate({.length = 1, .width = 0.5, .columns = 40, .rows = 20});
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0 && x.y() < 0.1; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  const CheckedFill whole = checked_fill(problem);
  const Region region = problem.regions[0];
  set_regions(problem, {region, region, region}, [](const Vector3& x) {
    return x.x() < 0.33 ? 0 : x.x() + x.y() < 1 ? 1 : 2;
  });
  const CheckedFill split = checked_fill(problem);
  CHECK(relative_error(split.fill_time.value_or(0), whole.fill_time.value_or(1)) <= 1e-9);
  CHECK(last_node(split) == last_node(whole));
  double volume = 0;
  for (const RegionFacts& facts : split.regions) {
    CHECK(facts.pore_volume > 0);
    volume += facts.pore_volume;
  }
  CHECK(relative_error(volume, whole.pore_volume) <= 1e-12);
}

TEST_CASE(
    "Splitting a region of a jittered mesh changes the fill time to discretisation order only") {
  ShellMesh mesh =
      plate({.length = 1, .width = 0.5, .columns = 60, .rows = 30, .jitter = 0.25, .seed = 17});
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0 && x.y() < 0.1; });
  FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  const CheckedFill whole = checked_fill(problem);
  const Region region = problem.regions[0];
  set_regions(problem, {region, region, region}, [](const Vector3& x) {
    return x.x() < 0.33 ? 0 : x.x() + x.y() < 1 ? 1 : 2;
  });
  const CheckedFill split = checked_fill(problem);
  CHECK(relative_error(split.fill_time.value_or(0), whole.fill_time.value_or(1)) <= 1e-3);
}
