// What stands on the HTML report of a look at vents.
#pragma once

#include "io/report_page.hpp"
#include "io/vent_rows.hpp"

namespace tidemark {

/// Which vents are needed and how far each may move, on a picture of the part with the filling that
/// has all of them. Precondition: result is a filling of input.problem, survey of that.
ReportPage vents_report(const Case& input, const FillResult& result, const VentSurvey& survey);

} // namespace tidemark
