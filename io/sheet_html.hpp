// The sheet for the operator as a page of HTML that needs nothing else: one side of A4 or Letter in
// print, one column on a telephone.
#pragma once

#include "io/setup_sheet.hpp"

#include <string>
#include <string_view>

namespace tidemark {

std::string sheet_html(const SetupSheet& sheet);

/// Text with <, >, &, " and ' as character references.
std::string html_text(std::string_view text);

} // namespace tidemark
