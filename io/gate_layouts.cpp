#include "io/gate_layouts.hpp"

#include "io/comparison_writer.hpp"
#include "io/filling_course.hpp"
#include "io/json_values.hpp"
#include "io/mould_text.hpp"
#include "io/number_text.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/wording.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <utility>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

bool was_computed(const LayoutRow& row) {
  return row.state == RunState::filled || row.state == RunState::short_fill;
}

double to_three_digits(double value) {
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.2e", value);
  return std::strtod(text.data(), nullptr);
}

std::string verdict_of(const LayoutRow& row) {
  switch (row.state) {
  case RunState::filled:
    return is_sound(row) ? "fills" : "opens";
  case RunState::short_fill:
    return "short: " + row.reason + ", " + as_percent(row.filled_fraction) +
           (row.opens_mould ? "; opens" : "");
  default:
    return state_word(row.state);
  }
}

/// Time, or where temperatures tell and not age alone, the share of the way to the gel that is
/// left.
std::string gel_cell(const LayoutRow& row) {
  if (row.gel_margin) {
    return as_minutes(*row.gel_margin);
  }
  return row.gel_share ? as_percent(1 - *row.gel_share) : "-";
}

std::string if_computed(const LayoutRow& row, const std::string& text) {
  return was_computed(row) ? text : "-";
}

std::string closed_air_of(const LayoutRow& row) {
  constexpr std::size_t longest = 3; // the files hold all
  std::string text;
  for (std::size_t i = 0; i < std::min(row.closed_air.size(), longest); ++i) {
    const ClosedAir& air = row.closed_air[i];
    text += "    " + as_minutes(*air.place.time) + " at " + air.place.text + " in region " +
            air.place.region + ", " + as_small_litres(air.volume) + "\n";
  }
  if (row.closed_air.size() > longest) {
    text += "    and " + std::to_string(row.closed_air.size() - longest) + " more\n";
  }
  return text.empty() ? "" : "  air shut in that closed up, to look at on the first part\n" + text;
}

/// What is said above the dry places of a row. The vents of the case as it is are sought by the
/// command vents, those of layouts with --vents.
std::string dry_words(const GateSearchFacts& facts, bool is_as_it_is) {
  if (facts.seeks_vents && !is_as_it_is) {
    return "  dry with the vents of the case; --vents found none with which it fills\n";
  }
  return std::string("  dry, so a vent is missing (") +
         (is_as_it_is ? "tidemark vents" : "--vents") +
         " seeks those it takes) or the resin does not come\n";
}

std::string places_of(const LayoutRow& row, const std::string& above_dry_places) {
  std::string text = row.name + ":\n";
  for (const GateSpot& gate : row.gates) {
    text += "  gate " + gate.name + " at " + gate.text + "\n";
  }
  const bool is_short = row.state == RunState::short_fill;
  if (row.vents) {
    text += "  fills with " + counted(*row.vents, "vent", "vents") + " at\n";
  } else if (!row.last.empty()) {
    text += is_short ? above_dry_places : "  last to fill, where vents belong\n";
  }
  for (const NamedPlace& place : row.last) {
    text += "    " + (place.time ? as_minutes(*place.time) + " at " : std::string()) + place.text +
            " in region " + place.region + "\n";
  }
  text += closed_air_of(row);
  if (!row.error.empty()) {
    text += "  failed: " + row.error + "\n";
  }
  return text;
}

std::string point_text(const Vector3& point) {
  return number_text(point.x()) + " " + number_text(point.y()) + " " + number_text(point.z());
}

std::string joined(const std::vector<std::string>& texts) {
  std::string result;
  for (const std::string& text : texts) {
    result += (result.empty() ? "" : "; ") + text;
  }
  return result;
}

std::vector<std::string> gate_texts(const LayoutRow& row) {
  std::vector<std::string> texts;
  for (const GateSpot& gate : row.gates) {
    texts.push_back(gate.position ? point_text(*gate.position) : gate.name);
  }
  return texts;
}

std::vector<std::string> closed_air_texts(const LayoutRow& row) {
  std::vector<std::string> texts;
  for (const ClosedAir& air : row.closed_air) {
    texts.push_back(point_text(air.place.position));
  }
  return texts;
}

