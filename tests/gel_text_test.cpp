// What is said of age and gel, of made-up results.
#include "io/gel_text.hpp"
#include "io/summary.hpp"
#include "io/verdict_text.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <string>

using namespace tidemark;

namespace {

/// 0.2 Pa s fresh, e-fold in 10 min, gels at 20 min; mixed in the head.
Case ageing_case() {
  Case input = sample_case();
  input.problem.resin = {0.2, 1100, 1200};
  input.problem.resin.thickening = ExponentialThickening{600};
  input.problem.resin.mixing = Mixing::inline_head;
  return input;
}

/// Full after 600 s, the oldest resin as old.
FillResult aged_result() {
  FillResult result = sample_result();
  result.age = AgeFacts{320, 600};
  return result;
}

} // namespace

TEST_CASE("viscosity at ages, as a table") {
  const std::string text = resin_at_ages_text(ageing_case());
  CHECK(says(text, "Resin: 200 mPa.s when fresh, gels when 20:00 min old.\n"));
  CHECK(says(text, "  10:00 min old  544 mPa.s\n")); // 0.2 e = 0.5437
  CHECK(resin_at_ages_text(sample_case()).empty());
  Case input = ageing_case();
  input.resin.temperature = 294.15;
  input.resin.catalyst = 0.015;
  input.problem.resin.mixing = Mixing::batch;
  input.problem.resin.mixed_before = 120;
  const std::string more = resin_at_ages_text(input);
  CHECK(says(more, "Resin at 21 degC and 1.5 % of catalyst: "));
  CHECK(says(more, "It is 2:00 min old when the injection starts."));
}

TEST_CASE("age at the end against the gel") {
  const std::string text = gel_text(ageing_case(), aged_result());
  CHECK(says(text,
             "The resin is 10:00 min old at the end where it is oldest, 5:20 min in the mean; "
             "it gels at 20:00 min: 10:00 min to spare.\n"));
  CHECK(says(text, "Its viscosity is 200 mPa.s when fresh, and 544 mPa.s at that age.\n"));
}

TEST_CASE("a gel that comes too close is a warning if a factor is set") {
  Case input = ageing_case();
  CHECK(gel_warnings(input, aged_result()).empty());
  input.resin.gel_safety = 1.9; // 20 min / 10 min = 2
  CHECK(gel_warnings(input, aged_result()).empty());
  input.resin.gel_safety = 2.1;
  REQUIRE(gel_warnings(input, aged_result()).size() == 1);
  CHECK(says(gel_warnings(input, aged_result()).front(), "2 times that, less than the 2.1"));
}

TEST_CASE("resin older than its table is a warning") {
  Case input = ageing_case();
  input.resin.oldest_of_table = 500;
  REQUIRE(gel_warnings(input, aged_result()).size() == 1);
  CHECK(says(gel_warnings(input, aged_result()).front(), "ends at 8:20 min"));
}

TEST_CASE("gelled, or only too thick") {
  FillResult result = short_result();
  CHECK(says(gel_reason_text(ageing_case(), result), "becomes so thick")); // at 400 s
  result.age = AgeFacts{700, 1200};
  CHECK(says(gel_reason_text(ageing_case(), result), "The resin gels before the part is full."));
  result.age->first_gel = {NodeId(1), 1100};
  CHECK(says(gel_text(ageing_case(), result), "The first resin gels at about 18:20 min, at x"));
  const auto json = age_json(ageing_case(), result);
  CHECK(json["oldest_s"] == 1200.0);
  CHECK(json["gel_margin_s"] == 0.0);
  CHECK(json["first_gel"]["time_s"] == 1100.0);
  CHECK(age_json(sample_case(), sample_result()).is_null());
}

TEST_CASE("what would fill it") {
  Case input = ageing_case();
  input.problem.injector.flow_rate = 2.5e-5; // 1.5 L/min
  input.resin.catalyst = 0.02;
  CureSearch search;
  search.gel_time = 1501;
  search.flow_factor = 1.62;
  search.flow_was_tried = true;
  search.catalyst = 0.0118;
  search.catalyst_was_tried = true;
  const std::string text = cure_search_text(input, search);
  CHECK(says(text, "no earlier than 25:10 min (it gels at 20:00 min)")); // 1510 s: rounded up
  CHECK(says(text, "with 1.7 times the flow, 2.55 L/min"));
  CHECK(says(text, "at most 1.1 % of catalyst (it is 2 %)"));
  CHECK(says(verdict_text(input, short_result(), search), text));
  CHECK(cure_search_json(search)["flow_factor"] == 1.62);

  CureSearch none;
  none.flow_was_tried = none.catalyst_was_tried = true;
  const std::string nothing = cure_search_text(input, none);
  CHECK(says(nothing, "A later gel is not enough"));
  CHECK(says(nothing, "More flow is not enough"));
  CHECK(says(nothing, "Less catalyst is not enough"));
  none.is_complete = false;
  none.runs = 24;
  CHECK(says(cure_search_text(input, none), "ended after 24 fillings"));
}

