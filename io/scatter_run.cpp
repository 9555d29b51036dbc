#include "io/scatter_run.hpp"

#include "io/filling_course.hpp"
#include "io/json_values.hpp"
#include "io/parallel.hpp"
#include "io/random_field.hpp"
#include "io/random_numbers.hpp"
#include "io/summary.hpp"
#include "mesh/error.hpp"
#include "solver/channel.hpp"
#include "solver/tolerance.hpp"
#include "solver/varied_problem.hpp"
#include "solver/vent_room.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;
using Kind = ScatteredInput::Kind;

void change_fibre_fraction(const Case& input, const ScatteredInput& scattered, double factor,
                           FillProblem& problem) {
  const RegionId region(scattered.part);
  if (const auto& layup = input.scatter.layups[scattered.part]) {
    multiply_fibre_fraction(problem, region, factor, layup->layup, layup->thickness);
  } else {
    multiply_fibre_fraction(problem, region, factor);
  }
}

/// A factor for each element of the region; returns their mean over the area.
double change_local_permeability(const ScatteredInput& scattered, RandomNumbers random,
                                 FillProblem& problem) {
  const std::vector<ElementId> elements = elements_of(problem, RegionId(scattered.part));
  std::vector<Vector3> middles;
  for (const ElementId element : elements) {
    middles.push_back(element_centre(problem.mesh, element));
  }
  std::vector<double> factors =
      gaussian_field(middles, *scattered.correlation_length, std::move(random));
  for (double& factor : factors) {
    factor = factor_of_score(scattered.law, scattered.spread, factor);
  }
  multiply_permeability(problem, RegionId(scattered.part), factors);
  return area_mean(problem.mesh, elements, factors);
}

/// A wider gap has a larger cross-section, and as a slot a permeability that goes as its square.
void change_gap(const Case& input, const ScatteredInput& scattered, double factor,
                FillProblem& problem) {
  const TrackFacts& track = input.scatter.tracks[scattered.part];
  Channel& channel = problem.channels[track.channel];
  const auto permeability =
      track.permeability ? std::optional(*track.permeability * factor * factor) : std::nullopt;
  channel = race_track(channel.name, problem, channel.segments, track.gap * factor, permeability);
}

void change_temperature(const Case& input, double temperature, FillProblem& problem) {
  if (problem.heat) {
    problem.heat->inlet_temperature = temperature;
  }
  if (input.scatter.resin_at) {
    problem.resin = input.scatter.resin_at(temperature);
  }
}

/// Puts one input into the problem; returns its value.
double put_input(const Case& input, const ScatterPlan& plan, std::size_t i, std::size_t number,
                 FillProblem& problem) {
  const ScatteredInput& scattered = input.scatter.inputs[i];
  const double probability = plan.probabilities[i][number - 1];
  if (is_temperature(scattered)) {
    const double value = scattered.mean + scattered.spread * cut_normal_score(probability);
    if (scattered.kind == Kind::mould_temperature) {
      problem.heat->mould_temperature = value;
    } else {
      change_temperature(input, value, problem);
    }
    return value;
  }
  const double factor = factor_of_score(scattered.law, scattered.spread, normal_score(probability));
  switch (scattered.kind) {
  case Kind::fibre_volume_fraction:
    change_fibre_fraction(input, scattered, factor, problem);
    return factor;
  case Kind::viscosity:
    problem.resin = with_viscosity_times(problem.resin, factor);
    return factor;
  case Kind::race_track_gap:
    change_gap(input, scattered, factor, problem);
    return factor;
  default:
    break;
  }
  if (scattered.correlation_length) {
    return change_local_permeability(scattered, RandomNumbers({plan.seed, number, scattered.part}),
                                     problem);
  }
  multiply_permeability(problem, RegionId(scattered.part), factor);
  return factor;
}

/// The order in which inputs are put in: a temperature makes the resin anew, and the viscosity
/// changes that.
int turn_of(const ScatteredInput& input) {
  return is_temperature(input) ? 0 : 1;
}

