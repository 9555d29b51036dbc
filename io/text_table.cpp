#include "io/text_table.hpp"

#include <algorithm>

namespace tidemark {

std::size_t letters_in(std::string_view text) {
  return static_cast<std::size_t>(std::ranges::count_if(
      text, [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

std::string table_text(const std::vector<TextRow>& rows) {
  std::vector<std::size_t> widths(rows.front().size(), 0);
  for (const TextRow& row : rows) {
    for (std::size_t i = 0; i < row.size(); ++i) {
      widths[i] = std::max(widths[i], letters_in(row[i]));
    }
  }
  std::string text;
  for (const TextRow& row : rows) {
    std::string line;
    for (std::size_t i = 0; i < row.size(); ++i) {
      line += row[i] + std::string(widths[i] - letters_in(row[i]) + 2, ' ');
    }
    line.erase(line.find_last_not_of(' ') + 1);
    text += line + "\n";
  }
  return text;
}

} // namespace tidemark