std::string csv_row(const LayoutRow& row, bool is_preferable) {
  const bool done = was_computed(row);
  std::vector<std::string> places;
  std::vector<std::string> times;
  for (const NamedPlace& place : row.last) {
    places.push_back(point_text(place.position));
    times.push_back(number_or_empty(place.time));
  }
  const std::vector<std::string> fields{row.name,
                                        joined(gate_texts(row)),
                                        number_or_empty(row.ranked_time),
                                        state_word(row.state),
                                        row.reason,
                                        number_or_empty(row.fill_time),
                                        done ? number_text(row.filled_fraction) : "",
                                        done ? number_text(row.peak_head_pressure) : "",
                                        done ? number_text(row.peak_till_near_end) : "",
                                        number_or_empty(row.peak_force),
                                        !row.peak_force   ? ""
                                        : row.opens_mould ? "yes"
                                                          : "no",
                                        number_or_empty(row.gel_share),
                                        number_or_empty(row.gel_margin),
                                        number_text(row.longest_way),
                                        is_preferable ? "yes" : "no",
                                        joined(places),
                                        joined(times),
                                        joined(closed_air_texts(row)),
                                        row.vents ? std::to_string(*row.vents) : "",
                                        row.case_file,
                                        row.error};
  return csv_line(fields);
}

Json row_json(const LayoutRow& row, bool is_preferable) {
  const bool done = was_computed(row);
  Json json;
  json["name"] = row.name;
  json["gates"] = Json::array();
  for (const GateSpot& gate : row.gates) {
    json["gates"].push_back(
        {{"name", gate.name},
         {"position_m", gate.position ? position_json(*gate.position) : Json()}});
  }
  json["ranked_fill_time_s"] = number_or_null(row.ranked_time);
  json["verdict"] = state_word(row.state);
  json["reason"] = row.reason;
  json["fill_time_s"] = number_or_null(row.fill_time);
  json["filled_fraction"] = done ? Json(row.filled_fraction) : Json();
  json["peak_head_pressure_pa"] = done ? Json(row.peak_head_pressure) : Json();
  json["peak_head_pressure_till_99_percent_pa"] = done ? Json(row.peak_till_near_end) : Json();
  json["peak_opening_force_n"] = number_or_null(row.peak_force);
  json["opens_mould"] = row.peak_force ? Json(row.opens_mould) : Json();
  json["gel_share"] = number_or_null(row.gel_share);
  json["gel_margin_s"] = number_or_null(row.gel_margin);
  json["longest_way_m"] = row.longest_way;
  json["preferable"] = is_preferable;
  json["vents"] = row.vents ? Json(*row.vents) : Json();
  json["last_places"] = Json::array();
  for (const NamedPlace& place : row.last) {
    json["last_places"].push_back({{"position_m", position_json(place.position)},
                                   {"region", place.region},
                                   {"time_s", number_or_null(place.time)}});
  }
  json["suspect_zones"] = Json::array(); // as in summary.json
  for (const ClosedAir& air : row.closed_air) {
    json["suspect_zones"].push_back({{"position_m", position_json(air.place.position)},
                                     {"volume_m3", air.volume},
                                     {"air_pressure_pa", air.air_pressure},
                                     {"sealed_at_s", number_or_null(air.place.time)},
                                     {"region", air.place.region}});
  }
  json["case_file"] = row.case_file;
  json["error"] = row.error;
  json["warnings"] = row.warnings;
  return json;
}

} // namespace

