#include "io/window_writer.hpp"

#include "io/comparison_writer.hpp"
#include "io/json_values.hpp"
#include "io/number_text.hpp"

#include <cmath>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

const char* purpose_word(Purpose purpose) {
  switch (purpose) {
  case Purpose::grid:
    return "grid";
  case Purpose::border:
    return "border";
  case Purpose::contour:
    return "contour";
  case Purpose::margin:
    return "margin";
  case Purpose::recommended:
    return "recommended";
  case Purpose::as_set:
    break;
  }
  return "as set";
}

Json point_json(const TriedPoint& point) {
  return {{"flow_rate_m3_per_s", point.flow_rate},
          {"pressure_cap_pa", point.pressure_cap},
          {"outcome", outcome_words(point.outcome)},
          {"reason", point.reason},
          {"fill_time_s", number_or_null(point.fill_time)},
          {"filled_fraction", number_or_null(point.filled_fraction)},
          {"peak_head_pressure_pa", number_or_null(point.peak_head_pressure)},
          {"time_cap_reached_s", number_or_null(point.time_cap_reached)},
          {"peak_opening_force_n", number_or_null(point.peak_force)},
          {"share_of_gel", number_or_null(point.gel_share)},
          {"error", point.error}};
}

Json grid_json(const WindowMap& map) {
  Json rows = Json::array();
  for (std::size_t j = 0; j < map.shape.points; ++j) {
    Json row = Json::array();
    for (std::size_t i = 0; i < map.shape.points; ++i) {
      row.push_back(point_json(map.grid(i, j)));
    }
    rows.push_back(std::move(row));
  }
  return rows;
}

Json line_json(const WindowShape& shape, const std::vector<WindowPlace>& places) {
  Json line = Json::array();
  for (const WindowPlace& place : places) {
    line.push_back({shape.flow.at(place.flow), shape.cap.at(place.cap)});
  }
  return line;
}

Json borders_json(const WindowMap& map) {
  Json borders = Json::array();
  for (const WindowLine& line : map.borders) {
    borders.push_back(
        {{"between", {outcome_words(line.between[0]), outcome_words(line.between[1])}},
         {"points", line_json(map.shape, line.places)}});
  }
  return borders;
}

Json border_points_json(const WindowMap& map) {
  Json points = Json::array();
  for (const BorderPoint& border : map.border_points) {
    const TriedPoint& from = map.points[border.from];
    const TriedPoint& to = map.points[border.to];
    points.push_back({{"from", outcome_words(from.outcome)},
                      {"to", outcome_words(to.outcome)},
                      {"flow_rate_m3_per_s", {from.flow_rate, to.flow_rate}},
                      {"pressure_cap_pa", {from.pressure_cap, to.pressure_cap}}});
  }
  return points;
}

Json contours_json(const WindowMap& map) {
  Json contours = Json::array();
  for (const WindowLine& line : map.contours) {
    contours.push_back({{"fill_time_s", number_or_null(line.fill_time)},
                        {"points", line_json(map.shape, line.places)}});
  }
  return contours;
}

Json margin_json(const Margin& margin, const char* limit) {
  return {{limit, margin.limit},
          {"then", margin.fault ? Json(outcome_words(*margin.fault)) : Json()}};
}

Json recommended_json(const WindowMap& map) {
  if (!map.recommended) {
    return {};
  }
  const Recommendation& chosen = *map.recommended;
  Json json = point_json(map.points[chosen.point]);
  json["clearance_ratio"] = chosen.clearance;
  json["margins"] = {{"flow_down", margin_json(chosen.flow_down, "flow_rate_m3_per_s")},
                     {"flow_up", margin_json(chosen.flow_up, "flow_rate_m3_per_s")},
                     {"cap_down", margin_json(chosen.cap_down, "pressure_cap_pa")},
                     {"cap_up", margin_json(chosen.cap_up, "pressure_cap_pa")}};
  return json;
}

Json check_json(const WindowOfValue& window) {
  if (!window.check) {
    return {};
  }
  const TriedPoint& point = window.map.points[window.check->point];
  const FillFigures& run = window.check->run;
  const bool both = point.fill_time && run.fill_time;
  return {{"flow_rate_m3_per_s", point.flow_rate},
          {"pressure_cap_pa", point.pressure_cap},
          {"fill_time_by_curve_s", number_or_null(point.fill_time)},
          {"fill_time_by_full_run_s", number_or_null(run.fill_time)},
          {"relative_difference", both ? Json(*point.fill_time / *run.fill_time - 1) : Json()},
          {"peak_head_pressure_by_full_run_pa", run.peak_head_pressure},
          {"peak_opening_force_by_full_run_n", number_or_null(run.peak_force)}};
}

