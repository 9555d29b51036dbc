// The complementarity step: a chain by hand, the conditions themselves, and the completion solve.
#include "solver/pressure_step.hpp"

#include "solver/flow_network.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/fleet.hpp"
#include "tests/support/network_solve.hpp"
#include "tests/support/one_gate.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// A chain of unknowns 0 - 1 - 2 - ... with unit conductances and unit volumes.
FlowSystem chain(std::int32_t length) {
  FlowSystem system;
  system.matrix.first.push_back(0);
  for (std::int32_t i = 0; i < length; ++i) {
    double diagonal = 0;
    std::int32_t upper = system.matrix.first.back();
    for (const std::int32_t j : {i - 1, i + 1}) {
      if (j >= 0 && j < length) {
        system.matrix.column.push_back(j);
        system.matrix.link.push_back(1);
        diagonal += 1;
        upper += j < i ? 1 : 0;
      }
    }
    system.matrix.upper.push_back(upper);
    system.matrix.first.push_back(static_cast<std::int32_t>(system.matrix.column.size()));
    system.matrix.diagonal.push_back(diagonal);
    system.volume.push_back(1);
    system.unknown.push_back(i);
  }
  return system;
}

/// The same with a channel: the first few are joined a hundred times as well as the rest.
FlowSystem chain_with_channel(std::int32_t length, std::int32_t channel) {
  FlowSystem system = chain(length);
  for (std::size_t i = 0; i < position(channel); ++i) {
    system.matrix.diagonal[i] = 0;
    for (std::int32_t k = system.matrix.first[i]; k < system.matrix.first[i + 1]; ++k) {
      double& link = system.matrix.link[position(k)];
      link = system.matrix.column[position(k)] < channel ? 100 : link;
      system.matrix.diagonal[i] += link;
    }
  }
  return system;
}

/// Floors that fall by 0.001 from each unknown to the next.
std::vector<double> falling(std::size_t length) {
  std::vector<double> floor(length);
  for (std::size_t i = 0; i < length; ++i) {
    floor[i] = -0.001 * static_cast<double>(i);
  }
  return floor;
}

FlowSystem random_system() {
  const FillProblem problem = random_regions_problem(30, 21, 9);
  return flow_system(flow_network(problem), problem.gates);
}

/// Largest breach of the conditions of a step, as a fill fraction.
double breach(const FlowSystem& system, const Drive& drive, std::span<const double> u,
              const std::vector<double>& fill) {
  double worst = 0;
  for (std::size_t i = 0; i < system.size(); ++i) {
    if (i == 0 && !drive.volume) {
      continue;
    }
    double inflow = system.matrix.gathered(i, u) - system.matrix.diagonal[i] * u[i];
    inflow += i == 0 ? *drive.volume : 0;
    const double change = inflow / system.volume[i];
    const double room = 1 - fill[i];
    worst = std::max({worst, change - room, -u[i]});
    worst = std::max(worst, u[i] > 0 ? std::abs(change - room) : -change);
  }
  return worst;
}

/// Two steps in a chain whose inner cells are a channel, downhill, and the solves of each.
struct TwoSteps {
  std::vector<double> fill = std::vector<double>(200, 0.0);
  int first = 0, second = 0;

  TwoSteps(double volume_of_first, double volume_of_second) {
    const FlowSystem system = chain_with_channel(200, 66);
    const std::vector<double> floor = falling(200);
    PressureStep step(system);
    const auto solves_for = [&](double volume) {
      const std::array<Port, 1> ports{Port{.unknown = 0, .volume = volume}};
      const int before = step.count().solves;
      step.solve({.fill = fill, .ports = ports, .floor = floor});
      step.advance(fill);
      return step.count().solves - before;
    };
    first = solves_for(volume_of_first);
    second = solves_for(volume_of_second);
  }
};

} // namespace

