// How often the samples of a scatter open the mould. The intervals are those of Clopper & Pearson
// (1934) as tables have them: 3 of 10 lie between 6.67 % and 65.25 %.
#include "io/scatter_summary.hpp"
#include "io/scatter_text.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>
#include <vector>

using namespace tidemark;

namespace {

/// Ten that were computed, three of them with more than 4 kN, one of these short; and one failed.
std::vector<ScatterSample> samples() {
  std::vector<ScatterSample> all;
  for (std::size_t i = 0; i < 11; ++i) {
    ScatterSample sample;
    sample.number = i + 1;
    sample.state = i == 2    ? SampleState::short_fill
                   : i == 10 ? SampleState::failed
                             : SampleState::filled;
    sample.peak_force = i < 3 ? 4100 : 3900;
    all.push_back(sample);
  }
  all.back().peak_force = 9000;
  return all;
}

} // namespace

TEST_CASE("scatter: how likely the mould is pushed open") {
  Case input = sample_case();
  input.problem.mould = Mould{Vector3::UnitZ(), 4000};
  const ScatterSummary summary = summarise_scatter(input, samples());
  REQUIRE(summary.opening);
  CHECK(summary.opening->events == 3);
  CHECK(summary.opening->samples == 10);
  CHECK(std::abs(summary.opening->interval.low - 0.0667) <= 1e-4);
  CHECK(std::abs(summary.opening->interval.high - 0.6525) <= 1e-4);
  const std::string text = opening_text(input, summary);
  CHECK(says(text, "Probability of a mould pushed open, held shut with 4.00 kN: 30 % ("));
  CHECK(says(text, "  The push of the fibres is not counted: the case has no compaction data.\n"));
  input.problem.regions[0].fibre_pressure = input.problem.regions[1].fibre_pressure = 100;
  CHECK(!says(opening_text(input, summary), "fibres"));
  input.problem.mould = Mould{Vector3::UnitX(), 4000};
  CHECK(says(opening_text(input, summary), "How likely the mould is pushed open cannot be told: "));
  input.problem.mould->hold_down_force = 0; // it is not said what holds it
  CHECK(!summarise_scatter(input, samples()).opening);
  CHECK(opening_text(input, summarise_scatter(input, samples())).empty());
}
