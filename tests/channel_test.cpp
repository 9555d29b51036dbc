// Channels in the flow network, by hand: a segment conducts K_c A / l and holds A l.
#include "solver/channel.hpp"

#include "mesh/error.hpp"
#include "solver/filling.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/fleet.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <limits>
#include <numeric>

using namespace tidemark;
using namespace tidemark::test;

namespace {

double conductance(const FlowNetwork& network, int from, int to) {
  const auto node = static_cast<std::size_t>(from);
  for (std::size_t k = network.first[node]; k < network.first[node + 1]; ++k) {
    if (network.neighbour[k] == NodeId(to)) {
      return network.conductance[k];
    }
  }
  return 0;
}

double total_volume(const FlowNetwork& network) {
  return std::accumulate(network.pore_volume.begin(), network.pore_volume.end(), 0.0);
}

/// Links go both ways with the same number, ascending at each node, and are above zero.
void check_links(const FlowNetwork& network) {
  REQUIRE(network.first.size() == network.pore_volume.size() + 1);
  REQUIRE(network.first.back() == network.neighbour.size());
  REQUIRE(network.conductance.size() == network.neighbour.size());
  bool is_sound = true;
  for (const NodeId node : network.pore_volume.ids()) {
    for (std::size_t k = network.first[node.position()]; k < network.first[node.position() + 1];
         ++k) {
      const NodeId other = network.neighbour[k];
      const bool is_ascending =
          k == network.first[node.position()] || network.neighbour[k - 1] < other;
      is_sound = is_sound && is_ascending && other != node && network.conductance[k] > 0 &&
                 conductance(network, other.value(), node.value()) == network.conductance[k];
    }
  }
  CHECK(is_sound);
}

/// One square of 2 m x 2 m, diagonal from 0 to 3; the diagonal's own conductance is zero.
FillProblem square() {
  return with_pressure(
      problem_on(plate({.length = 2, .width = 2, .columns = 1, .rows = 1}), {NodeId(0)}));
}

std::array<NodeId, 2> edge(int a, int b) {
  return {NodeId(a), NodeId(b)};
}

} // namespace

TEST_CASE("channel: a segment adds to the link of its nodes and to their volumes") {
  FillProblem problem = square();
  const FlowNetwork plain = flow_network(problem);
  problem.channels = {runner("main", {edge(1, 0)}, 2e-5, 1e-6)};
  const FlowNetwork network = flow_network(problem);
  check_links(network);
  CHECK(relative_error(conductance(network, 0, 1), 4e-12 + 1e-6 * 2e-5 / 2) <= 1e-12);
  CHECK(conductance(network, 1, 3) == conductance(plain, 1, 3));
  CHECK(network.neighbour.size() == plain.neighbour.size());
  CHECK(relative_error(network.pore_volume[NodeId(0)] - plain.pore_volume[NodeId(0)], 2e-5) <=
        1e-9);
  CHECK(relative_error(network.pore_volume[NodeId(1)] - plain.pore_volume[NodeId(1)], 2e-5) <=
        1e-9);
  CHECK(network.pore_volume[NodeId(2)] == plain.pore_volume[NodeId(2)]);
  CHECK(network.quality.limited == plain.quality.limited);
}

TEST_CASE("channel: an edge that is no link becomes one") {
  FillProblem problem = square();
  REQUIRE(conductance(flow_network(problem), 0, 3) == 0);
  problem.channels = {runner("across", {edge(0, 3)}, 2e-5, 1e-6)};
  const FlowNetwork network = flow_network(problem);
  check_links(network);
  CHECK(relative_error(conductance(network, 0, 3), 1e-6 * 2e-5 / std::sqrt(8.0)) <= 1e-12);
}

