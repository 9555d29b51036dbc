// Channel permeabilities from the textbook series, summed independently to ten digits, and
// Poiseuille's law by hand.
#include "solver/channel_law.hpp"

#include "tests/support/closeness.hpp"

#include <doctest/doctest.h>

#include <array>
#include <numbers>

using namespace tidemark;
using namespace tidemark::test;

TEST_CASE("channel law: rectangles") {
  CHECK(relative_error(rectangle_permeability(1, 1), 0.0351442537) <= 2e-9);
  CHECK(relative_error(rectangle_permeability(2, 1), 0.0571704193) <= 2e-9);
  CHECK(relative_error(rectangle_permeability(4e-3, 4e-3), 5.62308060e-7) <= 5e-9);
  CHECK(relative_error(rectangle_permeability(4e-3, 8e-3), 9.14726709e-7) <= 5e-9);
  CHECK(relative_error(rectangle_permeability(4e-3, 20e-3), 1.16526702e-6) <= 5e-9);
  CHECK(relative_error(rectangle_permeability(1e-3, 4e-3), 7.02032396e-8) <= 5e-9);
  CHECK(relative_error(rectangle_permeability(6e-3, 12e-3), 2.05813509e-6) <= 5e-9);
}

TEST_CASE("channel law: width and depth may change places") {
  CHECK(rectangle_permeability(8e-3, 4e-3) == rectangle_permeability(4e-3, 8e-3));
}

TEST_CASE("channel law: a rectangle much wider than deep is a slot") {
  // The ends take 0.63 of the depth from the width: 1 - 192 (31/32) zeta(5) a / (pi^5 b).
  const double flat = rectangle_permeability(1, 1e-6);
  CHECK(flat < slot_permeability(1e-6));
  CHECK(relative_error(flat, slot_permeability(1e-6)) <= 1e-6);
  CHECK(relative_error(rectangle_permeability(1, 0.01),
                       slot_permeability(0.01) * (1 - 0.0063025)) <= 1e-6);
}

TEST_CASE("channel law: slots and tubes") {
  CHECK(relative_error(slot_permeability(4e-3), 1.3333333e-6) <= 5e-8);
  CHECK(relative_error(tube_permeability(8e-3), 2.0e-6) <= 1e-14);
  CHECK(relative_error(tube_permeability(10e-3), 3.125e-6) <= 1e-14);
}

TEST_CASE("channel law: hose") {
  // 128 l / (pi d^4): 2 m of 8 mm bore, 1.98943679e10 1/m3; at 2e-6 m3/s and 0.2 Pa s 7957.74715
  // Pa.
  const std::array one{Hose{2, 8e-3}};
  CHECK(relative_error(hose_resistance(one), 1.98943679e10) <= 5e-9);
  CHECK(relative_error(hose_resistance(one) * 0.2 * 2e-6, 7957.74715) <= 1e-9);
}

TEST_CASE("channel law: lengths of hose add up, the narrow one governs") {
  CHECK(hose_resistance({}) == 0);
  // 1 m of half the bore resists like 16 m of the full one.
  const std::array line{Hose{2, 8e-3}, Hose{1, 4e-3}};
  CHECK(relative_error(hose_resistance(line), 9 * 1.98943679e10) <= 5e-9);
  // The same as a tube: K A / l with K = d^2 / 32.
  const std::array one{Hose{3, 5e-3}};
  const double area = std::numbers::pi * 5e-3 * 5e-3 / 4;
  CHECK(relative_error(1 / hose_resistance(one), tube_permeability(5e-3) * area / 3) <= 1e-12);
}
