// Fill times without filling. By the theorem t = mu max(w) / dp (Elliott and Janovsky 1981, Proc.
// R. Soc. Edinburgh A 88:93, from memory) they must be those of a full filling at constant
// pressure; the closed forms are Neumann functions of disc and rectangle, derived and evaluated
// with at least ten digits. K = 2e-9 m2, mu = 0.2 Pa s, porosity 0.8, 4 mm, 1e5 Pa: D = K dp / (phi
// mu) = 1.25e-3 m2/s. Port radius 10 mm.
#include "mesh/edge_lines.hpp"
#include "mesh/surface_distance.hpp"
#include "solver/channel.hpp"
#include "solver/channel_law.hpp"
#include "solver/gate_ranking.hpp"
#include "solver/gate_search.hpp"
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr double radius = 0.01;       // [m]
constexpr double seconds = 0.2 / 1e5; // mu / dp

FillProblem bare_problem(ShellMesh mesh) {
  return with_pressure(problem_on(std::move(mesh), {NodeId(0)}));
}

LayoutTime time_at(const FillProblem& problem, const FactoredPart& part,
                   const std::vector<NodeId>& nodes, double port_radius = radius) {
  std::vector<GateSite> sites;
  for (const NodeId node : nodes) {
    sites.push_back(gate_site(problem, part, gate_at(problem, node, port_radius)));
  }
  return layout_time(part, sites);
}

/// The fill time of a full filling with the gates there.
CheckedFill filled(FillProblem problem, const std::vector<NodeId>& nodes,
                   double port_radius = radius) {
  problem.gates.clear();
  for (const NodeId node : nodes) {
    problem.gates.push_back(gate_at(problem, node, port_radius));
    problem.gates.back().name = std::to_string(problem.gates.size());
  }
  return checked_fill(problem);
}

double ranked_seconds(ShellMesh mesh, const Vector3& at) {
  const NodeId node = move_node_to(mesh, at);
  const FillProblem problem = bare_problem(std::move(mesh));
  return seconds * time_at(problem, factored_part(problem), {node}).largest_w;
}

void check_against_filling(const FillProblem& problem, const std::vector<NodeId>& nodes,
                           double port_radius = radius) {
  const FactoredPart part = factored_part(problem);
  const LayoutTime time = time_at(problem, part, nodes, port_radius);
  const CheckedFill full = filled(problem, nodes, port_radius);
  CHECK(relative_error(seconds * time.largest_w, full.fill_time.value_or(0)) <= 1e-6);
  REQUIRE(!full.last_filled.empty());
  CHECK(time.last == full.last_filled[0].node);
  FillProblem own = problem;
  own.gates.clear();
  for (const NodeId node : nodes) {
    own.gates.push_back(gate_at(problem, node, port_radius));
  }
  const LayoutTime direct = layout_time(own);
  CHECK(relative_error(direct.largest_w, time.largest_w) <= 1e-9);
  CHECK(direct.last == time.last);
}

} // namespace

TEST_CASE("gate ranking: the closed forms of square, rectangle and disc") {
  const ShellMesh square = plate({1, 1, 80, 80, 0.2, 4});
  CHECK(relative_error(ranked_seconds(square, {0.5, 0.5, 0}), 463.613364) <= 2e-3);
  CHECK(relative_error(ranked_seconds(square, {0.5, 0, 0}), 1105.63738) <= 2e-3);
  CHECK(relative_error(ranked_seconds(square, {0, 0, 0}), 2207.47042) <= 4e-3);
  const ShellMesh oblong = plate({1.2, 0.6, 80, 40, 0.2, 5});
  CHECK(relative_error(ranked_seconds(oblong, {0.6, 0.3, 0}), 351.200413) <= 3e-3);
  CHECK(relative_error(ranked_seconds(oblong, {0.4, 0.25, 0}), 467.738215) <= 3e-3);
  const ShellMesh round = disc(0.5, 40, 0.2, 6);
  CHECK(relative_error(ranked_seconds(round, {0.1, 0, 0}), 383.748811) <= 3e-3);
  CHECK(relative_error(ranked_seconds(round, {0.2, 0, 0}), 433.932087) <= 3e-3);
  CHECK(relative_error(ranked_seconds(round, {0.3, 0, 0}), 497.831737) <= 3e-3);
}

TEST_CASE("gate ranking: the time is that of a full filling, and so is the last place") {
  const FillProblem problem = bare_problem(plate({1, 0.6, 30, 18, 0.2, 7}));
  SUBCASE("one node") {
    check_against_filling(problem, {nearest_node(problem.mesh, {0.3, 0.2, 0})});
  }
  SUBCASE("one node in a corner") {
    check_against_filling(problem, {nearest_node(problem.mesh, {0, 0, 0})});
  }
  SUBCASE("the node that is held") {
    check_against_filling(problem, {NodeId(problem.mesh.positions.size() - 1)});
  }
  SUBCASE("a port of many nodes") {
    check_against_filling(problem, {nearest_node(problem.mesh, {0.45, 0.3, 0})}, 0.07);
  }
  SUBCASE("two gates") {
    check_against_filling(problem, {nearest_node(problem.mesh, {0.2, 0.3, 0}),
                                    nearest_node(problem.mesh, {0.8, 0.2, 0})});
  }
  SUBCASE("three gates, one of many nodes each") {
    check_against_filling(problem,
                          {nearest_node(problem.mesh, {0.15, 0.3, 0}),
                           nearest_node(problem.mesh, {0.85, 0.2, 0}),
                           nearest_node(problem.mesh, {0.5, 0.45, 0})},
                          0.05);
  }
}