TEST_CASE("pressure step: a chain given a volume, by hand") {
  // 3.25 units from an empty start: 0, 1 and 2 are full, 3 is a quarter full. Through the links go
  // 2.25, 1.25 and 0.25 units, so u = 3.75, 1.5, 0.25, 0.
  const FlowSystem system = chain(6);
  OneGate step(system);
  std::vector<double> fill(6, 0.0);
  const Drive drive{3.25, std::nullopt};
  const auto u = step.solve(drive, fill, 1);
  const std::vector<double> expected{3.75, 1.5, 0.25, 0, 0, 0};
  for (std::size_t i = 0; i < 6; ++i) {
    CHECK(std::abs(u[i] - expected[i]) <= 1e-8);
  }
  CHECK(step.step().inflow_of_port(0) == 3.25);
  CHECK(step.step().link_flow(0, 1, 1) == doctest::Approx(2.25).epsilon(1e-8));
  CHECK(step.step().border_volume() == doctest::Approx(1)); // unknown 3
  step.step().advance(fill);
  const std::vector<double> full{1, 1, 1, 0.25, 0, 0};
  for (std::size_t i = 0; i < 6; ++i) {
    CHECK(std::abs(fill[i] - full[i]) <= 1e-8);
  }
}

TEST_CASE("pressure step: what a channel's tip cannot hold runs on along it, by hand") {
  // 20.25 units come in: 0 to 19 are full, 20 a quarter full, the link from i to i + 1 carries
  // 19.25 - i, and u falls by a hundredth of that.
  const FlowSystem system = chain_with_channel(100, 26);
  const std::vector<double> floor = falling(100);
  std::vector<double> fill(100, 0.0);
  const std::array<Port, 1> ports{Port{.unknown = 0, .volume = 20.25}};
  PressureStep step(system);
  const auto u = step.solve({.fill = fill, .ports = ports, .floor = floor});
  double expected = floor[20];
  for (std::size_t i = 20; i-- > 0;) {
    expected += (19.25 - static_cast<double>(i)) / 100;
    CHECK(u[i] == doctest::Approx(expected).epsilon(1e-8));
  }
  CHECK(step.count().solves <= 12); // not one for each unknown
  step.advance(fill);
  CHECK(fill[19] == 1);
  CHECK(fill[20] == doctest::Approx(0.25).epsilon(1e-8));
  CHECK(fill[21] == 0);
}

TEST_CASE("pressure step: resin that ran on in a channel does so in the next step, at few solves") {
  // As before, 30.25 units in one step and then 30 in another: 0 to 59 are full, 60 a quarter full.
  const TwoSteps steps(30.25, 30);
  CHECK(steps.fill[59] == 1);
  CHECK(steps.fill[60] == doctest::Approx(0.25).epsilon(1e-8));
  CHECK(steps.fill[61] == 0);
  CHECK(steps.second <= steps.first - 2); // else as many as in the first
  CHECK(steps.second <= 7);
}

TEST_CASE("pressure step: where resin was taken to run on too far in a channel, at few solves") {
  // 30.25 units in one step, then 3 in another that is begun as if as much came again.
  const TwoSteps steps(30.25, 3);
  CHECK(steps.fill[32] == 1);
  CHECK(steps.fill[33] == doctest::Approx(0.25).epsilon(1e-8));
  CHECK(steps.fill[34] == 0);
  CHECK(steps.second <= 7); // 8 if only one cell at a time dries up
}

TEST_CASE("pressure step: one that is not wanted ends when its wet set is known, and the next is "
          "as if it had not been") {
  const FlowSystem system = chain(40);
  std::vector<double> fill(40, 0.0);
  const std::vector<double> floor = falling(40);
  const std::array<Port, 1> ports{Port{.unknown = 0, .volume = 25.25}};
  PressureStep step(system);
  bool reaches = false;
  const auto gives_up = [&](bool) {
    reaches = step.fills(20);
    return true;
  };
  const StepInput input{.fill = fill, .ports = ports, .floor = floor};
  StepInput unwanted = input;
  unwanted.is_unwanted = gives_up;
  CHECK(step.try_quickly(unwanted) == PressureStep::Outcome::unwanted);
  CHECK(reaches);
  CHECK(step.try_quickly(input) == PressureStep::Outcome::solved);
  step.advance(fill);
  CHECK(fill[24] == 1);
  CHECK(fill[25] == doctest::Approx(0.25).epsilon(1e-8));
}

