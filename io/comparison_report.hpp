// The report of runs side by side as a page of HTML: pictures under one slider and one scale of
// colours, courses in common plots, tables.
#pragma once

#include "io/case_file.hpp"
#include "io/comparison.hpp"
#include "io/report_page.hpp"
#include "io/text_table.hpp"
#include "solver/filling.hpp"

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

namespace tidemark {

/// Runs with a picture of their own, the first ones: browsers draw in no more than some sixteen
/// places, and pages become long.
inline constexpr std::size_t most_pictures = 9;

/// What is plotted of a run after each of its steps; twice where its flow jumps.
struct RunPoint {
  double time;            // [s]
  double filled_fraction; // of the pore volume [-]
  double flow_rate;       // [m3/s]
  double head_pressure;   // of several pumps the highest, gauge [Pa]
};

/// What the report shows of a run beside its figures.
struct RunPicture {
  std::string name;
  nlohmann::ordered_json view; // of report_view
  std::vector<RunPoint> course;
  double end_time; // [s]
};
RunPicture run_picture(const Case& input, const FillResult& result, const std::string& name);

/// The pictures under one slider, in a panel of the page, and plots of their courses, added to the
/// page; the HTML with room for both. Empty without pictures.
std::string pictures_html(ReportPage& page, const std::vector<RunPicture>& pictures);

/// Headings and rows, as for the terminal.
ReportTable report_table(const std::string& caption, const std::vector<TextRow>& rows);

ReportPage comparison_report(const std::vector<ComparedRun>& runs,
                             const std::vector<RunPicture>& pictures);

/// Those of the runs that have one, taken out of them. A run: anything with an optional picture.
template <class Run> std::vector<RunPicture> pictures_of(std::vector<Run>& runs) {
  std::vector<RunPicture> pictures;
  for (Run& run : runs) {
    if (run.picture) {
      pictures.push_back(std::move(*run.picture));
    }
  }
  return pictures;
}

} // namespace tidemark