TEST_CASE("gate ranking: anisotropic regions and a channel") {
  FillProblem problem = bare_problem(plate({1, 0.6, 30, 18, 0.2, 8}));
  set_regions(problem,
              {{"a", 4e-3, 0.8, 4e-9, 1e-9, Vector3::UnitX(), 0.5},
               {"b", 3e-3, 0.6, 1e-9, 1e-9, Vector3::Zero(), 0}},
              [](const Vector3& x) { return x.x() < 0.6 ? 0 : 1; });
  const std::array<NodeId, 2> ends{nearest_node(problem.mesh, {0.2, 0.1, 0}),
                                   nearest_node(problem.mesh, {0.9, 0.5, 0})};
  problem.channels.push_back(
      runner("R", edge_path(problem.mesh, ends), 16e-6, rectangle_permeability(4e-3, 4e-3)));
  check_against_filling(problem, {nearest_node(problem.mesh, {0.4, 0.4, 0})});
  check_against_filling(problem, {ends[0]}); // at the end of the channel
  check_against_filling(problem, {nearest_node(problem.mesh, {0.6, 0.3, 0}), ends[0]});
}

TEST_CASE("gate ranking: the best single places by symmetry") {
  struct Shape {
    ShellMesh mesh;
    Vector3 best;
  };
  const double cell = 0.05;
  for (const Shape& shape :
       {Shape{plate({1, 0.6, 20, 12}), {0.5, 0.3, 0}}, Shape{disc(0.5, 10), {0, 0, 0}}}) {
    const FillProblem problem = bare_problem(shape.mesh);
    const FactoredPart part = factored_part(problem);
    NodeId best;
    double least = 1e300;
    for (const NodeId node : problem.mesh.positions.ids()) {
      const double w = time_at(problem, part, {node}).largest_w;
      best = w < least ? node : best;
      least = std::min(w, least);
    }
    CHECK((problem.mesh.positions[best] - shape.best).norm() <= 1e-9 * cell);
  }
}

namespace {

/// Places spread over the part, and the best layouts among them, by their positions.
std::vector<std::vector<Vector3>> best_of(const FillProblem& problem, const SearchLimits& limits,
                                          std::size_t most) {
  const FactoredPart part = factored_part(problem);
  const std::vector<NodeId> middles = spread_out(problem.mesh, part.nodes, 0, most);
  RankedPlaces places;
  places.sample = sample_nodes(problem, part, middles, 2000);
  for (const NodeId node : middles) {
    places.sites.push_back(gate_site(problem, part, gate_at(problem, node, radius)));
    places.gates.push_back(ranked_gate(part, places.sites.back(), places.sample));
    places.sample_of_gate.push_back(static_cast<std::size_t>(
        std::ranges::lower_bound(places.sample, node) - places.sample.begin()));
  }
  std::vector<std::vector<Vector3>> result;
  for (const Layout& layout : best_layouts(problem, part, places, limits, [] { return true; })) {
    std::vector<Vector3>& gates = result.emplace_back();
    for (const std::size_t gate : layout.gates) {
      gates.push_back(problem.mesh.positions[places.sites[gate].middle]);
    }
    std::ranges::sort(gates, {}, [](const Vector3& x) { return x.x(); });
  }
  return result;
}

} // namespace

TEST_CASE("gate ranking: of an L its best place lies on the line of symmetry") {
  // Two arms of 0.4 m width along the axes to 1 m. The middle of the inner corner's side has the
  // shorter ways; the best place must be its own mirror image in x = y.
  const ShellMesh mesh =
      welded({plate({1, 0.4, 20, 8}), [] {
                ShellMesh arm = plate({0.4, 0.6, 8, 12});
                deform(arm, [](const Vector3& x) { return Vector3(x.x(), x.y() + 0.4, 0); });
                return arm;
              }()});
  const FillProblem problem = bare_problem(mesh);
  const auto best = best_of(problem, {1, 1, 0}, 10000);
  REQUIRE(best.size() == 1);
  CHECK(std::abs(best[0][0].x() - best[0][0].y()) <= 0.05 + 1e-9);
  CHECK(best[0][0].x() > 0.2);
  CHECK(best[0][0].x() <= 0.4 + 1e-9);
}

TEST_CASE("gate ranking: two gates on a 2 : 1 plate sit at the quarter points, three on 3 : 1") {
  // Mirror planes cut the plate into squares, each best fed in its middle.
  const FillProblem two = bare_problem(plate({1, 0.5, 40, 20}));
  const auto pairs = best_of(two, {2, 3, 0.1}, 10000);
  REQUIRE(pairs.size() == 3);
  CHECK((pairs[0][0] - Vector3(0.25, 0.25, 0)).norm() <= 1e-9);
  CHECK((pairs[0][1] - Vector3(0.75, 0.25, 0)).norm() <= 1e-9);
  for (const auto& [a, b] : {std::pair(0, 1), {0, 2}, {1, 2}}) {
    const auto& one = pairs[static_cast<std::size_t>(a)];
    const auto& other = pairs[static_cast<std::size_t>(b)];
    CHECK(std::max((one[0] - other[0]).norm(), (one[1] - other[1]).norm()) >= 0.1 - 1e-9);
  }
  const FillProblem three = bare_problem(plate({1.5, 0.5, 42, 14}));
  const auto triples = best_of(three, {3, 1, 0}, 10000);
  REQUIRE(triples.size() == 1);
  for (std::size_t gate = 0; gate < 3; ++gate) {
    const double x = 0.25 + 0.5 * static_cast<double>(gate);
    CHECK((triples[0][gate] - Vector3(x, 0.25, 0)).norm() <= 1e-9);
  }
}
