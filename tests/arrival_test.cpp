// Arrival times within steps, against the closed form of a chain of cells.
#include "solver/arrival.hpp"

#include "solver/flow_network.hpp"
#include "solver/pressure_step.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/one_gate.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

namespace {

constexpr int cells = 40;

/// A strip 1 m long, two nodes wide; unknown of the node at x = i / cells on one side.
struct Strip {
  FlowSystem system;
  std::vector<std::size_t> along;
  std::size_t other_corner; // the other one at x = 1
};

Strip strip() {
  ShellMesh mesh = plate({.length = 1, .width = 0.1, .columns = cells, .rows = 1});
  const auto gate = nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; });
  const FillProblem problem = with_pressure(problem_on(std::move(mesh), gate));
  Strip result{flow_system(flow_network(problem), problem.gates), {}, 0};
  result.other_corner = static_cast<std::size_t>(result.system.unknown[NodeId(2 * cells + 1)]);
  for (int i = 0; i <= cells; ++i) {
    result.along.push_back(static_cast<std::size_t>(result.system.unknown[NodeId(i)]));
  }
  return result;
}

/// Fills the strip at 1e5 Pa to x = end in steps that are each an even share of the way; viscosity
/// 0.2 Pa s, x^2 = 2 D t.
ArrivalTracker track(const Strip& strip, int steps, double end) {
  OneGate step(strip.system);
  ArrivalTracker tracker(strip.system.size());
  tracker.set(0, 0);
  std::vector<double> fill(strip.system.size(), 0.0);
  fill[0] = 1;
  double begin = 0;
  for (int k = 1; k <= steps; ++k) {
    const double x = end * k / steps;
    const double duration = x * x / (2 * 1.25e-3) - begin;
    const Drive drive{std::nullopt, 1e5 * duration / 0.2};
    const std::vector<double> before = fill;
    const auto u = step.solve(drive, fill, 1);
    step.step().advance(fill);
    tracker.record(strip.system, {before, fill, u, u, begin, duration});
    begin += duration;
  }
  return tracker;
}

double front(double time) {
  return std::sqrt(2 * 1.25e-3 * time);
}

} // namespace

TEST_CASE("arrival: passed at the node, full half a cell later, in short steps and long ones") {
  const Strip part = strip();
  for (const int steps : {400, 100, 30}) {
    CAPTURE(steps);
    const ArrivalTracker tracker = track(part, steps, 0.9);
    double sum = 0;
    double previous = 0;
    for (int i = 4; i < 0.85 * cells; ++i) {
      CAPTURE(i);
      const std::size_t unknown = part.along[static_cast<std::size_t>(i)];
      const double x = static_cast<double>(i) / cells;
      const double passed = tracker.passed()[unknown];
      const double shut = tracker.shut()[unknown];
      CHECK(passed > previous);
      CHECK(shut >= passed);
      CHECK(std::abs(front(passed) - x) * cells <= 0.5);
      CHECK(std::abs(front(shut) - x - 0.5 / cells) * cells <= 0.5);
      sum += (front(passed) - x) * cells;
      previous = passed;
    }
    CHECK(std::abs(sum / (0.85 * cells)) <= 0.15);
  }
}

TEST_CASE("arrival: not reached is NaN, and a time that is set stays") {
  const Strip part = strip();
  ArrivalTracker tracker = track(part, 30, 0.9);
  CHECK(tracker.passed()[0] == 0);
  CHECK(std::isnan(tracker.passed()[part.along.back()]));
  CHECK(std::isnan(tracker.shut()[part.along.back()]));
  CHECK(std::isnan(tracker.fill_times(part.system)[part.along.back()]));
  tracker.set(part.along.back(), 400);
  CHECK(tracker.passed()[part.along.back()] == 400);
  CHECK(tracker.shut()[part.along.back()] == 400);
}

TEST_CASE(
    "arrival: the fill time is when the node is passed, at a dead end when its cell is full") {
  const Strip part = strip();
  const ArrivalTracker tracker = track(part, 100, 1.01);
  const auto times = tracker.fill_times(part.system);
  for (std::size_t i = 1; i < cells; ++i) {
    CHECK(times[part.along[i]] == tracker.passed()[part.along[i]]);
  }
  // The corners' cells differ in size, so one is passed later; it is full when all is.
  const std::size_t corner = part.along.back();
  const bool is_later = tracker.passed()[corner] > tracker.passed()[part.other_corner];
  const std::size_t last = is_later ? corner : part.other_corner;
  CHECK(times[last] > tracker.passed()[last]);
  CHECK(times[last] == tracker.shut()[last]);
  CHECK(std::abs(front(times[last]) - 1) * cells <= 0.25);
}

TEST_CASE("arrival: air pressed ahead of the front is no resin") {
  const Strip part = strip();
  ArrivalTracker tracker(part.system.size());
  const std::vector<double> fill(part.system.size(), 0.3);
  const std::vector<double> u(part.system.size(), 1e-3); // the pocket's pressure, above its floor
  tracker.record(part.system, {fill, fill, u, u, 0, 10});
  CHECK(std::isnan(tracker.passed()[part.along[10]]));
  CHECK(std::isnan(tracker.shut()[part.along[10]]));
}