TEST_CASE("pressure step: the careful way finds the same, and how far rounding lets a step go") {
  const FlowSystem system = chain(40);
  const std::vector<double> floor = falling(40);
  const std::array<Port, 1> ports{Port{.unknown = 0, .volume = 25.25}};
  for (const bool is_careful : {false, true}) {
    CAPTURE(is_careful);
    std::vector<double> fill(40, 0.0);
    const StepInput input{.fill = fill, .ports = ports, .floor = floor};
    PressureStep step(system);
    const auto outcome = is_careful ? step.try_carefully(input) : step.try_quickly(input);
    CHECK(outcome == PressureStep::Outcome::solved);
    CHECK(step.about_fills(24));
    CHECK_FALSE(step.about_fills(25));
    step.advance(fill);
    CHECK(fill[24] == 1);
    CHECK(fill[25] == doctest::Approx(0.25).epsilon(1e-8));
    CHECK(step.longest_stretch() > 1);
    CHECK(step.longest_stretch() < 1e9); // rounding takes more than 1e-17 of a cell
  }
}

TEST_CASE("pressure step: in a loose solve a cell as good as full counts as filled") {
  const FlowSystem system = chain(40);
  const std::vector<double> floor = falling(40);
  const std::array<Port, 1> ports{Port{.unknown = 0, .volume = 25.995}};
  std::vector<double> fill(40, 0.0);
  PressureStep step(system);
  REQUIRE(step.try_quickly({.fill = fill, .ports = ports, .floor = floor}) ==
          PressureStep::Outcome::solved);
  CHECK_FALSE(step.fills(25));
  CHECK(step.about_fills(25)); // 0.995 of it
  CHECK_FALSE(step.about_fills(26));
}

TEST_CASE("pressure step: with one air pressure and no gravity the quick way is the only one") {
  const FlowSystem system = chain(6);
  std::vector<double> fill(6, 0.0);
  const std::array<Port, 1> ports{Port{.unknown = 0, .volume = 2.5}};
  const StepInput input{.fill = fill, .ports = ports};
  PressureStep step(system);
  CHECK(step.try_carefully(input) == PressureStep::Outcome::not_found);
  CHECK(step.try_quickly(input) == PressureStep::Outcome::solved);
  step.advance(fill);
  CHECK(fill[2] == doctest::Approx(0.5).epsilon(1e-8));
  CHECK(std::isinf(step.longest_stretch()));
}

TEST_CASE("pressure step: what an inlet that gives no more had reached has no flow") {
  // From 0, then from both ends, then from 0 again: the floor rises towards 39, so that what is
  // full there would run down if it were not idle.
  const FlowSystem system = chain(40);
  std::vector<double> floor = falling(40);
  std::ranges::reverse(floor);
  std::vector<double> fill(40, 0.0);
  PressureStep step(system);
  const auto take = [&](double near, double far) {
    const std::array<Port, 2> ports{Port{.unknown = 0, .volume = near},
                                    Port{.unknown = 39, .volume = far}};
    const StepInput input{
        .fill = fill, .ports = std::span(ports).first(far > 0 ? 2 : 1), .floor = floor};
    REQUIRE(step.try_quickly(input) == PressureStep::Outcome::solved);
    step.advance(fill);
  };
  take(1.5, 0);
  take(0.25, 3.5);
  take(0.25, 0.25);
  const double before = fill[36] + fill[35];
  take(2, 0);
  CHECK(fill[36] + fill[35] == doctest::Approx(before).epsilon(1e-12));
  CHECK(fill[3] == 1);
  for (std::size_t i = 37; i < 40; ++i) {
    CHECK(step.impulse()[i] == floor[i]);
  }
}

TEST_CASE("pressure step: a chain held at a pressure, by hand") {
  const FlowSystem system = chain(6);
  std::vector<double> fill(6, 0.0);
  fill[0] = 1;
  const Drive drive{std::nullopt, 4.0};
  OneGate step(system);
  const auto u = step.solve(drive, fill, 1);
  // Two cells full behind a third partly full: q = outflow; u1 = 4 - q, u2 = u1 - (q - 1) = 5 - 2
  // q, 0 = u2 - (q - 2) = 7 - 3 q, so q = 7/3, u1 = 5/3, u2 = 1/3 and F3 = q - 2 = 1/3.
  CHECK(u[0] == 4.0);
  CHECK(std::abs(u[1] - 5.0 / 3) <= 1e-8);
  CHECK(std::abs(u[2] - 1.0 / 3) <= 1e-8);
  CHECK(u[3] == 0);
  CHECK(step.step().inflow_of_port(0) == doctest::Approx(7.0 / 3).epsilon(1e-8));
  step.step().advance(fill);
  CHECK(std::abs(fill[3] - 1.0 / 3) <= 1e-8);
}