TEST_CASE("advice and search do not contradict each other") {
  Case input = ageing_case();
  input.problem.injector.flow_rate = 2.5e-5;
  FillResult result = short_result();
  result.reason = ShortReason::gel;
  result.end_time = 1200;
  result.time_at_cap = 300; // a quarter
  const std::string unsought = verdict_text(input, result);
  CHECK(says(unsought, "A higher flow rate, as far as the cap\n  lets it, or a later gel helps."));

  CureSearch search;
  search.flow_was_tried = true;
  search.gel_time = 1501;
  const std::string capped = verdict_text(input, result, search);
  CHECK(says(capped, "a higher cap, within what mould and clamps stand, or a later gel helps."));
  CHECK(says(capped, "More flow is not enough"));
  CHECK(!says(capped, "A higher flow rate"));
  search.gel_time.reset();
  const std::string late = verdict_text(input, result, search);
  CHECK(says(late, "A later gel is not enough"));
  CHECK(!says(late, "or a later gel helps"));
  search.flow_factor = 1.62;
  CHECK(says(verdict_text(input, result, search), "A higher flow rate, as far as the cap"));

  result.time_at_cap = 900; // three quarters
  CHECK(!says(verdict_text(input, result, search), "more flow changes little"));
  CHECK(!says(verdict_text(input, result, search), "or a later gel"));
  search.flow_factor.reset();
  CHECK(says(verdict_text(input, result, search), "so more flow changes little"));
}

TEST_CASE("what is left to the gel counts to the end of the bleeding") {
  Case input = sample_case();
  input.problem.resin.gel_time = 900;
  FillResult result = sample_result();
  result.bleeding = Bleeding{.ended_at = 825};
  result.end_time = 825;
  CHECK(gel_text(input, result) ==
        "The resin gels at 15:00 min: 1:15 min to spare when the bleeding ends.\n");
  CHECK(gel_warnings(input, result).empty());
  input.problem.resin.gel_time = 800;
  CHECK(gel_text(input, result) ==
        "The resin gels at 13:20 min, 25 s before the bleeding would end.\n");
  REQUIRE(gel_warnings(input, result).size() == 1);
  CHECK(says(gel_warnings(input, result)[0],
             "The resin gels at 13:20 min, before the vents have let out what they should"));
  result.bleeding = Bleeding{.reason = ShortReason::pressure};
  result.end_time = 700;
  CHECK(gel_text(input, result) ==
        "The resin gels at 13:20 min, 3:20 min after the part is full.\n");
  CHECK(gel_warnings(input, result).empty());
}

TEST_CASE("mixed inline, what is left to the gel counts what is in the part while vents bleed") {
  Case input = ageing_case();
  FillResult result = aged_result();
  result.bleeding = Bleeding{.ended_at = 1300}; // later than the gel of 1200 s
  result.end_time = 1300;
  CHECK(says(gel_text(input, result),
             "In the full part the resin becomes up to 10:00 min old, 5:20 min in the mean at the "
             "end; it gels at 20:00 min: 10:00 min to spare.\n"));
  CHECK(gel_warnings(input, result).empty());
  input.resin.gel_safety = 2.1;
  REQUIRE(gel_warnings(input, result).size() == 1);
  CHECK(says(gel_warnings(input, result)[0], "the oldest resin is 10:00 min old in the full part"));
  result.age = AgeFacts{320, 1250, AgeFacts::Place{NodeId(1), 1230}};
  REQUIRE(gel_warnings(input, result).size() == 1);
  CHECK(says(gel_warnings(input, result)[0],
             "Some of the resin gels at 20:30 min, before the vents have let out"));
}

TEST_CASE("what no gel time mends, and a batch that is mixed later") {
  Case input = ageing_case();
  CureSearch search;
  search.without_gel = ShortReason::gel;
  search.slowness = 1.86;
  const std::string text = cure_search_text(input, search);
  CHECK(says(text, "The resin thickens too fast, whatever its gel time.\n"));
  CHECK(says(text, "ages 1.9 times slower, thickening and gelling alike: it then gels at 38:00 min "
                   "instead of 20:00 min.\n"));
  input.problem.resin.mixed_before = 1800;
  search.mixed_before = 907;
  search.fresh_fill_time = 282;
  CHECK(says(cure_search_text(input, search),
             "It fills if the batch is mixed later: no more than 15:00 min before the injection "
             "starts (it is 30:00 min). Mixed fresh it takes about 4:42 min.\n"));
  CHECK(cure_search_json(search)["mixed_before_s"] == 907);
  CHECK(cure_search_json(search)["reason_without_gel"] == "gel");
}
