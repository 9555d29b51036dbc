// Last places and dry places read off fields made by hand.
#include "solver/last_filled.hpp"

#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <functional>
#include <limits>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr double never = std::numeric_limits<double>::quiet_NaN();

/// A 1 m x 1 m plate of 20 x 20 cells; the half x > 0.5 is region 1.
FillProblem plate_problem() {
  FillProblem problem = with_pressure(
      problem_on(plate({.length = 1, .width = 1, .columns = 20, .rows = 20}), {NodeId(0)}));
  Region other = problem.regions[0];
  other.name = "other";
  set_regions(problem, {problem.regions[0], other},
              [](const Vector3& x) { return x.x() < 0.5 ? 0 : 1; });
  problem.cavity_pressure = -5e4;
  return problem;
}

PerNode<double> field(const FillProblem& problem, const std::function<double(const Vector3&)>& f) {
  PerNode<double> values;
  for (const Vector3& x : problem.mesh.positions) {
    values.push_back(f(x));
  }
  return values;
}

/// A hill of a height round a point, falling by 100 per metre.
double hill(const Vector3& x, const Vector3& top, double height) {
  return std::max(0.0, height - 100 * (x - top).norm());
}

} // namespace

TEST_CASE("last filled: every hill of the fill time, latest first, with its region") {
  const FillProblem problem = plate_problem();
  const FlowNetwork network = flow_network(problem);
  const auto times = field(problem, [](const Vector3& x) {
    return std::max(
        {hill(x, {0.2, 0.2, 0}, 50), hill(x, {0.8, 0.3, 0}, 60), hill(x, {0.5, 1, 0}, 40)});
  });
  const auto places = last_filled_places(problem, network, times, 1);
  REQUIRE(places.size() == 3);
  CHECK(places[0].time == doctest::Approx(60));
  CHECK(places[1].time == doctest::Approx(50));
  CHECK(places[2].time == doctest::Approx(40));
  CHECK((problem.mesh.positions[places[0].node] - Vector3(0.8, 0.3, 0)).norm() < 1e-12);
  CHECK((problem.mesh.positions[places[1].node] - Vector3(0.2, 0.2, 0)).norm() < 1e-12);
  CHECK((problem.mesh.positions[places[2].node] - Vector3(0.5, 1, 0)).norm() < 1e-12);
  CHECK(places[0].region == RegionId(1));
  CHECK(places[1].region == RegionId(0));
}

TEST_CASE("last filled: a hill counts if it rises far enough from its saddle") {
  // Two hills of 50 and 44, whose saddle is at 50 - 100 * 0.25 = 25 or so.
  const FillProblem problem = plate_problem();
  const FlowNetwork network = flow_network(problem);
  const auto times = field(problem, [](const Vector3& x) {
    return std::max(hill(x, {0.2, 0.5, 0}, 50), hill(x, {0.7, 0.5, 0}, 44));
  });
  CHECK(last_filled_places(problem, network, times, 1).size() == 2);
  CHECK(last_filled_places(problem, network, times, 10).size() == 2);
  CHECK(last_filled_places(problem, network, times, 30).size() == 1);
}

TEST_CASE("last filled: one node that stands out of a slope is a ripple") {
  const FillProblem problem = plate_problem();
  const FlowNetwork network = flow_network(problem);
  PerNode<double> times = field(problem, [](const Vector3& x) { return 100 * x.x(); });
  const NodeId node = nearest_node(problem.mesh, {0.5, 0.5, 0});
  times[node] += 7; // 5 s per cell: higher than all its neighbours
  const auto places = last_filled_places(problem, network, times, 1);
  REQUIRE(places.size() == 1);
  CHECK(problem.mesh.positions[places[0].node].x() == 1);
}

