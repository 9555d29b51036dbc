// The report of one filling: verdict, pictures, plots and tables on one page of HTML.
#pragma once

#include "io/case_file.hpp"
#include "io/report_page.hpp"
#include "solver/cure_search.hpp"
#include "solver/filling.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

inline constexpr std::string_view report_name = "report.html";

/// Precondition: result is a filling of input.problem. The same for the same input to the byte: no
/// times of the run stand on it.
ReportPage fill_report(const Case& input, const FillResult& result,
                       const std::optional<CureSearch>& search = {});

/// What stands on every report: scatter and trial shots, then the cautions of the sheet.
std::vector<std::string> report_cautions();

/// Set points of the common pump over the rows of a history: flow rate [m3/s] and cap [Pa], NaN
/// where there is none. A stage holds from the first row that ends after it has begun.
struct SetPoints {
  std::vector<double> flow_rate;
  std::vector<double> pressure_cap;
};
SetPoints set_points(const FillProblem& problem, const FillResult& result);

} // namespace tidemark
