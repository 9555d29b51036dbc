#include "io/scatter_run.hpp"
#include "io/scatter_summary.hpp"
#include "io/scatter_writer.hpp"
#include "mesh/error.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/json_text.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

using namespace tidemark;
using tidemark::test::relative_error;

namespace {

using Kind = ScatteredInput::Kind;

ScatteredInput input_of(Kind kind, std::size_t part, double spread,
                        RandomLaw law = RandomLaw::normal) {
  return {
      .kind = kind, .part = part, .name = "input", .column = "input", .law = law, .spread = spread};
}

Case case_with(std::vector<ScatteredInput> inputs) {
  Case input = sample_case();
  input.scatter.inputs = std::move(inputs);
  input.scatter.layups.resize(input.problem.regions.size());
  return input;
}

/// A plan of one sample with a probability for each input.
ScatterPlan plan_of(std::vector<double> probabilities) {
  ScatterPlan plan{1, 1, {}};
  for (const double probability : probabilities) {
    plan.probabilities.push_back({probability});
  }
  return plan;
}

ScatterSample made_sample(std::size_t number, SampleState state, double value) {
  ScatterSample sample;
  sample.number = number;
  sample.state = state;
  sample.values = {value};
  sample.end_time = 100 * value;
  if (state == SampleState::filled) {
    sample.fill_time = sample.end_time;
  } else if (state == SampleState::short_fill) {
    sample.reason = "trapped air";
    sample.dry_spots = 1;
    sample.dry = {{5, 1}};
    sample.filled_fraction = 0.9 + 0.02 * value;
  }
  sample.late = {{4, 2}};
  return sample;
}

} // namespace

TEST_CASE("scatter run: the case as it is is number 0") {
  const Case input = case_with({input_of(Kind::permeability, 0, 0.3, RandomLaw::gamma)});
  const DrawnProblem drawn = drawn_problem(input, plan_of({0.99}), 0);
  CHECK(drawn.problem.regions[0].permeability_1 == 3e-9);
  CHECK(drawn.values == std::vector<double>{1});
}

TEST_CASE("scatter run: a lognormal permeability one deviation above the median") {
  // Phi(1) = 0.8413447: factor exp(s - s^2 / 2) with s^2 = ln(1.09).
  const Case input = case_with({input_of(Kind::permeability, 1, 0.3, RandomLaw::lognormal)});
  const DrawnProblem drawn = drawn_problem(input, plan_of({0.8413447460685429}), 1);
  const double s = std::sqrt(std::log(1.09));
  CHECK(relative_error(drawn.values[0], std::exp(s - s * s / 2)) < 1e-9);
  CHECK(relative_error(drawn.problem.regions[1].permeability_2, 5e-10 * drawn.values[0]) < 1e-12);
  CHECK(drawn.problem.regions[0].permeability_1 == 3e-9);
}

TEST_CASE("scatter run: temperature makes the resin, and the viscosity scatters about that") {
  Case input = case_with(
      {input_of(Kind::viscosity, 0, 0.2, RandomLaw::normal), input_of(Kind::temperature, 0, 4)});
  input.scatter.inputs[1].mean = 300;
  input.scatter.resin_at = [](double temperature) { return Resin{temperature / 1000, {}, {}}; };
  // Cut at three deviations, Phi^-1(0.5) = 0: the mean itself.
  const DrawnProblem mean = drawn_problem(input, plan_of({0.5, 0.5}), 1);
  CHECK(relative_error(mean.values[1], 300) < 1e-12);
  CHECK(relative_error(mean.problem.resin.viscosity, 0.3) < 1e-12);
  const DrawnProblem far = drawn_problem(input, plan_of({1 - 1e-12, 1 - 1e-12}), 1);
  CHECK(relative_error(far.values[1], 312) < 1e-6);
  CHECK(relative_error(far.problem.resin.viscosity, 0.312 * 1.6) < 1e-6);
}

