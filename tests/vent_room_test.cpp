// Vents left out and moved on a strip, where the air that stays follows Boyle's law.
#include "solver/vent_room.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr double air = 101325;               // in the cavity [Pa absolute]
constexpr double head = air + 1e5;           // of the resin
constexpr double kept = air / head;          // of a volume of air that is shut in
constexpr double section = 0.3 * 4e-3 * 0.8; // pores per length of the strip [m2]

bool always() {
  return true;
}

/// From the gate in the middle to both ends, 0.5 m each, in cells of 12.5 mm.
FillProblem two_arms() {
  FillProblem problem = strip({.from = -0.5, .to = 0.5, .gate_at = 0, .cells = 80});
  problem.sealed_air = true;
  problem.ambient = air;
  add_vent(problem, -0.5);
  add_vent(problem, 0.5);
  return problem;
}

/// The direction that lies along x the most, or against it.
const VentDirection& along(const std::vector<VentDirection>& directions, double sign) {
  return *std::ranges::max_element(directions, std::ranges::less{}, [&](const VentDirection& way) {
    return sign * way.direction.x();
  });
}

} // namespace

TEST_CASE("a vent left out leaves its arm to the air, pressed together") {
  const FillProblem problem = two_arms();
  CHECK(dry_volume(fill(problem)) == 0);
  for (const std::size_t vent : {0U, 1U}) {
    const FillResult result = fill_without(problem, vent, {}, always);
    CHECK(result.reason == ShortReason::trapped_air);
    // The arm but for half a cell, which is the gate's own and full before air is shut in.
    CHECK(std::abs(dry_volume(result) / ((0.5 - 0.00625) * kept * section) - 1) <= 2e-3);
  }
}

TEST_CASE("a vent of one node has directions within the part, without gates and other vents") {
  FillProblem problem = two_arms();
  problem.vents[1].nodes.resize(1); // at (0.5, 0)
  const SurfaceGraph graph = surface_graph(problem.mesh);
  const auto directions = directions_of(problem, graph, 1, 0.1);
  REQUIRE(!directions.empty());
  std::size_t count = 0;
  for (const VentDirection& way : directions) {
    CHECK(std::abs(way.direction.norm() - 1) <= 1e-12);
    CHECK(std::abs(way.direction.z()) <= 1e-12);
    CHECK(std::ranges::is_sorted(way.nodes, std::ranges::less{}, &NearNode::distance));
    count += way.nodes.size();
    for (const NearNode& near : way.nodes) {
      const Vector3 step = problem.mesh.positions[near.node] - Vector3(0.5, 0, 0);
      CHECK(near.distance >= step.norm() - 1e-12);
      CHECK(near.distance <= 0.1);
      // Within half a sector, 22.5 degrees.
      CHECK(step.normalized().dot(way.direction) >= std::cos(0.3927) - 1e-6);
    }
  }
  // The strip is wider than 0.1 m: along its edge there are 8 nodes in reach, and no others.
  CHECK(count == 8);
  // Farther, all nodes but the gate's and the other vent's.
  std::size_t all = 0;
  for (const VentDirection& way : directions_of(problem, graph, 1, 10)) {
    all += way.nodes.size();
  }
  CHECK(all == problem.mesh.positions.size() - 1 - problem.gates[0].nodes.size() -
                   problem.vents[0].nodes.size());
}

TEST_CASE("how far a vent may move goes by the air that may stay") {
  FillProblem problem = two_arms();
  problem.vents[1].nodes.resize(1);
  const SurfaceGraph graph = surface_graph(problem.mesh);
  const auto directions = directions_of(problem, graph, 1, 0.3);
  const VentDirection& back = along(directions, -1);

  SUBCASE("none: not by two cells; what is less than a cell is not seen") {
    const VentWay way = way_of(problem, 1, back, 0, {}, always);
    REQUIRE(way.fills.size() == 1);
    CHECK(std::abs(way.fills[0].place.distance - 0.0125) <= 1e-9);
    REQUIRE(way.shut_in);
    CHECK(std::abs(way.shut_in->place.distance - 0.025) <= 1e-9);
    CHECK(way.shut_in->dry_volume > 0);
  }

  SUBCASE("what the air behind it, pressed together, takes up") {
    // Behind a vent moved by d the air of d is shut in: section d kept stays dry.
    const double room = 0.11;
    const VentWay way = way_of(problem, 1, back, section * room * kept, {}, always);
    REQUIRE(!way.fills.empty());
    REQUIRE(way.shut_in);
    const double fills = way.fills.back().place.distance;
    const double too_far = way.shut_in->place.distance;
    CHECK(fills < too_far);
    // To a tenth of the distance or a cell, here of 12.5 mm; and to half a cell more, since the
    // air that is shut in is that beyond the vent's own cell.
    CHECK(too_far - fills <= 0.1 * too_far + 0.0126);
    CHECK(fills <= room + 0.0126);
    CHECK(too_far >= room - 0.0126);
    for (const TriedPlace& tried : way.fills) {
      CHECK(tried.dry_volume <= section * room * kept);
      CHECK(std::abs(tried.dry_volume - section * tried.place.distance * kept) <=
            section * 0.0126 * kept);
    }
  }

  SUBCASE("all of it: to the end of the reach") {
    const VentWay way = way_of(problem, 1, back, 1, {}, always);
    CHECK(!way.shut_in);
    CHECK(way.fills.back().place.distance == back.nodes.back().distance);
  }

  SUBCASE("stopped before the first: nothing is said") {
    const VentWay way = way_of(problem, 1, back, 0, {}, [] { return false; });
    CHECK(way.fills.empty());
    CHECK(!way.shut_in);
  }
}
