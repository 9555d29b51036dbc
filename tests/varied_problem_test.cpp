#include "mesh/error.hpp"
#include "solver/varied_problem.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/sample_run.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;
using tidemark::test::relative_error;

namespace {

/// A mat of 1 kg/m2 and 2500 kg/m3, K = 1e-11 m2 Vf^-2.
Layup mat_layup(int plies) {
  const PermeabilityLaw law = PowerLaw{1e-11, -2};
  return {{Fabric{"mat", 1.0, 2500, law, law, {0.05, 0.9}}}, {FabricPlies{0, plies, 0}}};
}

} // namespace

TEST_CASE("varied problem: the permeability of one region") {
  FillProblem problem = sample_case().problem;
  multiply_permeability(problem, RegionId(1), 2);
  CHECK(problem.regions[0].permeability_1 == 3e-9);
  CHECK(problem.regions[1].permeability_1 == 2e-9);
  CHECK(problem.regions[1].permeability_2 == 1e-9);
}

TEST_CASE("varied problem: a factor for each element, the region has the mean over the area") {
  FillProblem problem = sample_case().problem;
  REQUIRE(elements_of(problem, RegionId(1)).size() == 2); // triangles of the same size
  multiply_permeability(problem, RegionId(1), std::vector<double>{0.5, 2.5});
  const std::vector<ElementId> elements = elements_of(problem, RegionId(1));
  CHECK(reinforcement_at(problem, elements[0]).permeability_1 == 0.5e-9);
  CHECK(reinforcement_at(problem, elements[1]).permeability_2 == 1.25e-9);
  CHECK(reinforcement_at(problem, ElementId(0)).permeability_1 == 3e-9);
  CHECK(relative_error(problem.regions[1].permeability_1, 1.5e-9) < 1e-12);
}

TEST_CASE("varied problem: more fibres where only K is known go by Kozeny and Carman") {
  FillProblem problem = sample_case().problem;
  problem.regions[0].porosity = 0.6; // Vf 0.4, then 0.5: K times (0.5/0.6)^3 (0.4/0.5)^2 = 0.37037
  problem.regions[0].fibre_volume_fraction.reset();
  multiply_fibre_fraction(problem, RegionId(0), 1.25);
  CHECK(relative_error(problem.regions[0].porosity, 0.5) < 1e-12);
  CHECK(relative_error(problem.regions[0].permeability_1, 3e-9 * 0.370370) < 1e-5);
  CHECK(relative_error(fibre_volume_fraction(problem.regions[0]), 0.5) < 1e-12);
  CHECK_THROWS_AS(multiply_fibre_fraction(problem, RegionId(0), 1.91), SolveError);
}

TEST_CASE("varied problem: heavier fabrics in the same cavity go by their own law") {
  // 2 plies of 1 kg/m2 in 4 mm: Vf = 2 / 2500 / 0.004 = 0.2, K = 2.5e-10; a quarter more: 0.25,
  // K = 1.6e-10, porosity 0.75.
  FillProblem problem = sample_case().problem;
  Region& region = problem.regions[0];
  region.thickness = 0.004;
  region.porosity = 0.8;
  region.permeability_1 = region.permeability_2 = 2.5e-10;
  region.fibre_volume_fraction = 0.2;
  multiply_fibre_fraction(problem, RegionId(0), 1.25, mat_layup(2), 0.004);
  CHECK(relative_error(region.permeability_1, 1.6e-10) < 1e-9);
  CHECK(relative_error(region.permeability_2, 1.6e-10) < 1e-9);
  CHECK(relative_error(region.porosity, 0.75) < 1e-12);
  CHECK(relative_error(*region.fibre_volume_fraction, 0.25) < 1e-12);
  CHECK_THROWS_WITH_AS(multiply_fibre_fraction(problem, RegionId(0), 5, mat_layup(2), 0.004),
                       "the fibres find no room in region skin", SolveError);
}

TEST_CASE("varied problem: heavier fabrics push harder, by their own compaction") {
  // Vf = 0.2 (p / 0.3 bar)^0.25: a quarter more fibre takes 1.25^4 = 2.44140625 times the pressure.
  FillProblem problem = sample_case().problem;
  Region& region = problem.regions[0];
  region.thickness = 0.004;
  region.porosity = 0.8;
  region.fibre_volume_fraction = 0.2;
  region.fibre_pressure = 0.3e5;
  Layup layup = mat_layup(2);
  layup.fabrics[0].compaction = PowerCompaction{0.2, 0.3e5, 0.25};
  multiply_fibre_fraction(problem, RegionId(0), 1.25, layup, 0.004);
  CHECK(relative_error(region.fibre_pressure, 0.3e5 * 2.44140625) < 1e-9);
}

TEST_CASE("varied problem: the viscosity at any age and temperature") {
  Resin resin{0.2, 1100.0, 600.0};
  resin.thickening = TableThickening{{0, 300}, {std::log(0.2), std::log(0.8)}};
  resin.laws.viscosity = ArrheniusViscosity{0.2, 300, 4e4};
  const Resin thicker = with_viscosity_times(resin, 1.5);
  CHECK(relative_error(viscosity_at(thicker, 0), 0.3) < 1e-12);
  CHECK(relative_error(viscosity_at(thicker, 300), 1.2) < 1e-12);
  CHECK(relative_error(viscosity_at(thicker, 150), 0.6) < 1e-12); // ln mu half way
  CHECK(relative_error(fresh_viscosity(thicker.laws.viscosity, 300), 0.3) < 1e-12);
  resin.thickening = ExponentialThickening{100};
  CHECK(relative_error(viscosity_at(with_viscosity_times(resin, 2), 100),
                       2 * viscosity_at(resin, 100)) < 1e-12);
}
