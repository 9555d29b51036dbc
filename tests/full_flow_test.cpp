// Flow on the cells that are full: one-way links and ports, by hand.
#include "solver/full_flow.hpp"

#include "solver/flow_network.hpp"
#include "solver/flow_system.hpp"
#include "tests/support/fleet.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;

TEST_CASE("full flow: what is let in by volume opens the link it can, past a port it closes") {
  // All is full but the last unknown, whose air stands at 1e6. A gate at 1 cannot hold against what
  // another one lets in: it closes, as is every link at first, and u rises above the air by what
  // the links to it take, volume over their conductance.
  const FillProblem problem = random_regions_problem(160, 106, 8);
  const FlowSystem system = flow_system(flow_network(problem), problem.gates);
  const auto dry = static_cast<std::int32_t>(system.size()) - 1;
  std::vector<double> fill(system.size(), 1.0);
  fill[position(dry)] = 0;
  std::vector<double> floor(system.size(), 0.0);
  floor[position(dry)] = 1e6;
  const double volume = 1e-3 * system.volume[position(dry)];
  const std::array<Port, 2> ports{Port{.unknown = 5, .impulse = 1},
                                  Port{.unknown = dry / 2, .volume = volume}};
  const FullFlow flow = flow_on_full(system, {.fill = fill, .ports = ports, .floor = floor});
  CHECK_FALSE(flow.port_is_open[0]);
  CHECK(flow.port_is_open[1]);
  double let_through = 0;
  for (std::int32_t k = system.matrix.first[position(dry)];
       k < system.matrix.first[position(dry) + 1]; ++k) {
    const double above = flow.u[position(system.matrix.column[position(k)])] - 1e6;
    CHECK(above >= 0);
    let_through += system.matrix.link[position(k)] * above;
  }
  CHECK(let_through == doctest::Approx(volume).epsilon(1e-4));
}
