// Stacks of plies against averages worked out by hand, bounds and identities.
#include "solver/layup.hpp"
#include "support/closeness.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;
using std::numbers::pi;

namespace {

constexpr double degree = pi / 180;

/// A fabric whose permeability does not depend on its Vf: solid is its thickness without pores.
Fabric plain_fabric(double k1, double k2, double solid = 0.45e-3) {
  return {"fabric", solid * 2500, 2500, ConstantLaw{k1}, ConstantLaw{k2}, {0.1, 0.7}};
}

Fabric with_compaction(Fabric fabric, CompactionLaw law) {
  fabric.compaction = std::move(law);
  return fabric;
}

ClosedStack closed(const Layup& layup, double thickness) {
  const auto stack = close_stack(layup, thickness);
  REQUIRE(stack);
  return *stack;
}

/// Four plies of two fabrics at odd angles, and a core, all turned by an angle.
Layup odd_layup(double turned_by) {
  Layup layup{{plain_fabric(3e-10, 4e-11), plain_fabric(9e-11, 7e-11, 0.3e-3)}, {}};
  layup.fabrics[1].warp_to_k1 = 12 * degree;
  layup.entries = {FabricPlies{0, 2, 20 * degree + turned_by},
                   FabricPlies{1, 1, -50 * degree + turned_by},
                   FixedLayer{5e-3, 0.1, 6e-10, 2e-11, 75 * degree + turned_by},
                   FabricPlies{0, 1, 100 * degree + turned_by}};
  return layup;
}

} // namespace

TEST_CASE("skins and core averaged through the thickness") {
  // K = sum K_i h_i / h, phi = sum phi_i h_i / h: skins 1 mm (3e-10, 0.55), core 2 mm (5e-9, 0.85).
  const FixedLayer core{2e-3, 0.85, 5e-9, 5e-9, 0};
  const Layup layup{{plain_fabric(3e-10, 3e-10)},
                    {FabricPlies{0, 1, 0}, core, FabricPlies{0, 1, 0}}};
  const ClosedStack stack = closed(layup, 4e-3);
  CHECK(relative_error(stack.permeability_1, 2.65e-9) < 1e-12);
  CHECK(stack.permeability_2 == stack.permeability_1);
  CHECK(relative_error(stack.porosity, 0.7) < 1e-12);
  CHECK(relative_error(stack.ply_volume_fraction, 0.45) < 1e-12);
  CHECK(relative_error(stack.fibre_volume_fraction, 0.225) < 1e-12); // 0.9 mm of 4 mm
  CHECK(stack.layers.size() == 3);
  CHECK(relative_error(stack.layers[0].thickness, 1e-3) < 1e-12);
}

TEST_CASE("three layers of 450 g/m2 in 4 mm") {
  // Vf = n m / (rho h) = 3 * 0.450 / (2560 * 0.004) = 0.131835938
  const Fabric mat{"mat", 0.450, 2560, ConstantLaw{1e-9}, ConstantLaw{1e-9}, {0.1, 0.3}};
  const Layup layup{{mat}, {FabricPlies{0, 3, 0}}};
  const ClosedStack stack = closed(layup, 4e-3);
  CHECK(std::abs(stack.fibre_volume_fraction - 0.131835938) < 1e-9);
  CHECK(stack.ply_volume_fraction == doctest::Approx(stack.fibre_volume_fraction).epsilon(1e-14));
  CHECK(std::abs(stack.porosity - 0.868164062) < 1e-9);
  CHECK(relative_error(stack.areal_weight, 1.35) < 1e-14);
  CHECK(relative_error(thickness_for(layup, 0.1318359375), 4e-3) < 1e-12);
  CHECK_FALSE(stack.closing_pressure);
}

