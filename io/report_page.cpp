#include "io/report_page.hpp"

#include "io/colour_map.hpp"
#include "io/report_assets.hpp"
#include "io/sheet_html.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

const std::size_t colours_of_map = 256;

/// The page may load nothing at all: neither a script nor a picture nor a font.
const char* const policy = "default-src 'none'; script-src 'unsafe-inline'; style-src "
                           "'unsafe-inline'; img-src data: blob:";

/// Short lines of a cell are kept whole, very short ones on paper too; long ones break.
std::string cell_html(const std::string& text) {
  const std::size_t longest_whole = 44; // letters
  const std::size_t longest_brief = 14;
  std::string lines;
  std::size_t longest = 0;
  for (const std::string& line : lines_of(text)) {
    lines += (lines.empty() ? "" : "<br>") + html_text(line);
    longest = std::max(longest, line.size());
  }
  const std::string kind = longest > longest_whole    ? " class=\"long\""
                           : longest <= longest_brief ? " class=\"brief\""
                                                      : "";
  return "<td" + kind + ">" + lines + "</td>";
}

std::string row_html(const std::vector<std::string>& row) {
  std::string text = "<tr>";
  for (std::size_t i = 0; i < row.size(); ++i) {
    text += i == 0 ? "<th scope=\"row\">" + html_text(row[i]) + "</th>" : cell_html(row[i]);
  }
  return text + "</tr>\n";
}

/// Wide tables are scrolled on their own, by keys too.
std::string framed_table(const ReportTable& table, const std::string& classes) {
  if (table.rows.empty()) {
    return "";
  }
  const std::size_t longest_whole = 12; // rows that paper keeps together
  std::string text =
      "<div class=\"" + classes + (table.rows.size() <= longest_whole ? " whole" : "") +
      "\" tabindex=\"0\" role=\"group\" aria-label=\"" + html_text(table.caption) + "\"><table>\n";
  if (!table.caption.empty()) {
    text += "<caption>" + html_text(table.caption) + "</caption>\n";
  }
  if (!table.headings.empty()) {
    text += "<thead><tr>";
    for (const std::string& heading : table.headings) {
      text += "<th scope=\"col\">" + html_text(heading) + "</th>";
    }
    text += "</tr></thead>\n";
  }
  text += "<tbody>\n";
  for (const auto& row : table.rows) {
    text += row_html(row);
  }
  return text + "</tbody></table></div>\n";
}

Json line_json(const ReportLine& line) {
  Json values = Json::array();
  for (const double value : line.values) {
    values.push_back(std::isfinite(value) ? Json(value) : Json());
  }
  return {{"label", line.label},
          {"x", line.times},
          {"y", values},
          {"is_limit", line.is_limit},
          {"is_stepped", line.is_stepped}};
}

Json plots_json(const std::vector<ReportPlot>& plots) {
  Json all = Json::array();
  for (const ReportPlot& plot : plots) {
    Json lines = Json::array();
    for (const ReportLine& line : plot.lines) {
      lines.push_back(line_json(line));
    }
    all.push_back({{"title", plot.title}, {"unit", plot.unit}, {"series", lines}});
  }
  return all;
}

Json colours_json() {
  Json map = Json::array();
  for (std::size_t i = 0; i < colours_of_map; ++i) {
    map.push_back(
        css_colour(map_colour(static_cast<double>(i) / static_cast<double>(colours_of_map - 1))));
  }
  Json distinct = Json::array();
  const std::size_t distinct_colours = 8; // then they repeat
  for (std::size_t i = 0; i < distinct_colours; ++i) {
    distinct.push_back(css_colour(distinct_colour(i)));
  }
  return {{"map", map}, {"distinct", distinct}};
}

/// JSON that may stand in a script element: no name in it can end the element.
std::string script_safe(const Json& data) {
  std::string text;
  for (const char c : data.dump(-1, ' ', false, Json::error_handler_t::replace)) {
    if (c == '<') {
      text += "\\u003c";
    } else {
      text += c;
    }
  }
  return text;
}

/// The views with each mesh once: what they share is told by its number.
struct SharedMeshes {
  Json panels;
  Json meshes = Json::array();
};

SharedMeshes shared_meshes(Json panels) {
  SharedMeshes shared{std::move(panels)};
  for (Json& panel : shared.panels) {
    for (Json& view : panel) {
      const auto known = std::ranges::find(shared.meshes, view["mesh"]);
      const auto number = known - shared.meshes.begin();
      if (known == shared.meshes.end()) {
        shared.meshes.push_back(std::move(view["mesh"]));
      }
      view["mesh"] = number;
    }
  }
  return shared;
}