TEST_CASE("channel: its edge stays where it would be flipped, and makes up for the wrong sign") {
  // A flat rhombus split along its long diagonal 0-1: without a channel it gets the short one.
  const ShellMesh mesh = mesh_of({{-1, 0, 0}, {1, 0, 0}, {0, 0.3, 0}, {0, -0.3, 0}},
                                 {{{NodeId(0), NodeId(1), NodeId(2), NodeId()}},
                                  {{NodeId(1), NodeId(0), NodeId(3), NodeId()}}});
  FillProblem problem = with_pressure(problem_on(mesh, {NodeId(0)}));
  const FlowNetwork plain = flow_network(problem);
  REQUIRE(plain.quality.flipped == 1);
  REQUIRE(conductance(plain, 0, 1) == 0);
  problem.channels = {runner("middle", {edge(0, 1)}, 1e-4, 1e-6)};
  const FlowNetwork network = flow_network(problem);
  check_links(network);
  CHECK(network.quality.flipped == 0);
  CHECK(network.quality.limited == 0);
  // The laminate's h K cot of the angle at 2, and at 3: (1 - 0.3^2) / (2 * 0.3), wrong-signed.
  CHECK(relative_error(conductance(network, 0, 1), 1e-6 * 1e-4 / 2 - 8e-12 * 0.91 / 0.6) <= 1e-12);
  CHECK(conductance(network, 2, 3) == 0);
  CHECK(relative_error(total_volume(network), total_volume(plain) + 1e-4 * 2) <= 1e-12);
}

TEST_CASE("channel: several channels on one edge add up") {
  FillProblem problem = square();
  problem.channels = {runner("one", {edge(0, 1)}, 2e-5, 1e-6),
                      runner("two", {edge(1, 0)}, 1e-5, 3e-6),
                      runner("three", {edge(0, 1), edge(1, 3)}, 7e-6, 1e-7)};
  const FlowNetwork network = flow_network(problem);
  check_links(network);
  CHECK(relative_error(conductance(network, 0, 1),
                       4e-12 + (1e-6 * 2e-5 + 3e-6 * 1e-5 + 1e-7 * 7e-6) / 2) <= 1e-12);
}

TEST_CASE("channel: the gap beside thick and thin laminate") {
  FillProblem problem = with_pressure(problem_on(
      plate({.length = 3, .width = 1, .columns = 3, .rows = 1, .quads = true}), {NodeId(0)}));
  const Region thick{"thick", 6e-3, 0.8, 2e-9, 2e-9, Vector3::Zero(), 0};
  const Region thin{"thin", 2e-3, 0.5, 1e-9, 1e-9, Vector3::Zero(), 0};
  set_regions(problem, {thick, thin}, [](const Vector3& x) { return x.x() < 1 ? 0 : 1; });
  const std::vector segments{edge(0, 1), edge(5, 1), edge(2, 3)};
  const Channel channel = race_track("edge", problem, segments, 3e-3, std::nullopt);
  REQUIRE(channel.area.size() == 3);
  // Depth 6 mm, the mean 4 mm of both, 2 mm; the slot is the gap of 3 mm, but 2 mm at the last.
  CHECK(relative_error(channel.area[0], 18e-6) <= 1e-12);
  CHECK(relative_error(channel.area[1], 12e-6) <= 1e-12);
  CHECK(relative_error(channel.area[2], 6e-6) <= 1e-12);
  CHECK(relative_error(channel.permeability[0], 9e-6 / 12) <= 1e-12);
  CHECK(relative_error(channel.permeability[1], 9e-6 / 12) <= 1e-12);
  CHECK(relative_error(channel.permeability[2], 4e-6 / 12) <= 1e-12);
  CHECK(race_track("edge", problem, segments, 3e-3, 5e-8).permeability ==
        std::vector<double>(3, 5e-8));
}

TEST_CASE("channel: where three plates meet the gap is as deep as they are in the mean") {
  FillProblem problem = with_pressure(problem_on(t_joint(1, 1, 2, 2), {NodeId(0)}));
  const Region web{"web", 9e-3, 0.8, 2e-9, 2e-9, Vector3::Zero(), 0};
  const Region skin{"skin", 3e-3, 0.8, 2e-9, 2e-9, Vector3::Zero(), 0};
  set_regions(problem, {web, skin}, [](const Vector3& x) { return x.x() < 0 ? 0 : 1; });
  const auto joint = edges_between(problem.mesh, problem.element_region, RegionId(0), RegionId(1));
  const Channel channel = race_track("joint", problem, joint, 1e-3, std::nullopt);
  REQUIRE(channel.area.size() == 2);
  CHECK(relative_error(channel.area[0], 5e-6) <= 1e-12);
}