Json map_json(const WindowOfValue& window) {
  const WindowMap& map = window.map;
  Json json;
  json["value"] = window.value.empty() ? Json() : Json(window.value);
  json["fresh_viscosity_pa_s"] = window.viscosity;
  json["gel_time_s"] = number_or_null(window.gel_time);
  json["grid"] = grid_json(map);
  json["borders"] = borders_json(map);
  json["border_points"] = border_points_json(map);
  json["contours"] = contours_json(map);
  json["contours_are_interpolated"] = !map.has_exact_contours;
  json["recommended"] = recommended_json(map);
  json["as_set"] = window.as_set ? point_json(map.points[*window.as_set]) : Json();
  json["curve_check"] = check_json(window);
  return json;
}

Json axes_json(const WindowFacts& facts) {
  const WindowShape& shape = facts.shape;
  Json axes;
  for (const bool is_flow : {true, false}) {
    const WindowAxis& axis = is_flow ? shape.flow : shape.cap;
    Json values = Json::array();
    for (std::size_t i = 0; i < shape.points; ++i) {
      values.push_back(axis.at(static_cast<double>(i) / static_cast<double>(shape.points - 1)));
    }
    axes[is_flow ? "flow_rate_m3_per_s" : "pressure_cap_pa"] = std::move(values);
  }
  axes["spacing"] = "equal ratios of the flow rate, and of the cap above the air at the front";
  axes["front_pressure_pa"] = shape.cap.zero;
  axes["flow_range_is_given"] = facts.is_flow_given;
  axes["cap_range_is_given"] = facts.is_cap_given;
  return axes;
}

Json limits_json(const WindowLimits& limits) {
  return {{"opening_force_allowed_n", number_or_null(limits.hold_down_force)},
          {"mould_margin", limits.mould_margin},
          {"fibre_push_n", limits.fibre_force > 0 ? Json(limits.fibre_force) : Json()},
          {"projected_area_m2", limits.hold_down_force ? Json(limits.projected_area) : Json()},
          {"gel_safety", number_or_null(limits.gel_safety)},
          {"max_flow_rate_m3_per_s", number_or_null(limits.max_flow_rate)},
          {"max_pressure_pa", number_or_null(limits.max_pressure)},
          {"time_limit_s", number_or_null(limits.time_limit)}};
}

/// R at the middle of each step, with the filled fraction there.
Json curve_json(const WindowFacts& facts) {
  if (!facts.curve) {
    return {};
  }
  const ResistanceCurve& curve = *facts.curve;
  Json fractions = Json::array();
  Json resistances = Json::array();
  for (std::size_t i = 1; i < curve.volume.size(); ++i) {
    fractions.push_back(0.5 * (curve.volume[i - 1] + curve.volume[i]) / curve.pore_volume);
    resistances.push_back(mean_resistance(curve, i));
  }
  return {{"filled_fraction", std::move(fractions)},
          {"resistance_per_m3", std::move(resistances)},
          {"pore_volume_m3", curve.pore_volume}};
}

} // namespace

Json window_json(const WindowFacts& facts) {
  Json json;
  json["program"] = "tidemark " TIDEMARK_VERSION;
  json["title"] = facts.title;
  json["case_file"] = facts.case_file;
  json["third_axis"] = facts.third_axis.empty() ? Json() : Json(facts.third_axis);
  json["axes"] = axes_json(facts);
  json["border_tolerance"] = facts.shape.tolerance;
  json["limits"] = limits_json(facts.limits);
  json["computed_by"] = facts.curve ? "resistance curve" : "full runs";
  json["why_full_runs"] = facts.obstacle           ? Json(obstacle_words(*facts.obstacle))
                          : facts.full_runs_wanted ? Json("--full-runs")
                                                   : Json();
  json["full_runs"] = facts.runs;
  json["was_interrupted"] = facts.was_interrupted;
  json["resistance_curve"] = curve_json(facts);
  json["maps"] = Json::array();
  for (const WindowOfValue& window : facts.maps) {
    json["maps"].push_back(map_json(window));
  }
  json["warnings"] = facts.warnings;
  return json;
}

std::string window_csv(const WindowFacts& facts) {
  std::string text =
      (facts.third_axis.empty() ? "" : facts.third_axis + ",") +
      "flow_rate_m3_per_s,pressure_cap_pa,outcome,reason,fill_time_s,filled_fraction,"
      "peak_head_pressure_pa,time_cap_reached_s,peak_opening_force_n,share_of_gel,tried_for,"
      "computed_by,error\n";
  for (const WindowOfValue& window : facts.maps) {
    for (const TriedPoint& point : window.map.points) {
      std::vector<std::string> fields{number_text(point.flow_rate),
                                      number_text(point.pressure_cap),
                                      outcome_words(point.outcome),
                                      point.reason,
                                      number_or_empty(point.fill_time),
                                      number_or_empty(point.filled_fraction),
                                      number_or_empty(point.peak_head_pressure),
                                      number_or_empty(point.time_cap_reached),
                                      number_or_empty(point.peak_force),
                                      number_or_empty(point.gel_share),
                                      purpose_word(point.purpose),
                                      facts.curve ? "curve" : "full run",
                                      point.error};
      if (!facts.third_axis.empty()) {
        fields.insert(fields.begin(), window.value);
      }
      text += csv_line(fields);
    }
  }
  return text;
}

} // namespace tidemark