TEST_CASE("shear at fixed cavity") {
  // Vf = Vf0 / cos g, and the Kozeny-Carman factor on K that goes with it.
  const Fabric woven{
      "woven",   0.45 * 2500 * 1e-3, 2500, KozenyCarmanLaw{1e-10}, KozenyCarmanLaw{1e-10},
      {0.3, 0.7}};
  const auto sheared = [&](double angle) {
    return closed(Layup{{woven}, {FabricPlies{0, 1, 0, angle * degree}}}, 1e-3);
  };
  const double k0 = sheared(0).permeability_1;
  const std::array<std::array<double, 4>, 3> known{{{15, 0.46587428, 0.854535, 1.698396},
                                                    {30, 0.51961524, 0.499736, 3},
                                                    {45, 0.63639610, 0.144467, 5.828427}}};
  for (const auto& [angle, vf, factor, ratio] : known) {
    CHECK(std::abs(sheared(angle).fibre_volume_fraction - vf) < 1e-8);
    // The factor is that of the geometric mean; K1 lies half-way between the yarns, and K1 / K2 is
    // (1 + sin g) / (1 - sin g), that is 1.698396, 3 and 5.828427.
    const ClosedStack stack = sheared(angle);
    CHECK(std::abs(std::sqrt(stack.permeability_1 * stack.permeability_2) / k0 - factor) < 1e-6);
    CHECK(std::abs(stack.permeability_1 / stack.permeability_2 - ratio) < 1e-6);
    CHECK(std::abs(stack.angle - 0.5 * (90 - angle) * degree) < 1e-12);
  }
}

TEST_CASE("a cavity 5 % thicker") {
  // multiplies a Kozeny-Carman K by 1.142, 1.171, 1.211, 1.268, 1.356 at Vf 0.2 to 0.6.
  const std::array<std::array<double, 2>, 5> known{
      {{0.2, 1.142}, {0.3, 1.171}, {0.4, 1.211}, {0.5, 1.268}, {0.6, 1.356}}};
  for (const auto& [vf, factor] : known) {
    const Fabric fabric{
        "", vf * 2500 * 1e-3, 2500, KozenyCarmanLaw{1e-10}, KozenyCarmanLaw{1e-10}, {0.1, 0.7}};
    const Layup layup{{fabric}, {FabricPlies{0, 1, 0}}};
    const double ratio = closed(layup, 1.05e-3).permeability_1 / closed(layup, 1e-3).permeability_1;
    CHECK(std::abs(ratio - factor) < 5.1e-4);
  }
}

TEST_CASE("a stack of one fabric is the fabric") {
  Fabric fabric = plain_fabric(3e-10, 4e-11);
  fabric.warp_to_k1 = 10 * degree;
  for (const int count : {1, 2, 7}) {
    const ClosedStack stack =
        closed(Layup{{fabric}, {FabricPlies{0, count, 25 * degree}}}, count * 1e-3);
    CHECK(relative_error(stack.permeability_1, 3e-10) < 1e-13);
    CHECK(relative_error(stack.permeability_2, 4e-11) < 1e-13);
    CHECK(std::abs(stack.angle - 35 * degree) < 1e-13);
    CHECK(relative_error(stack.porosity, 0.55) < 1e-13);
  }
}

TEST_CASE("balanced stacks are isotropic, with the mean of K1 and K2") {
  const auto stack_at = [](const std::vector<double>& angles) {
    Layup layup{{plain_fabric(3e-10, 1e-10)}, {}};
    for (const double angle : angles) {
      layup.entries.push_back(FabricPlies{0, 1, angle * degree});
    }
    return closed(layup, 1e-3 * static_cast<double>(angles.size()));
  };
  for (const auto& angles : std::vector<std::vector<double>>{
           {0, 90, 90, 0}, {45, -45}, {30, 120}, {0, 60, -60}, {0, 45, 90, 135}, {7, 97, 97, 7}}) {
    const ClosedStack stack = stack_at(angles);
    CHECK(relative_error(stack.permeability_1, 2e-10) < 1e-13);
    CHECK(stack.permeability_2 == stack.permeability_1);
    CHECK(stack.angle == 0);
  }
  // 0, 0, 90: 2/3 of one and 1/3 of the other.
  const ClosedStack uneven = stack_at({0, 0, 90});
  CHECK(relative_error(uneven.permeability_1, 7e-10 / 3) < 1e-13);
  CHECK(relative_error(uneven.permeability_2, 5e-10 / 3) < 1e-13);
}