TEST_CASE("channel: volume is conserved and links stay symmetric on every mesh") {
  for (FleetProblem& each : fleet()) {
    CAPTURE(each.name);
    FillProblem& problem = each.problem;
    const double before = total_volume(flow_network(problem));
    const auto rim = free_edges(problem.mesh);
    std::vector<NodeId> ends = {NodeId(0), NodeId(problem.mesh.positions.size() - 1)};
    problem.channels = {race_track("rim", problem, rim, 2e-3, std::nullopt),
                        runner("way", edge_path(problem.mesh, ends), 1.3e-5, 7e-7)};
    double added = 0;
    for (const Channel& channel : problem.channels) {
      for (std::size_t i = 0; i < channel.segments.size(); ++i) {
        const auto& [a, b] = channel.segments[i];
        added += channel.area[i] * (problem.mesh.positions[a] - problem.mesh.positions[b]).norm();
      }
    }
    REQUIRE(added > 0);
    const FlowNetwork network = flow_network(problem);
    check_links(network);
    CHECK(relative_error(total_volume(network), before + added) <= 1e-12);
  }
}

TEST_CASE("channel: the result's pore volume has the channels, that of a region has not") {
  FillProblem problem = with_pressure(
      problem_on(plate({.length = 1, .width = 1, .columns = 10, .rows = 10}), {NodeId(0)}));
  problem.channels = {runner("rim", free_edges(problem.mesh), 1e-5, 1e-6)};
  const FillResult result = fill(problem);
  CHECK(result.verdict == Verdict::filled);
  CHECK(relative_error(result.pore_volume, 3.2e-3 + 4e-5) <= 1e-12);
  CHECK(relative_error(result.injected, 3.2e-3 + 4e-5) <= 1e-8);
  CHECK(relative_error(result.regions[0].pore_volume, 3.2e-3) <= 1e-12);
}

TEST_CASE("channel: a port's correction leaves a channel that ends there alone") {
  const auto link = [](bool has_radius, bool has_channel) {
    FillProblem problem = with_pressure(
        problem_on(plate({.length = 1, .width = 1, .columns = 10, .rows = 10}), {NodeId(60)}));
    problem.gates[0].centre = problem.mesh.positions[NodeId(60)];
    if (has_radius) {
      problem.gates[0].radius = 5e-3;
    }
    if (has_channel) {
      problem.channels = {runner("main", {edge(60, 61)}, 1e-5, 1e-6)};
    }
    return conductance(flow_network(problem), 60, 61);
  };
  REQUIRE(relative_error(link(true, false), link(false, false)) > 0.1);
  CHECK(relative_error(link(true, true) - link(true, false), 1e-11 / 0.1) <= 1e-9);
}

TEST_CASE("channel: what cannot be is refused") {
  FillProblem problem = square();
  const auto refuses = [&](Channel channel, const char* words) {
    problem.channels = {std::move(channel)};
    CHECK_THROWS_WITH_AS(flow_network(problem), doctest::Contains(words), InputError);
  };
  refuses(runner("loop", {edge(1, 1)}, 1e-5, 1e-6), "without length");
  refuses(runner("none", {edge(0, 1)}, 0, 1e-6), "not above zero");
  refuses(runner("tight", {edge(0, 1)}, 1e-5, -1e-6), "not above zero");
  refuses(runner("open", {edge(0, 1)}, 1e-5, std::numeric_limits<double>::infinity()),
          "not above zero");
  CHECK_THROWS_WITH_AS(race_track("jump", square(), {edge(1, 2)}, 1e-3, std::nullopt),
                       doctest::Contains("2 and 3 are not joined"), InputError);
}
