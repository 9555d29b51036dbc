// Time of mixing carried through cells and hoses, worked out by hand.
#include "solver/resin_age.hpp"

#include "solver/channel_law.hpp"
#include "support/closeness.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// Three cells of 1 m3 in a row, unit links.
FlowSystem row_of_three() {
  FlowSystem system;
  system.matrix.first = {0, 1, 3, 4};
  system.matrix.upper = {0, 2, 4};
  system.matrix.column = {1, 0, 2, 1};
  system.matrix.link = {1, 1, 1, 1};
  system.matrix.diagonal = {1, 2, 1};
  system.volume = {1, 1, 1};
  return system;
}

Resin thickening_resin() {
  Resin resin{0.2, {}, {}};
  resin.mixing = Mixing::inline_head;
  resin.thickening = ExponentialThickening{100};
  return resin;
}

} // namespace

TEST_CASE("mixing times go down the pressure in one pass and keep their content") {
  const FlowSystem system = row_of_three();
  const Resin resin = thickening_resin();
  ResinAge ages(resin, system);
  // 2 m3 enter the first cell, 1.5 go on, 0.5 reach the third.
  const auto first = [](std::int32_t i, std::int32_t j, double) {
    return i == 0 && j == 1 ? 1.0 : i == 1 && j == 2 ? 0.5 : 0.0;
  };
  const std::vector<double> dry{0, 0, 0};
  const std::vector<double> u{3, 2, 1};
  const std::vector<Inlet> early{{0, 2.0, 10, 4}};
  const std::vector<double> partly{1, 0.5, 0.5};
  ages.carry(dry, partly, u, first, early);
  CHECK(ages.mixed_at() == std::vector<double>{10, 10, 10});
  CHECK(ages.front_mixed_at() == std::vector<double>{4, 4, 4});
  // Then 0.5 m3 mixed at 20 push 0.5 on: s1 = (1 x 10 + 0.5 x 20) / 1.5 = 40/3; the second holds
  // 0.5 m3: s2 = (0.5 x 10 + 0.5 x 40/3) / 1 = 35/3, and fills; the third keeps 10.
  const auto second = [](std::int32_t i, std::int32_t j, double) {
    return i == 0 && j == 1 ? 0.5 : 0.0;
  };
  const std::vector<Inlet> late{{0, 0.5, 20, 15}};
  ages.carry(partly, std::vector<double>{1, 1, 0.5}, u, second, late);
  CHECK(relative_error(ages.mixed_at()[0], 40.0 / 3) < 1e-14);
  CHECK(relative_error(ages.mixed_at()[1], 35.0 / 3) < 1e-14);
  CHECK(ages.mixed_at()[2] == 10);
  CHECK(ages.front_mixed_at() == std::vector<double>{4, 4, 4});
  // Content: 10 x 2 + 20 x 0.5 = 30 m3 s in 1 x 40/3 + 1 x 35/3 + 0.5 x 10.
  CHECK(relative_error(40.0 / 3 + 35.0 / 3 + 5, 30) < 1e-14);
}

TEST_CASE(
    "viscosities of the next step: full cells by their content, the front by its first resin") {
  const FlowSystem system = row_of_three();
  const Resin resin = thickening_resin();
  ResinAge ages(resin, system);
  const std::vector<double> dry{0, 0, 0};
  const std::vector<double> u{3, 2, 1};
  const auto flow = [](std::int32_t i, std::int32_t j, double) {
    return i == 0 && j == 1 ? 0.5 : 0.0;
  };
  ages.carry(dry, std::vector<double>{1, 0.5, 0}, u, flow, std::vector<Inlet>{{0, 1.5, 10, 0}});
  ages.judge(std::vector<double>{1, 0.5, 0}, 50);
  CHECK(relative_error(ages.ratio()[0], std::exp(0.4)) < 1e-14); // 40 s old
  CHECK(relative_error(ages.ratio()[1], std::exp(0.5)) < 1e-14); // 50 s
  CHECK(relative_error(ages.ratio()[2], std::exp(0.5)) < 1e-14); // what will come to it
  CHECK(relative_error(ages.link_factor(0, 1), 2 / (std::exp(0.4) + std::exp(0.5))) < 1e-14);
  CHECK_FALSE(ages.front_has_gelled());
}

