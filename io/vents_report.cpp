#include "io/vents_report.hpp"

#include "io/comparison_report.hpp"
#include "io/fill_report.hpp"
#include "io/json_values.hpp"
#include "io/report_view.hpp"
#include "io/sheet_html.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/wording.hpp"

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

void mark(Json& view, const char* kind, const MovedPlace& place) {
  view["marks"].push_back({{"kind", kind}, {"label", ""}, {"at", position_json(place.position)}});
}

/// The farthest place of each way up to which the vent may move, and the nearest with which air is
/// shut in.
void mark_ways(Json& view, const VentSurvey& survey) {
  for (const VentRow& vent : survey.vents) {
    for (const MovedVent& way : vent.ways) {
      if (way.fills) {
        mark(view, "vent_may_be", *way.fills);
      }
      if (way.shut_in) {
        mark(view, "vent_shuts_in", *way.shut_in);
      }
    }
  }
}

ReportTable places_table(const VentSurvey& survey) {
  ReportTable table{"Where they are, and the nearest place tried that is too far",
                    {"Vent", "Place", "Region", "Too far", "Stays dry then"},
                    {}};
  for (const VentRow& vent : survey.vents) {
    const auto room = room_of(vent);
    const bool has_end = room && room->shut_in;
    table.rows.push_back(
        {vent.name, vent.text, vent.region.empty() ? "-" : vent.region,
         has_end ? as_millimetres(room->shut_in->distance) + " off, at " + room->shut_in->text
         : vent.directions_not_done > 0 ? "not known"
                                        : "-",
         has_end ? as_small_litres(room->shut_in->dry_volume) : "-"});
  }
  return table;
}

std::vector<std::string> failures_of(const VentSurvey& survey) {
  std::vector<std::string> failures;
  for (const VentRow& vent : survey.vents) {
    for (const std::string& error : vent.errors) {
      failures.push_back(vent.name + ": a trial failed: " + error);
    }
  }
  return failures;
}

} // namespace

ReportPage vents_report(const Case& input, const FillResult& result, const VentSurvey& survey) {
  ReportPage page;
  page.title = input.title;
  page.kind = "Where to put the vents";
  page.origin = "Made by tidemark " TIDEMARK_VERSION " from " + survey.case_file + ".";
  page.is_good = survey.fills;
  const std::vector<std::string> verdict = lines_of(survey_verdict(survey));
  page.headline = verdict.front();
  page.verdict = list_html({verdict.begin() + 1, verdict.end()});
  Json view = filling_view(input, result, input.title, "");
  mark_ways(view, survey);
  page.panels = {Json::array({view})};
  const std::vector<std::string> remarks = lines_of(survey_remarks(survey));
  const std::string warnings = list_html(survey.warnings);
  page.sections = {
      {"vents", "Vents",
       table_html(report_table("Whether each is needed, and how far it may move alone",
                               survey_table(survey))) +
           table_html(places_table(survey)) + list_html(remarks) + list_html(failures_of(survey)) +
           (warnings.empty()
                ? ""
                : "<div class=\"warnings\"><h3>Warnings</h3>\n" + warnings + "</div>\n")},
      {"part", "On the part", panel_html(0)},
      {"cautions", "Cautions", list_html(report_cautions())}};
  return page;
}

} // namespace tidemark
