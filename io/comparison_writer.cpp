#include "io/comparison_writer.hpp"

#include "io/json_values.hpp"
#include "io/number_text.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <functional>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

bool was_computed(const ComparedRun& run) {
  return run.state == RunState::filled || run.state == RunState::short_fill;
}

/// The figures in which each run is best.
std::vector<std::vector<std::string>> best_at(const std::vector<ComparedRun>& runs) {
  std::vector<std::vector<std::string>> figures(runs.size());
  for (const Figure& figure : compared_figures()) {
    for (const std::size_t run : best_runs(runs, figure)) {
      figures[run].emplace_back(figure.key);
    }
  }
  return figures;
}

std::string joined(const std::vector<std::string>& texts, const char* between) {
  std::string result;
  for (const std::string& text : texts) {
    result += (result.empty() ? "" : between) + text;
  }
  return result;
}

/// Why a sum has no value, or what is not in it.
std::string note_of(const MaterialSum& sum) {
  if (!sum.value) {
    return joined(sum.not_known, "; ");
  }
  return sum.left_out.empty() ? "" : "without cores: " + joined(sum.left_out, "; ");
}

double fraction_of(const std::vector<RegionFraction>& regions, bool highest) {
  const auto [low, high] =
      std::ranges::minmax_element(regions, {}, &RegionFraction::fibre_volume_fraction);
  return (highest ? high : low)->fibre_volume_fraction;
}

struct Column {
  const char* name;
  std::function<std::string(const ComparedRun&)> text; // of a run that was computed
};

std::function<std::string(const ComparedRun&)> coordinate(Eigen::Index axis) {
  return [axis](const ComparedRun& run) {
    const auto& place = run.figures.place;
    return place ? number_text(place->position[axis]) : "";
  };
}

std::function<std::string(const ComparedRun&)> fraction(bool highest) {
  return [highest](const ComparedRun& run) {
    return run.figures.regions.empty() ? ""
                                       : number_text(fraction_of(run.figures.regions, highest));
  };
}

std::vector<Column> columns_of_figures() {
  using Run = ComparedRun;
  return {
      {"fill_time_s", [](const Run& run) { return number_or_empty(run.figures.fill_time); }},
      {"end_time_s", [](const Run& run) { return number_text(run.figures.end_time); }},
      {"filled_fraction", [](const Run& run) { return number_text(run.figures.filled_fraction); }},
      {"peak_head_pressure_pa",
       [](const Run& run) { return number_text(run.figures.peak_head_pressure); }},
      {"peak_head_pressure_till_99_percent_pa",
       [](const Run& run) { return number_text(run.figures.peak_till_near_end); }},
      {"time_at_cap_s", [](const Run& run) { return number_text(run.figures.time_at_cap); }},
      {"highest_head", [](const Run& run) { return run.figures.head; }},
      {"peak_opening_force_n",
       [](const Run& run) { return number_or_empty(run.figures.peak_force); }},
      {"opens_mould",
       [](const Run& run) {
         return !run.figures.peak_force ? "" : run.figures.opens_mould ? "yes" : "no";
       }},
      {"resin_in_part_m3", [](const Run& run) { return number_text(run.figures.resin_in_part); }},
      {"resin_in_part_kg", [](const Run& run) { return number_or_empty(run.figures.resin_mass); }},
      {"bled_m3", [](const Run& run) { return number_text(run.figures.bled); }},
      {"lowest_fibre_volume_fraction", fraction(false)},
      {"highest_fibre_volume_fraction", fraction(true)},
      {"part_mass_kg", [](const Run& run) { return number_or_empty(run.figures.part_mass.value); }},
      {"part_mass_note", [](const Run& run) { return note_of(run.figures.part_mass); }},
      {"cost", [](const Run& run) { return number_or_empty(run.figures.cost.value); }},
      {"currency", [](const Run& run) { return run.currency; }},
      {"cost_note", [](const Run& run) { return note_of(run.figures.cost); }},
      {"last_place_x_m", coordinate(0)},
      {"last_place_y_m", coordinate(1)},
      {"last_place_z_m", coordinate(2)},
      {"last_place_region",
       [](const Run& run) { return run.figures.place ? run.figures.place->region : ""; }}};
}