TEST_CASE("pressure step: the conditions hold after every step, however long") {
  const FlowSystem system = random_system();
  const double total = std::accumulate(system.volume.begin(), system.volume.end(), 0.0);
  for (const double share : {0.001, 0.01, 0.1, 0.3, 0.9}) {
    CAPTURE(share);
    OneGate step(system);
    std::vector<double> fill(system.size(), 0.0);
    fill[0] = 1;
    for (int k = 0; k < 3 && (k + 1) * share < 0.95; ++k) {
      const Drive drive{share * total, std::nullopt};
      const auto u = step.solve(drive, fill, 1);
      CHECK(breach(system, drive, u, fill) <= 1e-8);
      step.step().advance(fill);
      const double given = std::inner_product(fill.begin(), fill.end(), system.volume.begin(), 0.0);
      CHECK(relative_error(given, system.volume[0] + (k + 1) * share * total) <= 1e-9);
    }
    CHECK(step.step().count().solves > 0);
    CHECK(step.step().count().largest_residual <= 1e-8);
  }
}

TEST_CASE("pressure step: the conditions hold at a held pressure") {
  const FlowSystem system = random_system();
  const double whole = std::ranges::max(completion_field(system));
  for (const double share : {0.001, 0.1, 0.5, 0.99}) {
    CAPTURE(share);
    OneGate step(system);
    std::vector<double> fill(system.size(), 0.0);
    fill[0] = 1;
    for (int k = 0; k < 2 && (k + 1) * share < 1; ++k) {
      const Drive drive{std::nullopt, share * whole};
      const auto u = step.solve(drive, fill, 1);
      CHECK(breach(system, drive, u, fill) <= 1e-8);
      step.step().advance(fill);
      CHECK(*std::ranges::min_element(fill) < 1 - 1e-4); // not full before the impulse is whole
    }
  }
}

TEST_CASE("pressure step: a bad guess costs work, not the answer") {
  const FlowSystem system = random_system();
  const double total = std::accumulate(system.volume.begin(), system.volume.end(), 0.0);
  const auto second_fill = [&](double guess_scale) {
    OneGate step(system);
    std::vector<double> fill(system.size(), 0.0);
    const Drive first{0.4 * total, std::nullopt};
    step.solve(first, fill, 1);
    step.step().advance(fill);
    const Drive second{0.05 * total, std::nullopt};
    step.solve(second, fill, guess_scale);
    step.step().advance(fill);
    return fill;
  };
  const auto good = second_fill(0.125);
  for (const double scale : {0.0, 1.0, 40.0}) {
    CAPTURE(scale);
    const auto other = second_fill(scale);
    double worst = 0;
    for (std::size_t i = 0; i < good.size(); ++i) {
      worst = std::max(worst, std::abs(good[i] - other[i]));
    }
    CHECK(worst <= 1e-8);
  }
}

TEST_CASE("pressure step: completion from an empty start and half-way") {
  const FlowSystem system = random_system();
  const std::vector<double> exact = completion_field(system);
  const double whole = std::ranges::max(exact);
  OneGate step(system);
  std::vector<double> fill(system.size(), 0.0);
  const auto worst = [&](const std::vector<double>& w, const std::vector<double>& expected) {
    double largest = 0;
    for (std::size_t i = 0; i < w.size(); ++i) {
      largest = std::max(largest, std::abs(w[i] - expected[i]) / whole);
    }
    return largest;
  };
  CHECK(worst(step.completion(fill), exact) <= 1e-7);
  // After an impulse U the rest needs max w - U more.
  fill[0] = 1;
  const Drive drive{std::nullopt, 0.6 * whole};
  step.solve(drive, fill, 1);
  step.step().advance(fill);
  CHECK(relative_error(std::ranges::max(step.completion(fill)), 0.4 * whole) <= 1e-6);
  // And the solver goes on as if nothing had been asked.
  const Drive next{std::nullopt, 0.2 * whole};
  const auto u = step.solve(next, fill, 1.0 / 3);
  CHECK(breach(system, next, u, fill) <= 1e-8);
}
