#include "io/comparison_report.hpp"

#include "io/comparison_text.hpp"
#include "io/fill_report.hpp"
#include "io/filling_course.hpp"
#include "io/report_view.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <cctype>

namespace tidemark {

namespace {

std::string caption_of(const FillResult& result) {
  return result.verdict == Verdict::filled
             ? "fills in " + as_minutes(result.fill_time.value_or(result.end_time))
             : "short: " + std::string(reason_word(result.reason)) + ", " +
                   as_percent(result.filled_fraction);
}

ReportLine line_of(const RunPicture& picture, double (*value)(const RunPoint& point)) {
  ReportLine line{picture.name, {}, {}};
  for (const RunPoint& point : picture.course) {
    line.times.push_back(point.time);
    line.values.push_back(value(point));
  }
  return line;
}

ReportPlot plot_of(const std::string& title, const std::string& unit,
                   const std::vector<RunPicture>& pictures,
                   double (*value)(const RunPoint& point)) {
  ReportPlot plot{title, unit, {}};
  for (const RunPicture& picture : pictures) {
    if (!picture.course.empty()) {
      plot.lines.push_back(line_of(picture, value));
    }
  }
  return plot;
}

void add_plots(ReportPage& page, const std::vector<RunPicture>& pictures) {
  for (const RunPicture& picture : pictures) {
    page.end_time = std::max(page.end_time, picture.end_time);
  }
  if (!(page.end_time > 0)) {
    return;
  }
  page.plots = {plot_of("Filled", "share", pictures,
                        [](const RunPoint& point) { return point.filled_fraction; }),
                plot_of("Flow rate, all gates", "flow", pictures,
                        [](const RunPoint& point) { return point.flow_rate; }),
                plot_of("Pressure at the mixing head", "pressure", pictures,
                        [](const RunPoint& point) { return point.head_pressure; })};
}

/// The fastest of those that fill; null if none does.
const ComparedRun* fastest(const std::vector<ComparedRun>& runs) {
  const ComparedRun* best = nullptr;
  for (const ComparedRun& run : runs) {
    const bool fills = run.state == RunState::filled && run.figures.fill_time;
    if (fills && (best == nullptr || *run.figures.fill_time < *best->figures.fill_time)) {
      best = &run;
    }
  }
  return best;
}

std::string headline_of(const std::vector<ComparedRun>& runs) {
  const auto filled =
      static_cast<std::size_t>(std::ranges::count(runs, RunState::filled, &ComparedRun::state));
  const ComparedRun* const best = fastest(runs);
  if (best == nullptr) {
    return "None of the " + counted(runs.size(), "run", "runs") + " fills the part.";
  }
  return (filled == runs.size() ? "All " + std::to_string(filled)
                                : std::to_string(filled) + " of " + std::to_string(runs.size())) +
         " runs fill the part. The fastest is \"" + best->name + "\", in about " +
         as_minutes(*best->figures.fill_time) + ".";
}

ReportTable list_of_runs(const std::vector<ComparedRun>& runs) {
  ReportTable table{"What is compared", {"Run", "Name", "Values tried", "Case"}, {}};
  for (const ComparedRun& run : runs) {
    table.rows.push_back({std::to_string(table.rows.size() + 1), run.name,
                          run.tried.empty() ? "-" : run.tried, run.case_file});
  }
  return table;
}

std::string tables_html(const std::vector<ComparedRun>& runs) {
  return table_html(report_table("What each run does", run_table(runs))) +
         table_html(report_table("What each run takes", material_table(runs))) +
         "<p class=\"note\">* best of the runs that fill, several where they print alike, none "
         "where "
         "all do. Vf: fibre volume fraction of the fabrics, lowest to highest region. Part mass "
         "and "
         "cost are those of the full part.</p>\n" +
         list_html(lines_of(remarks_of(runs)));
}

} // namespace

RunPicture run_picture(const Case& input, const FillResult& result, const std::string& name) {
  RunPicture picture{
      name, filling_view(input, result, name, caption_of(result)), {}, result.end_time};
  const auto all = [](const HistoryRow& row) { return row.flow_rate; };
  for (const ToldFlow& told : told_flows(input.problem, result, all)) {
    const HistoryRow& row = result.history[told.row];
    picture.course.push_back({row.time, row.filled_fraction, told.flow_rate, row.head_pressure});
  }
  return picture;
}

std::string pictures_html(ReportPage& page, const std::vector<RunPicture>& pictures) {
  if (pictures.empty()) {
    return "";
  }
  nlohmann::ordered_json views = nlohmann::ordered_json::array();
  for (const RunPicture& picture : pictures) {
    views.push_back(picture.view);
  }
  page.panels.push_back(std::move(views));
  add_plots(page, pictures);
  return panel_html(page.panels.size() - 1) + plots_html(page.plots.size());
}

ReportTable report_table(const std::string& caption, const std::vector<TextRow>& rows) {
  ReportTable table{caption, rows.front(), {rows.begin() + 1, rows.end()}};
  for (std::string& heading : table.headings) {
    if (!heading.empty()) {
      heading.front() =
          static_cast<char>(std::toupper(static_cast<unsigned char>(heading.front())));
    }
  }
  return table;
}

ReportPage comparison_report(const std::vector<ComparedRun>& runs,
                             const std::vector<RunPicture>& pictures) {
  ReportPage page;
  page.title = runs.front().title;
  page.kind = counted(runs.size(), "run", "runs") + " compared";
  page.origin = "Made by tidemark " TIDEMARK_VERSION " from " + runs.front().case_file + ".";
  page.is_good = fastest(runs) != nullptr;
  page.headline = headline_of(runs);
  const std::string drawn = pictures_html(page, pictures);
  page.sections = {{"figures", "Figures", tables_html(runs)},
                   {"front", "The fronts", drawn},
                   {"runs", "What is compared", table_html(list_of_runs(runs))},
                   {"cautions", "Cautions", list_html(report_cautions())}};
  return page;
}

} // namespace tidemark