TEST_CASE("two plies off the axes, worked out by hand") {
  // K1 = 3e-10, K2 = 1e-10 at 0 and at 45 degrees: mean 2e-10, and deviators 1e-10 (1, 0) and
  // 1e-10 (0, 1) in (cos 2t, sin 2t), whose mean has the length 1e-10 / sqrt 2 and 2t = 45 degrees.
  const Layup layup{{plain_fabric(3e-10, 1e-10)},
                    {FabricPlies{0, 1, 0}, FabricPlies{0, 1, 45 * degree}}};
  const ClosedStack stack = closed(layup, 2e-3);
  CHECK(relative_error(stack.permeability_1, 2.70710678118655e-10) < 1e-12);
  CHECK(relative_error(stack.permeability_2, 1.29289321881345e-10) < 1e-12);
  CHECK(std::abs(stack.angle - 22.5 * degree) < 1e-12);
}

TEST_CASE("a stack turned as a whole keeps its invariants") {
  const ClosedStack still = closed(odd_layup(0), 9e-3);
  for (const double angle : {1.0, 17.0, 45.0, 90.0, 133.7, 180.0, -61.0, 720.5}) {
    const ClosedStack turned = closed(odd_layup(angle * degree), 9e-3);
    CHECK(relative_error(turned.permeability_1, still.permeability_1) < 1e-12);
    CHECK(relative_error(turned.permeability_2, still.permeability_2) < 1e-12);
    CHECK(relative_error(turned.porosity, still.porosity) < 1e-13);
    CHECK(std::abs(std::sin(turned.angle - still.angle - angle * degree)) < 1e-11);
  }
}

TEST_CASE("a stack lies between its layers in series and the best of them") {
  // For any direction n, K_nn is the arithmetic mean of the layers' (layers side by side), so above
  // their harmonic mean (layers in series) and below the largest.
  const ClosedStack stack = closed(odd_layup(0), 9e-3);
  const auto along = [](double k1, double k2, double off) {
    return k1 * std::cos(off) * std::cos(off) + k2 * std::sin(off) * std::sin(off);
  };
  for (int i = 0; i < 36; ++i) {
    const double direction = 5 * i * degree;
    double best = 0;
    double resistance = 0;
    for (const Layer& layer : stack.layers) {
      const double k = along(layer.permeability_1, layer.permeability_2, direction - layer.angle);
      best = std::max(best, k);
      resistance += layer.thickness / (k * stack.thickness);
    }
    const double k = along(stack.permeability_1, stack.permeability_2, direction - stack.angle);
    CHECK(k > 1.01 / resistance);
    CHECK(k < 0.99 * best);
  }
}

TEST_CASE("plies of two fabrics bear on each other with one pressure") {
  // Vf = 0.30 (p / 1 bar)^0.1 and 0.50 (p / 1 bar)^0.1: under 1 bar, 0.6 mm of solid and 0.5 mm of
  // solid are 2 mm and 1 mm thick; under 1024 bar half of that.
  const Fabric mat =
      with_compaction(plain_fabric(3e-9, 3e-9, 0.6e-3), PowerCompaction{0.3, 1e5, 0.1});
  const Fabric woven =
      with_compaction(plain_fabric(1e-10, 1e-10, 0.5e-3), PowerCompaction{0.5, 1e5, 0.1});
  const Layup layup{{mat, woven}, {FabricPlies{0, 1, 0}, open_gap(0.5e-3), FabricPlies{1, 1, 0}}};
  const ClosedStack stack = closed(layup, 3.5e-3);
  REQUIRE(stack.closing_pressure);
  CHECK(relative_error(*stack.closing_pressure, 1e5) < 1e-11);
  CHECK(relative_error(stack.layers[0].thickness, 2e-3) < 1e-12);
  CHECK(relative_error(stack.layers[2].thickness, 1e-3) < 1e-12);
  CHECK(relative_error(stack.layers[0].fibre_volume_fraction, 0.3) < 1e-12);
  CHECK(relative_error(stack.layers[2].fibre_volume_fraction, 0.5) < 1e-12);
  CHECK(relative_error(closed(layup, 2e-3).closing_pressure.value_or(0), 1.024e8) < 1e-11);
}

