#include "io/gate_record.hpp"

#include "io/json_values.hpp"
#include "io/summary.hpp"

#include <cmath>
#include <limits>
#include <string>
#include <utility>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

std::optional<double> optional_number(const Json& json) {
  return json.is_null() ? std::nullopt : std::optional(json.get<double>());
}

/// JSON knows no NaN: null.
double number_from(const Json& json) {
  return optional_number(json).value_or(std::numeric_limits<double>::quiet_NaN());
}

Json place_json(const NamedPlace& place) {
  return {{"position_m", position_json(place.position)},
          {"region", place.region},
          {"time_s", number_or_null(place.time)},
          {"text", place.text}};
}

NamedPlace place_from(const Json& json) {
  const Json& at = json.at("position_m");
  return {{at.at(0).get<double>(), at.at(1).get<double>(), at.at(2).get<double>()},
          json.at("region").get<std::string>(),
          optional_number(json.at("time_s")),
          json.at("text").get<std::string>()};
}

Json closed_air_json(const ClosedAir& air) {
  return {{"place", place_json(air.place)},
          {"volume_m3", air.volume},
          {"air_pressure_pa", air.air_pressure}};
}

ClosedAir closed_air_from(const Json& json) {
  NamedPlace place = place_from(json.at("place"));
  place.time = json.at("place").at("time_s").get<double>(); // never unknown of air that closed up
  return {std::move(place), number_from(json.at("volume_m3")),
          number_from(json.at("air_pressure_pa"))};
}

/// The view as it goes to the page, where its fields are packed already.
Json picture_json(const RunPicture& picture) {
  Json course = Json::array();
  for (const RunPoint& point : picture.course) {
    course.push_back(
        Json::array({point.time, point.filled_fraction, point.flow_rate, point.head_pressure}));
  }
  return {{"name", picture.name},
          {"view", picture.view},
          {"course", course},
          {"end_time_s", picture.end_time}};
}

RunPicture picture_from(const Json& json) {
  RunPicture picture{
      json.at("name").get<std::string>(), json.at("view"), {}, number_from(json.at("end_time_s"))};
  for (const Json& point : json.at("course")) {
    picture.course.push_back({number_from(point.at(0)), number_from(point.at(1)),
                              number_from(point.at(2)), number_from(point.at(3))});
  }
  return picture;
}

} // namespace

Json to_record(const LayoutRun& run) {
  const LayoutRow& row = run.row;
  Json json;
  json["reason"] = row.reason;
  json["fill_time_s"] = number_or_null(row.fill_time);
  json["filled_fraction"] = row.filled_fraction;
  json["peak_head_pressure_pa"] = row.peak_head_pressure;
  json["peak_head_pressure_till_99_percent_pa"] = row.peak_till_near_end;
  json["peak_opening_force_n"] = number_or_null(row.peak_force);
  json["opens_mould"] = row.opens_mould;
  json["push_climbs"] = row.push_climbs;
  json["gel_share"] = number_or_null(row.gel_share);
  json["gel_margin_s"] = number_or_null(row.gel_margin);
  json["last_places"] = Json::array();
  for (const NamedPlace& place : row.last) {
    json["last_places"].push_back(place_json(place));
  }
  json["closed_air"] = Json::array();
  for (const ClosedAir& air : row.closed_air) {
    json["closed_air"].push_back(closed_air_json(air));
  }
  json["vents_sought"] = row.vents.has_value();
  json["vents"] = Json::array();
  for (const NodeId node : run.vents) {
    json["vents"].push_back(node.value());
  }
  json["warnings"] = row.warnings;
  json["picture"] = run.picture ? picture_json(*run.picture) : Json();
  return json;
}

LayoutRun layout_run_from_record(const Json& json, std::size_t nodes) {
  LayoutRun run;
  LayoutRow& row = run.row;
  row.reason = json.at("reason").get<std::string>();
  row.state =
      reason_named(row.reason) == ShortReason::none ? RunState::filled : RunState::short_fill;
  row.fill_time = optional_number(json.at("fill_time_s"));
  row.filled_fraction = number_from(json.at("filled_fraction"));
  row.peak_head_pressure = number_from(json.at("peak_head_pressure_pa"));
  row.peak_till_near_end = number_from(json.at("peak_head_pressure_till_99_percent_pa"));
  row.peak_force = optional_number(json.at("peak_opening_force_n"));
  row.opens_mould = json.at("opens_mould").get<bool>();
  row.push_climbs = json.at("push_climbs").get<bool>();
  row.gel_share = optional_number(json.at("gel_share"));
  row.gel_margin = optional_number(json.at("gel_margin_s"));
  for (const Json& place : json.at("last_places")) {
    row.last.push_back(place_from(place));
  }
  for (const Json& air : json.at("closed_air")) {
    row.closed_air.push_back(closed_air_from(air));
  }
  for (const Json& node : json.at("vents")) {
    run.vents.push_back(node_from(node, nodes));
  }
  if (json.at("vents_sought").get<bool>()) {
    row.vents = run.vents.size();
  }
  row.warnings = json.at("warnings").get<std::vector<std::string>>();
  if (const Json& picture = json.at("picture"); !picture.is_null()) {
    run.picture = picture_from(picture);
  }
  return run;
}

void put_run(LayoutRow run, LayoutRow& row) {
  run.name = std::move(row.name);
  run.gates = std::move(row.gates);
  run.ranked_time = row.ranked_time;
  run.longest_way = row.longest_way;
  run.case_file = std::move(row.case_file);
  row = std::move(run);
}

} // namespace tidemark
