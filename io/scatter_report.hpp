// The report of a scatter as a page of HTML: how likely a short fill is, how the figures spread,
// which input matters, where the part stays dry.
#pragma once

#include "io/report_page.hpp"
#include "io/scatter_writer.hpp"

#include <string_view>

namespace tidemark {

inline constexpr std::string_view scatter_report_name = "scatter.html";

/// The same for the same input to the byte.
ReportPage scatter_report(const Case& input, const ScatterOutcome& outcome);

} // namespace tidemark