TEST_CASE("exponents that differ: the thicknesses add up, the pressures agree") {
  const Fabric soft =
      with_compaction(plain_fabric(3e-9, 3e-9, 0.6e-3), PowerCompaction{0.2, 1e4, 0.25});
  const Fabric stiff =
      with_compaction(plain_fabric(1e-10, 1e-10, 0.9e-3),
                      table_compaction(std::vector{1e3, 1e5, 1e6}, std::vector{0.4, 0.55, 0.6}));
  const Layup layup{{soft, stiff}, {FabricPlies{0, 2, 0}, FabricPlies{1, 3, 0}}};
  for (const double thickness : {6e-3, 8e-3, 11e-3}) {
    const ClosedStack stack = closed(layup, thickness);
    CHECK(relative_error(stack.layers[0].thickness + stack.layers[1].thickness, thickness) < 1e-12);
    for (const std::size_t i : {0U, 1U}) {
      CHECK(relative_error(compacting_pressure(*layup.fabrics[i].compaction,
                                               stack.layers[i].fibre_volume_fraction),
                           *stack.closing_pressure) < 1e-9);
    }
  }
}

TEST_CASE("without all compaction laws the fabrics have the same Vf") {
  const Fabric mat =
      with_compaction(plain_fabric(3e-9, 3e-9, 0.6e-3), PowerCompaction{0.3, 1e5, 0.1});
  const Layup layup{{mat, plain_fabric(1e-10, 1e-10, 0.4e-3)},
                    {FabricPlies{0, 1, 0}, FabricPlies{1, 1, 0}}};
  const ClosedStack stack = closed(layup, 2.5e-3);
  CHECK_FALSE(stack.closing_pressure);
  CHECK(relative_error(stack.layers[0].fibre_volume_fraction, 0.4) < 1e-13);
  CHECK(relative_error(stack.layers[1].fibre_volume_fraction, 0.4) < 1e-13);
  CHECK(relative_error(stack.layers[0].thickness, 1.5e-3) < 1e-13);
}

TEST_CASE("an open gap and the grooves of a core") {
  const FixedLayer gap = open_gap(0.6e-3);
  CHECK(relative_error(gap.permeability_1, 3e-8) < 1e-13); // 0.6 mm squared / 12
  CHECK(gap.porosity == 1);
  // Square grooves 2 mm by 2 mm every 20 mm in 10 mm: a fiftieth of the core is open. A square
  // channel has K = 0.0351443 a^2 (textbook series).
  const FixedLayer core = grooved_core(10e-3, {2e-3, 2e-3, 20e-3, false}, 0.3);
  CHECK(relative_error(core.porosity, 0.02) < 1e-13);
  CHECK(relative_error(core.permeability_1, 0.02 * 0.0351443 * 4e-6) < 1e-5);
  CHECK(core.permeability_2 == 0);
  CHECK(core.angle == 0.3);
  // A second set shares the crossings with the first: 2/10 - 1/100 of the face, 2 mm of 10 deep.
  const FixedLayer crossed = grooved_core(10e-3, {2e-3, 2e-3, 20e-3, true}, 0);
  CHECK(relative_error(crossed.porosity, 0.038) < 1e-13);
  CHECK(crossed.permeability_1 == core.permeability_1);
  CHECK(crossed.permeability_2 == core.permeability_1);
}

TEST_CASE("a stack no pressure can close is none") {
  const Fabric stiff =
      with_compaction(plain_fabric(1e-10, 1e-10, 0.5e-3), PowerCompaction{0.3, 1e5, 1e-4});
  CHECK_FALSE(close_stack(Layup{{stiff}, {FabricPlies{0, 1, 0}}}, 1e-3)); // Vf = 0.5
}
