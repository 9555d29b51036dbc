// The report of a process window as a page of HTML: the setting in words, the map, tables.
#pragma once

#include "io/report_page.hpp"
#include "io/window_facts.hpp"

#include <string_view>

namespace tidemark {

inline constexpr std::string_view window_report_name = "window.html";

/// The same for the same facts to the byte.
ReportPage window_report(const WindowFacts& facts);

} // namespace tidemark