std::vector<TextRow> layouts_table(const std::vector<LayoutRow>& rows) {
  const bool has_force =
      std::ranges::any_of(rows, [](const LayoutRow& row) { return row.peak_force.has_value(); });
  const bool has_vents =
      std::ranges::any_of(rows, [](const LayoutRow& row) { return row.vents.has_value(); });
  const bool has_late_peaks = std::ranges::any_of(rows, [](const LayoutRow& row) {
    return peaks_at_the_last(row.peak_head_pressure, row.peak_till_near_end);
  });
  std::vector<TextRow> table{{"", "ranked", "verdict", "fill time", "head peak"}};
  if (has_late_peaks) {
    table.front().emplace_back("till 99 %");
  }
  table.front().emplace_back("longest way");
  if (has_vents) {
    table.front().emplace_back("vents found");
  }
  if (has_force) {
    table.front().emplace_back("opening force");
  }
  const bool gels =
      std::ranges::any_of(rows, [](const LayoutRow& row) { return row.gel_share.has_value(); });
  if (gels) {
    table.front().emplace_back("gel margin");
  }
  const std::vector<bool> marks = preferable_rows(rows);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const LayoutRow& row = rows[i];
    TextRow& cells = table.emplace_back();
    const std::string time = row.fill_time ? as_minutes(*row.fill_time) : "-";
    cells = {row.name, row.ranked_time ? as_minutes(*row.ranked_time) : "-", verdict_of(row),
             time + (marks[i] ? " *" : ""), if_computed(row, as_bar(row.peak_head_pressure))};
    if (has_late_peaks) {
      cells.push_back(if_computed(row, as_bar(row.peak_till_near_end)));
    }
    cells.push_back(as_millimetres(row.longest_way));
    if (has_vents) {
      cells.push_back(row.vents ? std::to_string(*row.vents) : "-");
    }
    if (has_force) {
      cells.push_back(force_cell(row.peak_force, row.push_climbs));
    }
    if (gels) {
      cells.push_back(gel_cell(row));
    }
  }
  return table;
}

bool is_sound(const LayoutRow& row) {
  return row.fill_time && !row.opens_mould;
}

std::vector<std::string> layout_warnings(const std::vector<LayoutRow>& rows) {
  std::vector<std::pair<std::string, std::vector<std::string>>> told;
  for (const LayoutRow& row : rows) {
    for (const std::string& warning : row.warnings) {
      auto known = std::ranges::find(told, warning, [](const auto& one) { return one.first; });
      if (known == told.end()) {
        known = told.insert(told.end(), {warning, {}});
      }
      if (known->second.empty() || known->second.back() != row.name) {
        known->second.push_back(row.name);
      }
    }
  }
  const auto run = static_cast<std::size_t>(std::ranges::count_if(rows, was_computed));
  std::vector<std::string> warnings;
  for (const auto& [warning, names] : told) {
    std::string whose;
    for (const std::string& name : names) {
      whose += (whose.empty() ? "" : ", ") + name;
    }
    warnings.push_back(names.size() == run ? warning : whose + ": " + warning);
  }
  return warnings;
}

std::string opening_note(const std::vector<LayoutRow>& rows) {
  std::string note = std::ranges::any_of(rows, &LayoutRow::opens_mould)
                         ? "opens: the mould is pushed open; such a layout is not preferable."
                         : "";
  if (std::ranges::any_of(rows, &LayoutRow::push_climbs)) {
    note += (note.empty() ? "" : " ") + climbing_note();
  }
  return note;
}

std::vector<bool> preferable_rows(const std::vector<LayoutRow>& rows) {
  const auto beats = [](const LayoutRow& one, const LayoutRow& other) {
    const double time = to_three_digits(*one.fill_time);
    const double other_time = to_three_digits(*other.fill_time);
    const double peak = to_three_digits(one.peak_till_near_end);
    const double other_peak = to_three_digits(other.peak_till_near_end);
    return time <= other_time && peak <= other_peak && (time < other_time || peak < other_peak);
  };
  std::vector<bool> marks;
  for (const LayoutRow& row : rows) {
    marks.push_back(is_sound(row) && std::ranges::none_of(rows, [&](const LayoutRow& other) {
                      return is_sound(other) && beats(other, row);
                    }));
  }
  return marks;
}

std::string best_place_text(const GateSearchFacts& facts) {
  if (!facts.best_place) {
    return "";
  }
  return "The fastest: about " + as_minutes(*facts.best_place->time) + " at " +
         facts.best_place->text + " in region " + facts.best_place->region +
         "; places.csv has all.";
}

