// Layouts nobody thought of: gates, vents, hoses, channels, air and gravity drawn at random.
#include "tests/support/random_layout.hpp"

#include <doctest/doctest.h>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// The same layouts with a resin that thickens, gels or both, as a batch or mixed inline, over
/// times of the order of those the filling takes.
RandomLayout ageing_layout(std::uint32_t seed) {
  RandomLayout layout = random_layout(seed);
  Resin& resin = layout.problem.resin;
  resin.mixing = seed % 3 == 0 ? Mixing::batch : Mixing::inline_head;
  const double time = 300 * resin.viscosity / 0.2 * (0.3 + 0.5 * (seed % 7));
  if (seed % 4 == 0) {
    resin.thickening = ExponentialThickening{time};
  } else if (seed % 4 == 2) {
    const CureCourse course = cure_course(FirstOrderCure{1 / time}, 0.6);
    resin.gel_time = course.gel_age();
    resin.thickening = CureThickening{course, 1.5, 1};
  } else {
    resin.gel_time = time;
    resin.thickening = seed % 4 == 1 ? Thickening(PowerThickening{time, 1.5}) : Thickening{};
  }
  return layout;
}

} // namespace

TEST_CASE("Random layouts fill, or say why not, and lose nothing") {
  for (std::uint32_t seed = 1; seed <= seeds_tried(300); ++seed) {
    const std::string faults = faults_of_filling(random_layout(seed));
    CHECK_MESSAGE(faults.empty(), "seed " << seed << ": " << faults);
  }
}

TEST_CASE("Layouts of before that filled in steps of microseconds do not creep") {
  // Pockets of a cell or two at a high cap: the step to the next full cell was a small part of it,
  // and the pump's step at its set flow no longer than that at the cap (255, 1496). A body whose
  // only port had closed was left without a way out, its pressure open (594, 649).
  for (const std::uint32_t seed : {255, 594, 649, 1496}) {
    CAPTURE(seed);
    const RandomLayout layout = random_layout(seed);
    constexpr int most = 200;
    const auto goes_on = [](const StepReport& report) { return report.step < most; };
    CHECK(fill(layout.problem, layout.options, goes_on).work.steps < most);
  }
}

TEST_CASE("Layouts of before that lost resin, or their way, do not") {
  // Ports that went to and fro were left as they were: 20 % lost (5599). A body given resin that
  // had nowhere to go leaked it through what was closed: 1 % lost (15902). A set that was wanted or
  // not before its ports worked the right way: 5000 steps (8974). A gate whose own cells were the
  // last that were dry: no step on (11704). Steps at rest that bring more and less by chance, taken
  // for a flow that picks up: years, in which rounding adds up (1004, 11434). A vent that lets out
  // next to nothing was waited for (5964).
  for (const std::uint32_t seed : {1004, 5599, 5964, 8974, 11434, 11704, 15902}) {
    const std::string faults = faults_of_filling(random_layout(seed));
    CHECK_MESSAGE(faults.empty(), "seed " << seed << ": " << faults);
  }
}

TEST_CASE(
    "What only rounding leaves behind as resin runs through a vent is no flow that picks up") {
  // The more runs through the more it is: the run went on for half a year where a day is at rest.
  const RandomLayout layout = random_layout(3317);
  const FillResult result = fill(layout.problem, layout.options);
  CHECK(result.reason == ShortReason::pressure);
  CHECK(result.end_time < 86400);
}

TEST_CASE("Random layouts with resin that ages fill, or say why not, and lose nothing") {
  for (std::uint32_t seed = 1; seed <= seeds_tried(120); ++seed) {
    const std::string faults = faults_of_filling(ageing_layout(seed));
    CHECK_MESSAGE(faults.empty(), "seed " << seed << ": " << faults);
  }
}

TEST_CASE("While gates fill but their own cells, steps are as long as that takes") {
  // What comes mixes with what is there: 5000 steps of a thousandth of the gel time.
  for (const std::uint32_t seed : {1421, 2498, 2813}) {
    const std::string faults = faults_of_filling(ageing_layout(seed));
    CHECK_MESSAGE(faults.empty(), "seed " << seed << ": " << faults);
  }
}
