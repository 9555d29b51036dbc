// Permeability laws and compaction laws against values worked out by hand or published.
#include "solver/compaction.hpp"
#include "solver/permeability.hpp"
#include "support/closeness.hpp"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// d ln K / d ln Vf by a central difference; its own error is of the order of 1e-7.
double sensitivity(const PermeabilityLaw& law, double vf) {
  const double step = 1e-4;
  return std::log(permeability(law, vf * (1 + step)) / permeability(law, vf * (1 - step))) /
         std::log((1 + step) / (1 - step));
}

} // namespace

TEST_CASE("constant law and power law") {
  CHECK(permeability(ConstantLaw{3e-9}, 0.2) == 3e-9);
  CHECK(permeability(ConstantLaw{3e-9}, 0.6) == 3e-9);
  // 2e-12 / 0.5^4 = 3.2e-11
  CHECK(relative_error(permeability(PowerLaw{2e-12, -4}, 0.5), 3.2e-11) < 1e-13);
  CHECK(std::abs(sensitivity(PowerLaw{2e-12, -3.7}, 0.42) + 3.7) < 1e-9);
}

TEST_CASE("Kozeny-Carman of fibres of 7 um, k0 = 1") {
  // K = r^2 / (4 k0) (1 - Vf)^3 / Vf^2, worked out by hand.
  const PermeabilityLaw law = kozeny_carman_of_fibres(7e-6, 1);
  CHECK(relative_error(permeability(law, 0.3), 4.66861111e-11) < 1e-8);
  CHECK(relative_error(permeability(law, 0.4), 1.65375e-11) < 1e-8);
  CHECK(relative_error(permeability(law, 0.5), 6.125e-12) < 1e-12);
  CHECK(relative_error(permeability(law, 0.6), 2.17777778e-12) < 1e-8);
  CHECK(relative_error(permeability(kozeny_carman_of_fibres(7e-6, 2), 0.5), 3.0625e-12) < 1e-12);
  CHECK(relative_error(permeability(KozenyCarmanLaw{1e-10}, 0.5), 5e-11) < 1e-12);
}

TEST_CASE("Kozeny-Carman: the change of K with Vf") {
  // d ln K / d ln Vf = -(2 + 3 Vf / (1 - Vf))
  const PermeabilityLaw law = KozenyCarmanLaw{1e-10};
  const std::array<std::array<double, 2>, 5> known{
      {{0.2, -2.75}, {0.3, -3.285714286}, {0.4, -4}, {0.5, -5}, {0.6, -6.5}}};
  for (const auto& [vf, expected] : known) {
    CHECK(std::abs(sensitivity(law, vf) - expected) < 1e-6);
  }
}

TEST_CASE("aligned fibres of 8.5 um along and across") {
  // Gebart 1992, J. Compos. Mater. 26, 1100; the constants 57 and 53 from memory. c1 and the
  // exponent are confirmed by the lubrication of a narrow gap.
  struct Known {
    Packing packing;
    double vf;
    double along;
    double across;
  };
  const std::array<Known, 6> known{{
      {Packing::square, 0.5, 5.07017544e-12, 9.33682082e-13},
      {Packing::square, 0.6, 1.80272905e-12, 2.27937717e-13},
      {Packing::square, 0.7, 5.58754028e-13, 2.46977435e-14},
      {Packing::hexagonal, 0.5, 5.45283019e-12, 1.18196650e-12},
      {Packing::hexagonal, 0.6, 1.93878407e-12, 4.20840888e-13},
      {Packing::hexagonal, 0.7, 6.00924143e-13, 1.18578915e-13},
  }};
  for (const auto& [packing, vf, along, across] : known) {
    CHECK(relative_error(permeability(AlignedFibresLaw{8.5e-6, packing, false}, vf), along) < 1e-8);
    CHECK(relative_error(permeability(AlignedFibresLaw{8.5e-6, packing, true}, vf), across) < 1e-8);
  }
}

