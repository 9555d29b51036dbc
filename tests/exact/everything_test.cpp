// All that the shop adds switched on at once, on the plate of the benchmark.
#include "solver/filling.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/plate_with_hole.hpp"

#include <doctest/doctest.h>

#include <cmath>

using namespace tidemark;
using namespace tidemark::test;

TEST_CASE("Everything: coarse and fine meshes come to the same end, without a loss") {
  // The vent at the far corner closes on arrival; the air shut in then is pressed till nothing
  // flows.
  const FillResult coarse = fill(with_everything(plate_with_hole(500)));
  const FillResult fine = fill(with_everything(plate_with_hole(6000)));
  for (const FillResult& result : {coarse, fine}) {
    CHECK(result.verdict == Verdict::short_fill);
    CHECK(result.reason == ShortReason::trapped_air);
    CHECK(std::abs(result.mass_balance_error) <= 1e-8);
    CHECK(result.work.largest_residual <= 1e-8);
  }
  CHECK(relative_error(coarse.filled_fraction, fine.filled_fraction) <= 0.01);
}

TEST_CASE("Everything: it takes at most 1.3 times the linear iterations of the plain filling") {
  for (const int triangles : {2000, 6000}) {
    FillProblem problem = plate_with_hole(triangles);
    const long plain = fill(problem).work.linear_iterations;
    const FillResult all = fill(with_everything(std::move(problem)));
    CHECK(static_cast<double>(all.work.linear_iterations) <= 1.3 * static_cast<double>(plain));
  }
}