TEST_CASE("last filled: places never reached are later than any other, and not listed") {
  const FillProblem problem = plate_problem();
  const FlowNetwork network = flow_network(problem);
  const auto times = field(problem, [](const Vector3& x) {
    return x.x() > 0.75 ? never : std::max(100 * x.x(), hill(x, {0.2, 0.2, 0}, 50));
  });
  const auto places = last_filled_places(problem, network, times, 1);
  REQUIRE(places.size() == 1); // the hill; the slope goes on into the dry
  CHECK((problem.mesh.positions[places[0].node] - Vector3(0.2, 0.2, 0)).norm() < 1e-12);
}

TEST_CASE("dry places: connected, largest first, with volume, place, region and pressure") {
  const FillProblem problem = plate_problem();
  const FlowNetwork network = flow_network(problem);
  const auto fill = field(problem, [](const Vector3& x) {
    const bool is_small = (x - Vector3(0.25, 0.25, 0)).norm() < 0.06;
    const bool is_large = (x - Vector3(0.75, 0.6, 0)).norm() < 0.11;
    return is_large ? 0 : is_small ? 0.5 : 1;
  });
  PerNode<NodeAir> air(problem.mesh.positions.size());
  for (const NodeId node : air.ids()) {
    air[node] = problem.mesh.positions[node].x() > 0.5 ? NodeAir{-5e4, {}, 1} : NodeAir{2e4, 30, 0};
  }
  const auto spots = dry_places(problem, network, fill, air);
  REQUIRE(spots.size() == 2);
  const double cell = 0.05 * 0.05 * 4e-3 * 0.8;
  CHECK(relative_error(spots[0].volume, 13 * cell) <= 1e-9); // lattice points within 2.2 cells
  CHECK(relative_error(spots[1].volume, 5 * 0.5 * cell) <= 1e-9);
  CHECK((spots[0].position - Vector3(0.75, 0.6, 0)).norm() < 1e-12);
  CHECK((spots[1].position - Vector3(0.25, 0.25, 0)).norm() < 1e-12);
  CHECK(spots[0].region == RegionId(1));
  CHECK(spots[1].region == RegionId(0));
  CHECK(spots[0].air_pressure == -5e4);
  CHECK_FALSE(spots[0].is_sealed);
  CHECK(spots[1].air_pressure == 2e4);
  CHECK(spots[1].is_sealed);
  CHECK(spots[1].sealed_at == 30);
  // Half the volume at twice the absolute pressure: 2 * 121 325 - 101 325 Pa.
  CHECK(spots[1].halving_pressure == doctest::Approx(141325));
}

TEST_CASE("dry places: two pieces of air that resin keeps apart are two, though nodes touch") {
  const FillProblem problem = plate_problem();
  PerNode<NodeAir> air(problem.mesh.positions.size());
  for (const NodeId node : air.ids()) {
    const bool is_left = problem.mesh.positions[node].x() < 0.5;
    air[node] = {is_left ? 1e4 : 3e4, 0.0, is_left ? 0 : 1};
  }
  const PerNode<double> zeros(problem.mesh.positions.size(), 0.0);
  const auto spots = dry_places(problem, flow_network(problem), zeros, air);
  REQUIRE(spots.size() == 2);
  CHECK(spots[0].air_pressure + spots[1].air_pressure == 4e4);
  CHECK(relative_error(spots[0].volume + spots[1].volume, 4e-3 * 0.8) <= 1e-9);
}

TEST_CASE("dry places: none when all is full, the whole part when nothing is") {
  const FillProblem problem = plate_problem();
  const FlowNetwork network = flow_network(problem);
  const PerNode<double> ones(problem.mesh.positions.size(), 1.0);
  const PerNode<double> zeros(problem.mesh.positions.size(), 0.0);
  const PerNode<NodeAir> air(problem.mesh.positions.size());
  CHECK(dry_places(problem, network, ones, air).empty());
  const auto spots = dry_places(problem, network, zeros, air);
  REQUIRE(spots.size() == 1);
  CHECK(relative_error(spots[0].volume, 4e-3 * 0.8) <= 1e-9);
  CHECK((spots[0].position - Vector3(0.5, 0.5, 0)).norm() < 0.06);
}
