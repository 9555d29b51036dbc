#include "io/comparison_report.hpp"

#include "io/comparison_text.hpp"
#include "io/fill_report.hpp"
#include "io/filling_course.hpp"
#include "io/mould_text.hpp"
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
  const std::string opens = opens_mould(result) ? "; opens the mould" : "";
  return (result.verdict == Verdict::filled
              ? "fills in " + as_minutes(result.fill_time.value_or(result.end_time))
              : "short: " + std::string(reason_word(result.reason)) + ", " +
                    as_percent(result.filled_fraction)) +
         opens;
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
                plot_of("Pressure at the head, of several pumps the highest", "pressure", pictures,
                        [](const RunPoint& point) { return point.head_pressure; })};
}

std::string how_many_fill(std::size_t filled, std::size_t count) {
  if (filled == count) {
    return with_capital(all_of(count, "run", "runs")) + (count == 1 ? " fills" : " fill");
  }
  return std::to_string(filled) + " of " + std::to_string(count) +
         (filled == 1 ? " runs fills" : " runs fill");
}

/// "a", "b" and "c".
std::string names_of(const std::vector<ComparedRun>& runs, const std::vector<std::size_t>& which) {
  std::vector<std::string> names;
  for (const std::size_t run : which) {
    names.push_back("\"" + runs[run].name + "\"");
  }
  return enumeration(names, " and ");
}

/// Those of the runs that fill and leave the mould shut whose fill time prints like the lowest;
/// none if there is none.
std::vector<std::size_t> fastest_of(const std::vector<ComparedRun>& runs) {
  std::vector<std::size_t> full;
  for (std::size_t i = 0; i < runs.size(); ++i) {
    if (is_sound(runs[i]) && runs[i].figures.fill_time) {
      full.push_back(i);
    }
  }
  const auto time = [&](std::size_t i) { return *runs[i].figures.fill_time; };
  const auto lowest = std::ranges::min_element(full, {}, time);
  std::vector<std::size_t> fastest;
  std::ranges::copy_if(full, std::back_inserter(fastest), [&](std::size_t i) {
    return as_minutes(time(i)) == as_minutes(time(*lowest));
  });
  return fastest;
}

std::string headline_of(const std::vector<ComparedRun>& runs) {
  const auto filled =
      static_cast<std::size_t>(std::ranges::count(runs, RunState::filled, &ComparedRun::state));
  const std::vector<std::size_t> fastest = fastest_of(runs);
  if (filled == 0) {
    return runs.size() == 1 ? "The run does not fill the part."
           : runs.size() == 2
               ? "Neither run fills the part."
               : "None of the " + std::to_string(runs.size()) + " runs fills the part.";
  }
  const std::string text = how_many_fill(filled, runs.size()) + " the part";
  if (fastest.empty()) {
    return text + (filled == 1 ? ", but pushes the mould open."
                               : ", but none without pushing the mould open.");
  }
  const std::string time = "in about " + as_minutes(*runs[fastest.front()].figures.fill_time) + ".";
  if (fastest.size() == filled) {
    return text + (filled < runs.size() ? ": " + names_of(runs, fastest) + ", " : ", ") +
           (filled > 1 ? "each " : "") + time;
  }
  const auto sound = static_cast<std::size_t>(std::ranges::count_if(runs, is_sound));
  return text +
         (sound < filled ? ", " + std::to_string(sound) +
                               " of them without pushing the mould open. The fastest of those "
                         : ". The fastest ") +
         (fastest.size() > 1 ? "are " : "is ") + names_of(runs, fastest) + ", " + time;
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
         list_html(lines_of(opening_remark(runs) + remarks_of(runs)));
}

} // namespace

RunPicture run_picture(const Case& input, const FillResult& result, const std::string& name) {
  RunPicture picture{
      name, filling_view(input, result, name, caption_of(result)), {}, result.end_time};
  const auto all = [](const HistoryRow& row) { return row.flow_rate; };
  for (const ToldFlow& told : told_flows(input.problem, result, all)) {
    const HistoryRow& row = result.history[told.row];
    picture.course.push_back({row.time, row.filled_fraction, told.flow_rate, row.highest_head()});
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
  page.is_good = !fastest_of(runs).empty();
  page.headline = headline_of(runs);
  const std::string drawn = pictures_html(page, pictures);
  page.sections = {{"figures", "Figures", tables_html(runs)},
                   {"front", "The fronts", drawn},
                   {"runs", "What is compared", table_html(list_of_runs(runs))},
                   {"cautions", "Cautions", list_html(report_cautions())}};
  return page;
}

} // namespace tidemark