template <class Chosen>
std::vector<NodeRange> ranges_of(const PerNode<double>& values, const Chosen& is_chosen) {
  std::vector<NodeRange> ranges;
  for (const NodeId node : values.ids()) {
    if (!is_chosen(node)) {
      continue;
    }
    if (!ranges.empty() && ranges.back().first + ranges.back().count == node.value()) {
      ++ranges.back().count;
    } else {
      ranges.push_back({node.value(), 1});
    }
  }
  return ranges;
}

void put_result(const FillProblem& problem, const FillResult& result, ScatterSample& sample) {
  sample.state = result.verdict == Verdict::filled ? SampleState::filled : SampleState::short_fill;
  sample.reason = reason_word(result.reason);
  sample.fill_time = result.fill_time;
  sample.end_time = result.end_time;
  sample.filled_fraction = result.filled_fraction;
  sample.peak_head_pressure = highest_head(problem, result).pressure;
  sample.end_head_pressure = result.history.empty() ? 0 : result.history.back().highest_head();
  if (result.mould_load) {
    sample.peak_force = result.mould_load->peak_force;
  }
  sample.dry_spots = static_cast<std::size_t>(
      std::ranges::count_if(result.dry_spots, [](const DrySpot& spot) { return spot.is_sealed; }));
  sample.dry = ranges_of(result.fill_fraction, [&](NodeId node) {
    return sample.state != SampleState::filled && result.fill_fraction[node] < full_fraction;
  });
  const auto late_from = time_of_share(result.history, late_share);
  sample.late = ranges_of(result.fill_time_field, [&](NodeId node) {
    const double time = result.fill_time_field[node];
    return std::isnan(time) || (late_from && time > *late_from);
  });
}

/// Air that takes up no more than may stay dry [m3] does not make the part short.
void let_stay_dry(const FillResult& result, double allowed, ScatterSample& sample) {
  const double dry = dry_volume(result);
  if (result.reason != ShortReason::trapped_air || dry > allowed) {
    return;
  }
  sample.state = SampleState::filled;
  sample.reason.clear();
  sample.left_dry = dry;
  sample.dry_spots = 0;
  sample.dry.clear();
  double last = 0;
  for (const NodeId node : result.fill_time_field.ids()) {
    const bool is_full = result.fill_fraction[node] >= full_fraction;
    last = is_full ? std::max(last, result.fill_time_field[node]) : last;
  }
  sample.fill_time = last;
}

Json ranges_json(const std::vector<NodeRange>& ranges) {
  Json json = Json::array();
  for (const NodeRange& range : ranges) {
    json.push_back(range.first);
    json.push_back(range.count);
  }
  return json;
}

/// First node and count, ascending.
std::vector<NodeRange> ranges_from(const Json& json, std::size_t nodes) {
  std::vector<NodeRange> ranges;
  std::size_t end = 0;
  for (std::size_t i = 0; i < json.size(); i += 2) {
    const NodeId first = node_from(json.at(i), nodes);
    const auto start = static_cast<std::size_t>(first.value());
    const auto room = static_cast<std::int64_t>(nodes - start);
    const Json& written = json.at(i + 1);
    const std::int64_t count = written.is_number_integer() ? written.get<std::int64_t>() : 0;
    if (start < end || count < 1 || count > room) {
      throw InputError("found " + written.dump() + " nodes from node " + std::to_string(start) +
                       " on, expected ranges of nodes that ascend, of " + std::to_string(nodes) +
                       " in the mesh");
    }
    end = start + static_cast<std::size_t>(count);
    ranges.push_back({first.value(), static_cast<std::int32_t>(count)});
  }
  return ranges;
}

std::optional<double> number_from(const Json& json) {
  return json.is_null() ? std::nullopt : std::optional(json.get<double>());
}

SampleState state_named(const std::string& word) {
  for (const SampleState state :
       {SampleState::filled, SampleState::short_fill, SampleState::failed}) {
    if (word == state_word(state)) {
      return state;
    }
  }
  throw InputError("found the verdict " + word + ", expected filled, short or failed");
}

} // namespace

ScatterPlan plan_scatter(const Case& input, std::size_t samples, std::uint64_t seed) {
  return {samples, seed, latin_hypercube(samples, input.scatter.inputs.size(), seed)};
}

