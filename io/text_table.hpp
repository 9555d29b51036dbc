// Tables of text for the terminal.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

using TextRow = std::vector<std::string>;

/// Letters of a UTF-8 text.
std::size_t letters_in(std::string_view text);

/// Columns side by side, two blanks between, none at the end of a line. Precondition: one row at
/// least, all of the same length.
std::string table_text(const std::vector<TextRow>& rows);

} // namespace tidemark