TEST_CASE("scatter run: a race track of twice the gap") {
  Case input = case_with({input_of(Kind::race_track_gap, 0, 0.3)});
  // Beside the square, 4 mm thick: slot of 1 mm, K = gap^2 / 12; area = gap x thickness.
  input.problem.channels = {{"gap", {{NodeId(0), NodeId(1)}}, {4e-6}, {1e-6 / 12}}};
  input.scatter.tracks = {{0, 1e-3, {}}};
  const DrawnProblem drawn = drawn_problem(input, plan_of({1 - 1e-12}), 1); // factor 1.9
  CHECK(relative_error(drawn.problem.channels[0].area[0], 1.9 * 4e-6) < 1e-6);
  CHECK(relative_error(drawn.problem.channels[0].permeability[0], 3.61e-6 / 12) < 1e-6);
  input.scatter.tracks = {{0, 1e-3, 5e-8}};
  CHECK(relative_error(
            drawn_problem(input, plan_of({1 - 1e-12}), 1).problem.channels[0].permeability[0],
            3.61 * 5e-8) < 1e-6);
}

TEST_CASE("scatter run: a sample that cannot be computed is kept with the reason") {
  Case input = case_with({input_of(Kind::fibre_volume_fraction, 0, 0.3)});
  input.problem.regions[0].porosity = 0.4; // Vf 0.6; three deviations more: 1.14
  const auto sample = computed_sample(input, plan_of({1 - 1e-12}), 1, {}, [] { return true; });
  REQUIRE(sample);
  CHECK(sample->state == SampleState::failed);
  CHECK(sample->error == "the fibres find no room in region skin");
  const ScatterSample again = from_record(1, to_record(*sample), input);
  CHECK(again.error == sample->error);
}

TEST_CASE("scatter run: the head's peak and end are those of the pump with the highest head") {
  Case input = case_with({});
  input.problem.vents.clear();
  input.problem.gates.push_back({"own", {NodeId(2)}, Vector3::Zero(), std::nullopt});
  input.problem.gates[1].own_injector = Injector{std::nullopt, 3e5};
  const auto sample = computed_sample(input, plan_of({}), 0, {}, [] { return true; });
  REQUIRE(sample);
  CHECK(sample->error.empty());
  CHECK(sample->peak_head_pressure == 3e5); // held, that of the common pump has a cap of 1.2 bar
  CHECK(sample->end_head_pressure == 3e5);
}

TEST_CASE("scatter run: one that is cut off is none") {
  const Case input = case_with({});
  CHECK(!computed_sample(input, plan_of({}), 1, {}, [] { return false; }));
}

TEST_CASE("scatter run: a record reads back to the last bit") {
  const Case input = case_with({input_of(Kind::viscosity, 0, 0.3)});
  ScatterSample sample = made_sample(3, SampleState::short_fill, 1.0 / 3);
  sample.peak_force = 0.1;
  sample.peak_head_pressure = 1e5 / 3;
  const std::string text = to_record(sample).dump();
  const ScatterSample again = from_record(3, ordered_json_of(text), input);
  CHECK(again.values == sample.values);
  CHECK(again.peak_force == sample.peak_force);
  CHECK(again.peak_head_pressure == sample.peak_head_pressure);
  CHECK(again.reason == "trapped air");
  CHECK(again.dry.front().first == 5);
  CHECK(again.late.front().count == 2);
  CHECK(!again.fill_time);
  CHECK(to_record(again).dump() == text);
  CHECK_THROWS_AS(from_record(3, ordered_json_of("{\"verdict\":\"fine\"}"), input), InputError);
  CHECK_THROWS_AS(from_record(3, ordered_json_of("{\"verdict\":\"filled\"}"), input),
                  nlohmann::json::exception);
}