void add_materials(Json& json, const RunFigures& figures) {
  json["part_mass_kg"] = number_or_null(figures.part_mass.value);
  json["part_mass_leaves_out"] = figures.part_mass.left_out;
  json["part_mass_not_known"] = figures.part_mass.not_known;
  json["cost"] = number_or_null(figures.cost.value);
  json["cost_leaves_out"] = figures.cost.left_out;
  json["cost_not_known"] = figures.cost.not_known;
}

/// Of a run that was not computed all are null, so that every run has the same keys.
void add_figures(Json& json, const ComparedRun& run) {
  const RunFigures& figures = run.figures;
  json["fill_time_s"] = number_or_null(figures.fill_time);
  json["end_time_s"] = figures.end_time;
  json["filled_fraction"] = figures.filled_fraction;
  json["peak_head_pressure_pa"] = figures.peak_head_pressure;
  json["peak_head_pressure_till_99_percent_pa"] = figures.peak_till_near_end;
  json["time_at_cap_s"] = figures.time_at_cap;
  json["highest_head"] = figures.head;
  json["peak_opening_force_n"] = number_or_null(figures.peak_force);
  json["opens_mould"] = figures.peak_force ? Json(figures.opens_mould) : Json();
  json["resin_in_part_m3"] = figures.resin_in_part;
  json["resin_in_part_kg"] = number_or_null(figures.resin_mass);
  json["bled_m3"] = figures.bled;
  Json regions = Json::array();
  for (const RegionFraction& region : figures.regions) {
    regions.push_back(
        {{"name", region.region}, {"ply_volume_fraction", region.fibre_volume_fraction}});
  }
  json["regions"] = regions;
  add_materials(json, figures);
  json["last_place"] = Json();
  if (const auto& place = figures.place) {
    json["last_place"] = {{"position_m", position_json(place->position)},
                          {"region", place->region},
                          {"time_s", number_or_null(place->time)}};
  }
}

void add_nulls(Json& json) {
  Json all;
  add_figures(all, ComparedRun{});
  for (const auto& [key, value] : all.items()) {
    json[key] = Json();
  }
}

} // namespace

std::string csv_field(std::string_view text) {
  if (text.find_first_of(",\"\n\r") == std::string_view::npos) {
    return std::string(text);
  }
  std::string field = "\"";
  for (const char letter : text) {
    field += letter == '"' ? "\"\"" : std::string(1, letter);
  }
  return field + "\"";
}

std::string csv_line(const std::vector<std::string>& fields) {
  std::string line;
  for (std::size_t i = 0; i < fields.size(); ++i) {
    line += (i > 0 ? "," : "") + csv_field(fields[i]);
  }
  return line + "\n";
}

std::string comparison_csv(const std::vector<ComparedRun>& runs) {
  const std::vector<Column> columns = columns_of_figures();
  std::vector<std::string> header{"run", "name", "try", "case_file", "verdict", "reason"};
  for (const Column& column : columns) {
    header.emplace_back(column.name);
  }
  header.insert(header.end(), {"best", "error"});
  std::string text = csv_line(header);
  const auto best = best_at(runs);
  for (std::size_t i = 0; i < runs.size(); ++i) {
    const ComparedRun& run = runs[i];
    std::vector<std::string> fields{std::to_string(i + 1), run.name,  run.tried, run.case_file,
                                    state_word(run.state), run.reason};
    for (const Column& column : columns) {
      fields.push_back(was_computed(run) ? column.text(run) : "");
    }
    fields.push_back(joined(best[i], " "));
    fields.push_back(run.error);
    text += csv_line(fields);
  }
  return text;
}

Json comparison_json(const std::vector<ComparedRun>& runs) {
  Json comparison;
  comparison["program"] = "tidemark " TIDEMARK_VERSION;
  const auto priced = std::ranges::find_if(runs, &ComparedRun::has_prices);
  comparison["currency"] = priced == runs.end() ? "" : priced->currency;
  Json list = Json::array();
  const auto best = best_at(runs);
  for (std::size_t i = 0; i < runs.size(); ++i) {
    const ComparedRun& run = runs[i];
    Json json;
    json["run"] = i + 1;
    json["name"] = run.name;
    json["try"] = run.tried;
    json["title"] = run.title;
    json["case_file"] = run.case_file;
    json["verdict"] = state_word(run.state);
    json["reason"] = run.reason;
    was_computed(run) ? add_figures(json, run) : add_nulls(json);
    json["best"] = best[i];
    json["error"] = run.error;
    json["warnings"] = run.warnings;
    list.push_back(json);
  }
  comparison["runs"] = list;
  return comparison;
}

} // namespace tidemark
