#include "solver/permeability_band.hpp"
#include "support/closeness.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

using namespace tidemark;
using namespace tidemark::test;

TEST_CASE("permeability band: a strip at constant pressure takes times that go as 1 / K") {
  // L^2 / (2 D) = 1 / (2 x 1.25e-3) = 400 s with D = K dp / (mu phi) (1-D filling, textbook).
  const PermeabilityBand band = permeability_band(strip(), {});
  REQUIRE(band.tighter);
  REQUIRE(band.more_open);
  CHECK(relative_error(band.tighter->fill_time.value(), 560) < 0.01);
  CHECK(relative_error(band.more_open->fill_time.value(), 285.714) < 0.01);
}

TEST_CASE("permeability band: channels stay as they are") {
  FillProblem problem = sample_case().problem;
  problem.channels = {{"runner", {{NodeId(0), NodeId(1)}}, {1e-4}, {1e-6}}};
  const FillProblem twice = with_permeability_times(problem, 2);
  CHECK(twice.regions[0].permeability_1 == 6e-9);
  CHECK(twice.regions[1].permeability_2 == 1e-9);
  CHECK(twice.channels[0].permeability[0] == 1e-6);
}

TEST_CASE("permeability band: elements that differ from their region have it too") {
  FillProblem problem = strip();
  PerElement<Reinforcement> all;
  for (const ElementId element : problem.element_region.ids()) {
    all.push_back(reinforcement_at(problem, element));
  }
  problem.reinforcement = all;
  const double before = problem.reinforcement[ElementId(7)].permeability_1;
  const FillProblem twice = with_permeability_times(problem, 2);
  CHECK(twice.reinforcement[ElementId(7)].permeability_1 == 2 * before);
  CHECK(twice.reinforcement[ElementId(7)].permeability_2 == 2 * before);
}

TEST_CASE("permeability band: it can be ended") {
  const PermeabilityBand band = permeability_band(strip(), {}, [] { return false; });
  CHECK(band.tighter->reason == ShortReason::interrupted);
}
