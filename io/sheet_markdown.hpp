// The sheet for the operator as Markdown (CommonMark with tables).
#pragma once

#include "io/setup_sheet.hpp"

#include <string>
#include <string_view>

namespace tidemark {

std::string sheet_markdown(const SetupSheet& sheet);

/// Text of which no letter is taken for a mark, neither in a line nor in a cell of a table.
std::string markdown_text(std::string_view text);

} // namespace tidemark
