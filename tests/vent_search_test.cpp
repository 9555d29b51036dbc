// The search for vents: what it finds, and that it goes on from fillings done before.
#include "solver/vent_search.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;

namespace {

/// Fed in the middle: the resin comes last to both ends, 0.5 m off.
FillProblem two_arms() {
  FillProblem problem = strip({.from = -0.5, .to = 0.5, .gate_at = 0, .cells = 20});
  problem.ambient = 101325;
  return problem;
}

struct SearchRun {
  VentedFill found;
  std::vector<VentTrial> done;
  std::size_t steps = 0; // of all its fillings
};

/// A search that knows some fillings and is cut off after so many steps.
SearchRun search_with(const std::vector<VentTrial>& known, std::size_t most_steps = 1000000) {
  SearchRun run;
  const VentTrialBook book{[&](std::size_t number) {
                             return number < known.size() ? std::optional(known[number])
                                                          : std::nullopt;
                           },
                           [&](std::size_t number, const VentTrial& trial) {
                             CHECK(number == known.size() + run.done.size());
                             run.done.push_back(trial);
                           }};
  run.found = sought_vents(
      two_arms(), {}, [&] { return ++run.steps < most_steps; }, book);
  return run;
}

bool is_same(const FillResult& one, const FillResult& other) {
  return one.fill_time == other.fill_time && one.peak_head_pressure == other.peak_head_pressure &&
         one.history.size() == other.history.size();
}

} // namespace

TEST_CASE("vent search: one at each end, as long as air is shut in one more") {
  const SearchRun run = search_with({});
  REQUIRE(run.found.result);
  CHECK(run.found.result->verdict == Verdict::filled);
  CHECK(run.found.trials == run.done.size());
  CHECK(!run.found.was_cut_off);
  REQUIRE(run.found.vents.size() >= 2);
  const FillProblem problem = two_arms();
  const auto x_of = [&](std::size_t i) { return problem.mesh.positions[run.found.vents[i]].x(); };
  CHECK(std::abs(x_of(0)) == doctest::Approx(0.5));
  CHECK(x_of(1) == doctest::Approx(-x_of(0)));
  CHECK(run.done[0].vents.empty()); // with all air let out
  CHECK(run.done[0].reason == ShortReason::none);
  CHECK(run.done[1].vents == std::vector{run.done[0].next});
  CHECK(run.done[1].reason == ShortReason::trapped_air);
}

TEST_CASE("vent search: no vent gets the name of a gate") {
  FillProblem problem = two_arms();
  problem.gates[0].name = "V2";
  CHECK(vent_at(problem, NodeId(0), 0).name == "V1");
  CHECK(vent_at(problem, NodeId(0), 1).name == "V2'");
}

TEST_CASE("vent search: what is known is not filled again, and the result is the same") {
  const SearchRun whole = search_with({});
  REQUIRE(whole.found.result);
  for (std::size_t known = 1; known <= whole.done.size(); ++known) {
    CAPTURE(known);
    const SearchRun rest =
        search_with({whole.done.begin(), whole.done.begin() + static_cast<std::ptrdiff_t>(known)});
    CHECK(rest.done.size() == whole.done.size() - known);
    CHECK(rest.found.vents == whole.found.vents);
    CHECK(rest.found.trials == whole.found.trials);
    REQUIRE(rest.found.result);
    CHECK(is_same(*rest.found.result, *whole.found.result));
  }
  // All known: only the last filling.
  CHECK(search_with(whole.done).steps == whole.found.result->history.size());
}

TEST_CASE("vent search: a filling that was cut off is not kept") {
  const SearchRun whole = search_with({});
  for (const std::size_t steps : {10U, 150U, 250U}) {
    CAPTURE(steps);
    REQUIRE(steps < whole.steps);
    const SearchRun part = search_with({}, steps);
    CHECK(part.found.was_cut_off);
    CHECK(part.done.size() < whole.done.size());
    const SearchRun rest = search_with(part.done);
    CHECK(rest.found.vents == whole.found.vents);
    CHECK(is_same(*rest.found.result, *whole.found.result));
  }
}