DrawnProblem drawn_problem(const Case& input, const ScatterPlan& plan, std::size_t number) {
  const std::vector<ScatteredInput>& inputs = input.scatter.inputs;
  DrawnProblem drawn{input.problem, std::vector<double>(inputs.size(), 1.0)};
  for (std::size_t i = 0; i < inputs.size() && number == 0; ++i) {
    drawn.values[i] = inputs[i].mean;
  }
  for (int turn = 0; turn < 2 && number > 0; ++turn) {
    for (std::size_t i = 0; i < inputs.size(); ++i) {
      if (turn_of(inputs[i]) == turn) {
        drawn.values[i] = put_input(input, plan, i, number, drawn.problem);
      }
    }
  }
  return drawn;
}

std::optional<ScatterSample> computed_sample(const Case& input, const ScatterPlan& plan,
                                             std::size_t number, const FillOptions& options,
                                             const std::function<bool()>& goes_on, double allowed) {
  ScatterSample sample;
  sample.number = number;
  try {
    const DrawnProblem drawn = drawn_problem(input, plan, number);
    sample.values = drawn.values;
    FillOptions fill_options = options;
    fill_options.time_limit = input.time_limit;
    const FillResult result =
        fill(drawn.problem, fill_options, [&](const StepReport&) { return goes_on(); });
    if (result.reason == ShortReason::interrupted) {
      return std::nullopt;
    }
    put_result(drawn.problem, result, sample);
    let_stay_dry(result, allowed, sample);
  } catch (const std::exception& error) {
    sample.error = failure_text(error);
  }
  return sample;
}

Json to_record(const ScatterSample& sample) {
  Json json;
  json["verdict"] = state_word(sample.state);
  json["reason"] = sample.reason;
  json["error"] = sample.error;
  json["values"] = sample.values;
  json["fill_time_s"] = number_or_null(sample.fill_time);
  json["end_time_s"] = sample.end_time;
  json["filled_fraction"] = sample.filled_fraction;
  json["peak_head_pressure_pa"] = sample.peak_head_pressure;
  json["end_head_pressure_pa"] = sample.end_head_pressure;
  json["peak_opening_force_n"] = number_or_null(sample.peak_force);
  json["dry_spots"] = sample.dry_spots;
  json["left_dry_m3"] = sample.left_dry;
  json["dry_nodes"] = ranges_json(sample.dry);
  json["late_nodes"] = ranges_json(sample.late);
  return json;
}

ScatterSample from_record(std::size_t number, const Json& json, const Case& input) {
  const std::size_t nodes = input.problem.mesh.positions.size();
  ScatterSample sample;
  sample.number = number;
  sample.state = state_named(json.at("verdict").get<std::string>());
  sample.reason = json.at("reason").get<std::string>();
  sample.error = json.at("error").get<std::string>();
  sample.values = json.at("values").get<std::vector<double>>();
  sample.fill_time = number_from(json.at("fill_time_s"));
  sample.end_time = json.at("end_time_s").get<double>();
  sample.filled_fraction = json.at("filled_fraction").get<double>();
  sample.peak_head_pressure = json.at("peak_head_pressure_pa").get<double>();
  sample.end_head_pressure = json.at("end_head_pressure_pa").get<double>();
  sample.peak_force = number_from(json.at("peak_opening_force_n"));
  sample.dry_spots = json.at("dry_spots").get<std::size_t>();
  sample.left_dry = json.at("left_dry_m3").get<double>();
  sample.dry = ranges_from(json.at("dry_nodes"), nodes);
  sample.late = ranges_from(json.at("late_nodes"), nodes);
  const std::size_t drawn = input.scatter.inputs.size();
  const bool was_never_drawn = sample.state == SampleState::failed && sample.values.empty();
  if (sample.values.size() != drawn && !was_never_drawn) {
    throw InputError("found " + std::to_string(sample.values.size()) + " values, expected " +
                     std::to_string(drawn) + ", one of each input that scatters");
  }
  return sample;
}

bool may_be_tried_again(const Json& record) {
  return record.is_object() && record.contains("error") && record["error"] == out_of_memory;
}

const char* state_word(SampleState state) {
  switch (state) {
  case SampleState::filled:
    return "filled";
  case SampleState::short_fill:
    return "short";
  case SampleState::failed:
    return "failed";
  }
  return "";
}

} // namespace tidemark