std::vector<std::string> search_warnings(const GateSearchFacts& facts) {
  if (facts.pieces.size() < 2) {
    return {};
  }
  const auto told = [](const SearchedPiece& piece) {
    return as_percent(piece.share) + " of the pore volume, round " + piece.text + " in " +
           (piece.regions.size() == 1 ? "region " : "regions ") + list_of(piece.regions);
  };
  std::vector<std::string> warnings = {
      "The part is in " + std::to_string(facts.pieces.size()) +
      " pieces that nothing joins. Only the largest is searched: " + told(facts.pieces.front()) +
      "."};
  constexpr std::size_t longest = 5; // the file holds all
  for (std::size_t i = 1; i < std::min(facts.pieces.size(), 1 + longest); ++i) {
    warnings.push_back("Not searched, and without a gate in any layout: " + told(facts.pieces[i]) +
                       ".");
  }
  if (facts.pieces.size() > 1 + longest) {
    const std::size_t more = facts.pieces.size() - 1 - longest;
    warnings.push_back((more == 1 ? "Nor is " : "Nor are ") +
                       counted(more, "more piece", "more pieces") + ".");
  }
  return warnings;
}

std::string layouts_text(const GateSearchFacts& facts, const std::vector<LayoutRow>& rows) {
  std::string text = facts.title + ": where to put ";
  text += facts.gates == 1 ? "the gate" : std::to_string(facts.gates) + " gates";
  text += "\n\n" + counted(facts.ranked, "place", "places") + " ranked by the fill time with " +
          as_bar(facts.ranked_pressure) + " at the head from the start" +
          (facts.has_cap ? "" : " (the pump has no cap)") + ", ports of " +
          as_millimetres(facts.radius) + " radius.\n";
  if (facts.best_place) {
    text += best_place_text(facts) + "\nNo layout is run in full (--best 0), only the case as it "
                                     "is.\n";
  }
  if (facts.at_vents > 0) {
    text += "Left out: " + counted(facts.at_vents, "place", "places") + " at vents.\n";
  }
  for (const std::string& warning : search_warnings(facts)) {
    text += "Warning: " + warning + "\n";
  }
  const std::string opens = opening_note(rows);
  text +=
      "\n" + table_text(layouts_table(rows)) +
      "\n* no other that fills is faster at no more pressure, or as fast at less.\n"
      "Ranked: without a limit of flow, thickening, shut-in air, gravity and what bleeds. The "
      "rest is from\nfull runs with all that is in the case. Longest way: from the nearest gate, "
      "along the surface.\n" +
      (opens.empty() ? "" : opens + "\n") + "\n";
  for (const LayoutRow& row : rows) {
    text += places_of(row, dry_words(facts, &row == &rows.front()));
  }
  for (const std::string& warning : layout_warnings(rows)) {
    text += "Warning: " + warning + "\n";
  }
  return text;
}

std::string layouts_csv(const std::vector<LayoutRow>& rows) {
  std::string text =
      "layout,gates_m,ranked_fill_time_s,verdict,reason,fill_time_s,filled_fraction,"
      "peak_head_pressure_pa,peak_head_pressure_till_99_percent_pa,peak_opening_force_n,"
      "opens_mould,gel_share,gel_margin_s,longest_way_m,preferable,"
      "last_places_m,last_times_s,closed_air_m,vents,case_file,error\n";
  const std::vector<bool> marks = preferable_rows(rows);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    text += csv_row(rows[i], marks[i]);
  }
  return text;
}

std::string layouts_json(const GateSearchFacts& facts, const std::vector<LayoutRow>& rows) {
  Json json;
  json["program"] = "tidemark " TIDEMARK_VERSION;
  json["title"] = facts.title;
  json["case_file"] = facts.case_file;
  json["gates_of_a_layout"] = facts.gates;
  json["gate_radius_m"] = facts.radius;
  json["places"] = facts.places;
  json["places_ranked"] = facts.ranked;
  json["places_left_out_at_vents"] = facts.at_vents;
  json["ranked_at_head_pressure_pa"] = facts.ranked_pressure;
  json["pieces"] = Json::array();
  double out_of_reach = 0;
  for (const SearchedPiece& piece : facts.pieces) {
    json["pieces"].push_back({{"searched", piece.is_searched},
                              {"pore_volume_share", piece.share},
                              {"position_m", position_json(piece.position)},
                              {"regions", piece.regions}});
    out_of_reach += piece.is_searched ? 0 : piece.share;
  }
  json["pore_volume_share_out_of_reach"] = out_of_reach;
  json["layouts"] = Json::array();
  const std::vector<bool> marks = preferable_rows(rows);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    json["layouts"].push_back(row_json(rows[i], marks[i]));
  }
  return summary_text(json);
}

} // namespace tidemark