TEST_CASE("fibres that touch let nothing through across") {
  CHECK(std::abs(closest_packing(Packing::square) - 0.7853981634) < 1e-10);
  CHECK(std::abs(closest_packing(Packing::hexagonal) - 0.9068996821) < 1e-10);
  CHECK(permeability(AlignedFibresLaw{8.5e-6, Packing::square, true}, 0.79) == 0);
  CHECK(permeability(AlignedFibresLaw{8.5e-6, Packing::hexagonal, true}, 0.79) > 0);
}

TEST_CASE("a table is straight in ln K over Vf, and goes on so beyond its ends") {
  const PermeabilityLaw law = table_law({0.3, 0.4, 0.6}, std::vector{8e-10, 2e-10, 2e-12});
  CHECK(relative_error(permeability(law, 0.3), 8e-10) < 1e-12);
  CHECK(relative_error(permeability(law, 0.4), 2e-10) < 1e-12);
  CHECK(relative_error(permeability(law, 0.6), 2e-12) < 1e-12);
  CHECK(relative_error(permeability(law, 0.35), 4e-10) < 1e-12);  // geometric mean of the ends
  CHECK(relative_error(permeability(law, 0.5), 2e-11) < 1e-12);   // likewise
  CHECK(relative_error(permeability(law, 0.25), 1.6e-9) < 1e-12); // a factor of 2 per 0.05
  CHECK(relative_error(permeability(law, 0.7), 2e-13) < 1e-12);   // a factor of 10 per 0.1
}

TEST_CASE("how far outside its range a law is asked") {
  // A margin is a tenth of the end that is passed.
  const FractionRange range{0.4, 0.5};
  CHECK(margins_outside(range, 0.4) == 0);
  CHECK(margins_outside(range, 0.45) == 0);
  CHECK(margins_outside(range, 0.5 * (1 + 1e-12)) == 0);
  CHECK(margins_outside(range, 0.55) == doctest::Approx(1));
  CHECK(margins_outside(range, 0.60) == doctest::Approx(2));
  CHECK(margins_outside(range, 0.36) == doctest::Approx(1));
  CHECK(margins_outside(range, 0.30) == doctest::Approx(2.5));
}

TEST_CASE("a power law of compaction and its inverse") {
  // Vf = 0.20 (p / 1 Pa)^0.10: 0.632455532 at 1 bar, since 1e5^0.1 = 10^0.5.
  const CompactionLaw law = PowerCompaction{0.20, 1, 0.10};
  CHECK(std::abs(compacted_fraction(law, 1e5) - 0.632455532) < 1e-9);
  CHECK(relative_error(compacting_pressure(law, 0.4), 1024) < 1e-11); // 2^10
  // The same law through another of its points.
  const CompactionLaw other = PowerCompaction{0.632455532033676, 1e5, 0.10};
  CHECK(relative_error(compacting_pressure(other, 0.4), 1024) < 1e-11);
  for (const double pressure : {1.0, 300.0, 5e4, 2e6}) {
    CHECK(relative_error(compacting_pressure(law, compacted_fraction(law, pressure)), pressure) <
          1e-12);
  }
}

TEST_CASE("a table of compaction and its inverse") {
  const CompactionLaw law =
      table_compaction(std::vector{1e3, 1e5, 1e6}, std::vector{0.25, 0.5, 0.6});
  CHECK(relative_error(compacted_fraction(law, 1e5), 0.5) < 1e-12);
  // Half-way in ln p is half-way in ln Vf: sqrt(0.25 * 0.5) = 0.353553391 at 1e4 Pa.
  CHECK(std::abs(compacted_fraction(law, 1e4) - 0.353553391) < 1e-9);
  CHECK(relative_error(compacting_pressure(law, 0.353553390593274), 1e4) < 1e-10);
  CHECK(std::abs(compacted_fraction(law, 1e7) - 0.72) < 1e-12); // 0.6^2 / 0.5
  CHECK(std::abs(compacted_fraction(law, 1e1) - 0.125) < 1e-12);
  for (const double pressure : {30.0, 2e3, 4e5, 3e6}) {
    CHECK(relative_error(compacting_pressure(law, compacted_fraction(law, pressure)), pressure) <
          1e-11);
  }
}
