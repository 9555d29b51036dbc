#include "io/scatter_writer.hpp"

#include "io/comparison_writer.hpp"
#include "io/json_values.hpp"
#include "io/number_text.hpp"
#include "io/summary.hpp"

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

Json input_json(const ScatteredInput& input) {
  Json json;
  json["name"] = input.name;
  json["column"] = input.column;
  json["law"] = law_word(input.law);
  json[is_temperature(input) ? "deviation_k" : "variation"] = input.spread;
  json["mean"] = input.mean;
  json["correlation_length_m"] = number_or_null(input.correlation_length);
  json["default"] = input.source.empty() ? Json() : Json(input.source);
  return json;
}

Json event_json(const EventShare& event) {
  Json json;
  json["events"] = event.events;
  json["samples"] = event.samples;
  json["share"] = event.share;
  json["low"] = event.interval.low;
  json["high"] = event.interval.high;
  return json;
}

Json distribution_json(const Distribution& distribution) {
  Json json;
  json["samples"] = distribution.samples;
  if (distribution.samples == 0) {
    return json;
  }
  json["mean"] = distribution.mean;
  json["standard_error"] = distribution.standard_error;
  json["standard_deviation"] = distribution.standard_deviation;
  json["least"] = distribution.least;
  json["largest"] = distribution.largest;
  json["quantiles"] = Json::array();
  for (const QuantileValue& quantile : distribution.quantiles) {
    Json entry;
    entry["share"] = quantile.share;
    entry["value"] = quantile.value;
    entry["low"] = quantile.interval.low;
    entry["high"] = quantile.interval.high;
    json["quantiles"].push_back(std::move(entry));
  }
  return json;
}

Json importance_json(const Case& input, const Importance& importance) {
  Json json;
  json["samples"] = importance.samples;
  json["chance"] = importance.chance;
  json["determination"] = importance.determination;
  json["inputs"] = Json::array();
  for (const InputWeight& weight : importance.weights) {
    Json entry;
    entry["column"] = input.scatter.inputs[weight.input].column;
    entry["rank_correlation"] = weight.rank_correlation;
    entry["rank_regression"] = weight.rank_regression;
    json["inputs"].push_back(std::move(entry));
  }
  return json;
}

Json places_json(const Case& input, const std::vector<FrequentPlace>& places,
                 std::size_t computed) {
  Json json = Json::array();
  for (const FrequentPlace& place : places) {
    Json entry;
    entry["position_m"] = position_json(input.problem.mesh.positions[place.node]);
    entry["region"] = input.problem.regions[place.region.position()].name;
    entry["samples"] = place.events;
    entry["share"] = static_cast<double>(place.events) / static_cast<double>(computed);
    json.push_back(std::move(entry));
  }
  return json;
}

/// Figures are null where the computation failed.
Json sample_json(const Case& input, const ScatterSample& sample) {
  const bool is_computed = sample.state != SampleState::failed;
  const auto figure = [&](double value) { return is_computed ? Json(value) : Json(); };
  Json json;
  json["sample"] = sample.number;
  json["verdict"] = state_word(sample.state);
  json["reason"] = sample.reason;
  json["error"] = sample.error;
  json["inputs"] = Json::object();
  for (std::size_t i = 0; i < sample.values.size(); ++i) {
    json["inputs"][input.scatter.inputs[i].column] = sample.values[i];
  }
  json["fill_time_s"] = number_or_null(sample.fill_time);
  json["end_time_s"] = figure(sample.end_time);
  json["filled_fraction"] = figure(sample.filled_fraction);
  json["peak_head_pressure_pa"] = figure(sample.peak_head_pressure);
  json["end_head_pressure_pa"] = figure(sample.end_head_pressure);
  json["peak_opening_force_n"] = number_or_null(sample.peak_force);
  json["dry_spots"] = is_computed ? Json(sample.dry_spots) : Json();
  json["left_dry_m3"] = figure(sample.left_dry);
  return json;
}

std::vector<std::string> fields_of(const Case& input, const ScatterSample& sample) {
  const bool is_computed = sample.state != SampleState::failed;
  const auto figure = [&](double value) { return is_computed ? number_text(value) : ""; };
  std::vector<std::string> fields{std::to_string(sample.number), state_word(sample.state),
                                  sample.reason, sample.error};
  for (std::size_t i = 0; i < input.scatter.inputs.size(); ++i) {
    fields.push_back(i < sample.values.size() ? number_text(sample.values[i]) : "");
  }
  for (const std::string& field :
       {number_or_empty(sample.fill_time), figure(sample.end_time), figure(sample.filled_fraction),
        figure(sample.peak_head_pressure), figure(sample.end_head_pressure),
        number_or_empty(sample.peak_force),
        is_computed ? std::to_string(sample.dry_spots) : std::string(), figure(sample.left_dry)}) {
    fields.push_back(field);
  }
  return fields;
}

} // namespace

std::string scatter_json(const Case& input, const ScatterOutcome& outcome) {
  const ScatterSummary& summary = outcome.summary;
  Json json;
  json["title"] = input.title;
  json["case_file"] = input.file.string();
  json["samples_wanted"] = outcome.wanted;
  json["samples_done"] = outcome.samples.size();
  json["samples_computed"] = summary.computed;
  json["seed"] = outcome.seed;
  json["may_stay_dry_m3"] = outcome.allowed;
  json["sampling"] = "Latin hypercube";
  json["confidence"] = 0.95;
  json["inputs"] = Json::array();
  for (const ScatteredInput& scattered : input.scatter.inputs) {
    json["inputs"].push_back(input_json(scattered));
  }
  json["probabilities"]["short_fill"] = event_json(summary.short_fill);
  json["probabilities"]["dry_spot"] =
      input.problem.sealed_air ? event_json(summary.dry_spot) : Json(); // else none can stay
  json["probabilities"]["mould_pushed_open"] =
      summary.opening ? event_json(*summary.opening) : Json();
  json["short_fill_reasons"] = Json::object();
  for (const ShortReasonCount& reason : summary.reasons) {
    json["short_fill_reasons"][reason.reason] = reason.count;
  }
  json["distributions"] = Json::object();
  for (const Distribution& distribution : summary.distributions) {
    json["distributions"][distribution.key] = distribution_json(distribution);
  }
  json["importance"] = Json::object();
  for (const Importance& importance : summary.importance) {
    json["importance"][importance.key] = importance_json(input, importance);
  }
  json["dry_places"] = places_json(input, summary.dry_places, summary.computed);
  json["late_places"] = places_json(input, summary.late_places, summary.computed);
  json["warnings"] = input.warnings;
  json["as_it_is"] = outcome.as_it_is ? sample_json(input, *outcome.as_it_is) : Json();
  json["samples"] = Json::array();
  for (const ScatterSample& sample : outcome.samples) {
    json["samples"].push_back(sample_json(input, sample));
  }
  return summary_text(json);
}

std::string scatter_csv(const Case& input, const ScatterOutcome& outcome) {
  std::vector<std::string> names{"sample", "verdict", "reason", "error"};
  for (const ScatteredInput& scattered : input.scatter.inputs) {
    names.push_back(scattered.column);
  }
  for (const char* name :
       {"fill_time_s", "end_time_s", "filled_fraction", "peak_head_pressure_pa",
        "end_head_pressure_pa", "peak_opening_force_n", "dry_spots", "left_dry_m3"}) {
    names.emplace_back(name);
  }
  std::string text = csv_line(names);
  for (const ScatterSample& sample : outcome.samples) {
    text += csv_line(fields_of(input, sample));
  }
  return text;
}

} // namespace tidemark