TEST_CASE("scatter summary: shares, and what failed left out") {
  const Case input = case_with({input_of(Kind::permeability, 0, 0.3, RandomLaw::gamma)});
  std::vector<ScatterSample> samples;
  for (std::size_t i = 1; i <= 20; ++i) {
    const auto state = i <= 4 ? SampleState::short_fill : SampleState::filled;
    samples.push_back(made_sample(i, state, static_cast<double>(i)));
  }
  samples.push_back(made_sample(21, SampleState::failed, 21));
  samples.back().late.clear();
  samples.back().error = "no solution";
  const ScatterSummary summary = summarise_scatter(input, samples);
  CHECK(summary.computed == 20);
  CHECK(summary.short_fill.events == 4);
  CHECK(summary.short_fill.share == 0.2);
  // Clopper & Pearson, 4 of 20 with 95 %: 5.7 % to 43.7 % (tables, from memory).
  CHECK(std::abs(summary.short_fill.interval.low - 0.0573) < 1e-4);
  CHECK(std::abs(summary.short_fill.interval.high - 0.4366) < 1e-4);
  CHECK(summary.dry_spot.events == 4);
  CHECK(summary.reasons.front().reason == "trapped air");
  CHECK(summary.distributions.front().samples == 16);
  CHECK(summary.distributions.front().mean == 1250); // of 500 to 2000
  CHECK(summary.dry_probability[NodeId(5)] == 0.2);
  CHECK(summary.late_probability[NodeId(4)] == 1);
  CHECK(summary.late_probability[NodeId(3)] == 0);
  CHECK(summary.dry_places.front().node == NodeId(5));
  std::vector<ScatterSample> late = samples; // in 3 of those that fill, it comes last to the place
  int count = 0;
  for (ScatterSample& sample : late) {
    const bool is_one = sample.state == SampleState::filled && count++ < 3;
    const bool is_dry = sample.state == SampleState::short_fill; // in part, and late besides
    sample.late = {{4, is_one || is_dry ? 2 : 1}};
  }
  CHECK(says(scatter_text(input, {30, 7, {}, late, summarise_scatter(input, late)}),
             "in region core, among the last to fill in another 15 %\n"));
  const ScatterOutcome outcome{30, 7, {}, samples, summary};
  const std::string text = scatter_text(input, outcome);
  CHECK(says(text, "21 of 30 samples, Latin hypercube, seed 7."));
  CHECK(says(text,
             "Probability of a short fill: 20 % (5.7 % to 44 % with 95 % confidence), 4 of 20 "
             "samples."));
  CHECK(says(text,
             "Short by trapped air: 4. Half of them are filled to 95.0 % or more, the worst to "
             "92.0 %.")); // 92, 94, 96, 98 %
  CHECK(says(text,
             "1 sample could not be computed and is left out of all figures:\n  sample 21: no "
             "solution"));
  const auto json = json_of(scatter_json(input, outcome));
  CHECK(json["samples"].size() == 21);
  CHECK(json["samples"][20]["error"] == "no solution");
  CHECK(json["samples"][20]["end_time_s"].is_null());
  CHECK(json["distributions"]["fill_time_s"]["quantiles"].size() == 5);
  CHECK(json["importance"]["short"]["inputs"][0]["rank_correlation"].get<double>() < -0.5);
  const std::string csv = scatter_csv(input, outcome);
  CHECK(std::ranges::count(csv, '\n') == 22);
  CHECK(says(csv, "\n21,failed,,no solution,21,,,,,,,,\n"));
}

TEST_CASE("scatter summary: nearly all and hardly any are not said to be all and none") {
  const Case input = case_with({input_of(Kind::permeability, 0, 0.3, RandomLaw::gamma)});
  const auto text_of = [&](std::size_t count, std::size_t short_ones) {
    std::vector<ScatterSample> samples;
    for (std::size_t i = 1; i <= count; ++i) {
      const auto state = i <= short_ones ? SampleState::short_fill : SampleState::filled;
      samples.push_back(made_sample(i, state, static_cast<double>(i)));
    }
    return scatter_text(input, {count, 1, {}, samples, summarise_scatter(input, samples)});
  };
  CHECK(says(text_of(400, 399), "Probability of a short fill: 99.75 % ("));
  CHECK(says(text_of(5000, 1), "Probability of a short fill: 0.020 % ("));
  CHECK(says(text_of(20, 20), "Probability of a short fill: 100 % ("));
}

TEST_CASE("scatter summary: of nothing nothing is said") {
  const Case input = case_with({input_of(Kind::permeability, 0, 0.3, RandomLaw::gamma)});
  const ScatterOutcome outcome{20, 1, {}, {}, summarise_scatter(input, {})};
  CHECK(says(scatter_text(input, outcome), "No sample was computed: nothing can be said."));
  CHECK(json_of(scatter_json(input, outcome))["samples"].empty());
}