std::string script_html(std::string_view script) {
  return "<script>\n" + std::string(script) + "\n</script>\n";
}

std::string scripts_html(const ReportPage& page) {
  if (page.panels.empty() && page.plots.empty() && page.charts.empty()) {
    return "";
  }
  const SharedMeshes shared = shared_meshes(page.panels);
  const Json data = {{"end_time", page.end_time},       {"colours", colours_json()},
                     {"plots", plots_json(page.plots)}, {"meshes", shared.meshes},
                     {"panels", shared.panels},         {"charts", page.charts}};
  std::string text = "<script type=\"application/json\" id=\"data\">" + script_safe(data) +
                     "</script>\n<!--\n" + std::string(report_assets::licences) + "-->\n";
  if (!page.panels.empty()) {
    text += script_html(report_assets::three) + script_html(report_assets::orbit_controls);
  }
  for (const std::string_view script :
       {report_assets::d3, report_assets::numbers, report_assets::marks, report_assets::view,
        report_assets::panel, report_assets::plots, report_assets::window_map,
        report_assets::spread, report_assets::page}) {
    text += script_html(script);
  }
  return text;
}

std::string head_html(const ReportPage& page) {
  return "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
         "<meta http-equiv=\"Content-Security-Policy\" content=\"" +
         std::string(policy) +
         "\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>" +
         html_text(page.title) + ": " + html_text(page.kind) + "</title>\n<style>\n" +
         std::string(report_assets::style) + "</style>\n</head>\n";
}

std::string navigation_html(const ReportPage& page) {
  std::string text = "<nav aria-label=\"Parts of this page\"><ul>";
  for (const ReportSection& section : page.sections) {
    if (!section.html.empty()) {
      text += "<li><a href=\"#" + section.id + "\">" + html_text(section.heading) + "</a></li>";
    }
  }
  return text + "</ul></nav>\n";
}

std::string room_html(const std::string& what, std::size_t which) {
  const std::string number = std::to_string(which);
  return "<div class=\"" + what + "\" id=\"" + what + "-" + number + "\" data-" + what + "=\"" +
         number +
         "\"><p class=\"missing\">The pictures are drawn by scripts, which are not run here. All "
         "figures and tables of this page are there without them.</p></div>\n";
}

} // namespace

std::string table_html(const ReportTable& table) {
  return framed_table(table, "table");
}

std::string pairs_html(const ReportTable& table) {
  return framed_table(table, "table pairs");
}

std::string facts_html(const std::vector<ReportFact>& facts) {
  std::string text = "<dl class=\"facts\">\n";
  for (const ReportFact& fact : facts) {
    text +=
        "<div><dt>" + html_text(fact.name) + "</dt><dd>" + html_text(fact.value) + "</dd></div>\n";
  }
  return text + "</dl>\n";
}

std::string list_html(const std::vector<std::string>& sentences) {
  if (sentences.empty()) {
    return "";
  }
  std::string text = "<ul>\n";
  for (const std::string& sentence : sentences) {
    text += "<li>" + html_text(sentence) + "</li>\n";
  }
  return text + "</ul>\n";
}

std::string panel_html(std::size_t panel) {
  return room_html("panel", panel);
}

std::string chart_html(std::size_t chart) {
  return room_html("chart", chart);
}

std::string plots_html(std::size_t count) {
  std::string text = "<div class=\"plots whole\">\n";
  for (std::size_t plot = 0; plot < count; ++plot) {
    text += "<div class=\"plot\" data-plot=\"" + std::to_string(plot) + "\"></div>\n";
  }
  return count > 0 ? text + "</div>\n" : "";
}

std::string report_html(const ReportPage& page) {
  std::string text = head_html(page) + "<body>\n<header>\n<h1>" + html_text(page.title) +
                     "</h1>\n<p class=\"origin\">" + html_text(page.kind) +
                     "</p>\n<div class=\"verdict" + (page.is_good ? "" : " short") +
                     "\"><p class=\"headline\">" + html_text(page.headline) + "</p></div>\n" +
                     navigation_html(page) + "</header>\n<main>\n" + page.verdict;
  for (const ReportSection& section : page.sections) {
    if (!section.html.empty()) {
      text += "<section aria-labelledby=\"" + section.id + "\"><h2 id=\"" + section.id + "\">" +
              html_text(section.heading) + "</h2>\n" + section.html + "</section>\n";
    }
  }
  return text + "</main>\n<footer>" + html_text(page.origin) + "</footer>\n" + scripts_html(page) +
         "</body>\n</html>\n";
}

} // namespace tidemark
