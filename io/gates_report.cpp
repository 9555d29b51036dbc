#include "io/gates_report.hpp"

#include "io/fill_report.hpp"
#include "io/json_values.hpp"
#include "io/report_view.hpp"
#include "io/sheet_html.hpp"
#include "io/shop_units.hpp"
#include "io/wording.hpp"

#include <algorithm>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

/// The layout that fills fastest without opening the mould; null if none does.
const LayoutRow* fastest(const std::vector<LayoutRow>& rows) {
  const LayoutRow* best = nullptr;
  for (const LayoutRow& row : rows) {
    if (is_sound(row) && (best == nullptr || *row.fill_time < *best->fill_time)) {
      best = &row;
    }
  }
  return best;
}

std::string headline_of(const std::vector<LayoutRow>& rows) {
  const LayoutRow* const best = fastest(rows);
  if (best != nullptr && rows.size() == 1) {
    return "No layout was run in full. With the gates of the case the part fills, in about " +
           as_minutes(*best->fill_time) + ".";
  }
  if (best == nullptr && std::ranges::any_of(rows, &LayoutRow::opens_mould)) {
    return "With none of the layouts that were run the part fills and the mould stays shut.";
  }
  if (best == nullptr) {
    return rows.size() > 1 ? "With none of the layouts that were run the part fills."
                           : "No layout was run in full, and with the gates of the case the part "
                             "does not fill.";
  }
  const LayoutRow& as_it_is = rows.front();
  if (best != &as_it_is && is_sound(as_it_is) &&
      as_minutes(*as_it_is.fill_time) == as_minutes(*best->fill_time)) {
    return "With " + best->name + " the part fills in about " + as_minutes(*best->fill_time) +
           ", no faster than as it is.";
  }
  return (best == &rows.front() ? "No layout that was run fills the part faster than the case as "
                                  "it is: about "
                                : "With " + best->name + " the part fills, in about ") +
         as_minutes(*best->fill_time) + ".";
}

/// The gates of each layout are marked with its number.
void mark_layouts(Json& view, const std::vector<LayoutRow>& rows) {
  for (std::size_t i = 1; i < rows.size(); ++i) {
    for (const GateSpot& gate : rows[i].gates) {
      if (gate.position) {
        view["marks"].push_back({{"kind", "layout"},
                                 {"label", std::to_string(i)},
                                 {"at", position_json(*gate.position)}});
      }
    }
  }
}

std::string ranking_text(const GateSearchFacts& facts) {
  return "Fill time with one gate of radius " + as_millimetres(facts.radius) +
         " at the place, with " + as_bar(facts.ranked_pressure) + " at the head from the start" +
         (facts.has_cap ? "" : " (no cap is set: 1 bar above the air)") + ", exact at the " +
         counted(facts.ranked, "place", "places") +
         " tried and a mean of the nearest between them; without the flow limit, thickening, "
         "shut-in air, "
         "gravity and what bleeds.";
}

/// A line for each: "1:27 min at x 600 mm, y 400 mm, z 0.0 mm".
std::string last_text(const std::vector<NamedPlace>& places) {
  std::string text;
  for (const NamedPlace& place : places) {
    text += (text.empty() ? "" : "\n") + (place.time ? as_minutes(*place.time) + " at " : "dry: ") +
            place.text;
  }
  return text.empty() ? "-" : text;
}

/// A line for each of the vents found, by the name it has in the picture.
std::string vents_text(const std::vector<NamedPlace>& places) {
  std::string text;
  for (std::size_t i = 0; i < places.size(); ++i) {
    text += std::string(i == 0 ? "V" : "\nV") + std::to_string(i + 1) + " at " + places[i].text +
            (places[i].time ? ", reached at " + as_minutes(*places[i].time) : "");
  }
  return text;
}

ReportTable places_table(const std::vector<LayoutRow>& rows) {
  const bool has_vents =
      std::ranges::any_of(rows, [](const LayoutRow& row) { return row.vents.has_value(); });
  ReportTable table{
      has_vents ? "Gates, and the vents found for them" : "Gates, and where vents belong",
      {"Layout", "Gates",
       has_vents ? "Vents found; else where the resin comes last, or dry" : "Resin last at, or dry",
       "Case file"},
      {}};
  for (const LayoutRow& row : rows) {
    std::string gates;
    for (const GateSpot& gate : row.gates) {
      gates += (gates.empty() ? "" : "\n") + gate.name + " at " + gate.text;
    }
    table.rows.push_back({row.name, gates, row.vents ? vents_text(row.last) : last_text(row.last),
                          row.case_file.empty() ? "-" : row.case_file});
  }
  return table;
}

/// Where vents were sought, the words above a picture say how many stand in it.
std::vector<RunPicture> with_vents_told(std::vector<RunPicture> pictures,
                                        const std::vector<LayoutRow>& rows) {
  for (RunPicture& picture : pictures) {
    const auto row = std::ranges::find(rows, picture.name, &LayoutRow::name);
    if (row != rows.end() && row->vents) {
      picture.view["caption"] = picture.view["caption"].get<std::string>() + ", with " +
                                counted(*row->vents, "vent found", "vents found");
    }
  }
  return pictures;
}

/// Empty where no air closed up.
std::string closed_air_html(const std::vector<LayoutRow>& rows) {
  ReportTable table{"Places to look at on the first part: air was shut in and closed up",
                    {"Layout", "Air", "Place", "Region", "Shut in at"},
                    {}};
  for (const LayoutRow& row : rows) {
    for (const ClosedAir& air : row.closed_air) {
      table.rows.push_back({row.name,
                            as_small_litres(air.volume) + " at " + as_bar(air.air_pressure),
                            air.place.text, air.place.region, as_minutes(*air.place.time)});
    }
  }
  return table.rows.empty() ? "" : table_html(table);
}

} // namespace

ReportPage gates_report(const Case& input, const GateSearchFacts& facts,
                        const std::vector<LayoutRow>& rows,
                        const PerNode<double>& time_if_gate_here,
                        const std::vector<RunPicture>& pictures) {
  ReportPage page;
  page.title = input.title;
  page.kind = "Where to put the " + std::string(facts.gates > 1 ? "gates" : "gate");
  page.origin = "Made by tidemark " TIDEMARK_VERSION " from " + facts.case_file + ".";
  page.is_good = fastest(rows) != nullptr;
  page.headline = headline_of(rows);
  Json map = part_view(
      input, {{"time_if_gate_here", "Fill time if the gate were here", "time", time_if_gate_here}});
  mark_layouts(map, rows);
  page.panels = {Json::array({map})};
  const std::string told = best_place_text(facts);
  const std::string best = told.empty() ? "" : "<p>" + html_text(told) + "</p>\n";
  const std::string drawn = pictures_html(page, with_vents_told(pictures, rows));
  page.sections = {{"layouts", "Layouts",
                    table_html(report_table("What each layout does", layouts_table(rows))) +
                        "<p class=\"note\">* fills, and no other that fills is faster at no "
                        "more pressure, or as fast at less. Ranked: by "
                        "the rule of the map; the rest from filling in full. " +
                        html_text(opening_note(rows)) + "</p>\n" + table_html(places_table(rows)) +
                        closed_air_html(rows) + list_html(search_warnings(facts)) +
                        list_html(layout_warnings(rows))},
                   {"map", "If the gate were here",
                    "<p>" + html_text(ranking_text(facts)) + "</p>\n" + best + panel_html(0)},
                   {"front", "The fronts", drawn},
                   {"cautions", "Cautions", list_html(report_cautions())}};
  return page;
}

} // namespace tidemark