TEST_CASE("a step in parts: what enters is fresher in each") {
  // A full cell of 1 m3; 1 m3 runs through it in two halves, mixed at 15 and 20 by their ends:
  // s = (10 + 0.5 x 15) / 1.5 = 35/3, then (35/3 + 0.5 x 20) / 1.5 = 130/9.
  FlowSystem system;
  system.matrix.first = {0, 0};
  system.matrix.upper = {0};
  system.matrix.diagonal = {0};
  system.volume = {1};
  const Resin resin = thickening_resin();
  ResinAge ages(resin, system, 2);
  const auto none = [](std::int32_t, std::int32_t, double) { return 0.0; };
  const std::vector<double> u{1};
  ages.carry(std::vector<double>{0}, std::vector<double>{1}, u, none,
             std::vector<Inlet>{{0, 1, 10, 10}});
  ages.carry(std::vector<double>{1}, std::vector<double>{1}, u, none,
             std::vector<Inlet>{{0, 1, 20, 10}});
  CHECK(relative_error(ages.mixed_at()[0], 130.0 / 9) < 1e-14);
}

TEST_CASE("viscosities half a step ahead") {
  const FlowSystem system = row_of_three();
  const Resin resin = thickening_resin();
  ResinAge ages(resin, system);
  const std::vector<double> u{3, 2, 1};
  const auto flow = [](std::int32_t i, std::int32_t j, double) {
    return i == 0 && j == 1 ? 0.5 : 0.0;
  };
  const std::vector<double> fill{1, 0.5, 0};
  ages.carry(std::vector<double>{0, 0, 0}, fill, u, flow, std::vector<Inlet>{{0, 1.5, 10, 0}});
  ages.judge(fill, 50);
  ages.judge(fill, 54, 2);
  // The full cell was exp(0.4), is exp(0.44), and half as much further on exp(0.46); the front is
  // 56 s old.
  CHECK(relative_error(ages.ratio()[0], std::exp(0.46)) < 1e-14);
  CHECK(relative_error(ages.ratio()[1], std::exp(0.56)) < 1e-14);
}

TEST_CASE("resin in a hose moves in plugs") {
  // Bore 20 mm, 1 m: pi / 4 x 4e-4 m3 = 3.14159e-4 m3.
  const std::vector<Hose> line{{1, 0.02}};
  const double volume = std::numbers::pi * 1e-4;
  HoseContents hose(line);
  const auto half = hose.push(0.5 * volume, 0, 10); // what was in it leaves, mixed at 0
  CHECK(half.mixed_at == 0);
  CHECK(half.oldest == 0);
  const auto whole = hose.push(volume, 10, 30); // out comes the rest of that, then the first half
  CHECK(whole.oldest == 0);
  CHECK(relative_error(whole.mixed_at, 10) < 1e-12); // 20 s for a hose full: half of it was at 10 s
  // It now holds what passed from 10 to 30 s, evenly; mean of exp((40 - s) / 100) over those.
  const Resin resin = thickening_resin();
  const double middle = 0.2 * std::exp(0.2); // mu at the age of its middle
  const double expected = hose_resistance(line) * middle / 0.2;
  CHECK(relative_error(hose.resistance(resin, 40), expected) < 1e-12);
}

TEST_CASE("without a hose resin enters fresh") {
  HoseContents none({});
  const auto passed = none.push(1e-3, 5, 7);
  CHECK(passed.mixed_at == 7);
  CHECK(passed.oldest == 5);
  CHECK_FALSE(none.is_hose());
}
