#include "io/sheet_fit.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {

// Letters that a line takes at 8 pt, and lines of a page at that size; measured on printed sheets.
constexpr double line_letters = 108;
constexpr double page_lines = 81;
constexpr double heading_lines = 1.75;
constexpr double row_padding = 0.22;
constexpr double caution_size = 0.85; // over that of the rest

double letters_in(const std::string& text) {
  return static_cast<double>(std::ranges::count_if(
      text, [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

/// Estimates lines at a size of letters; size: over 8 pt.
class LineCount {
public:
  explicit LineCount(double size) : size_(size) {}

  [[nodiscard]] double lines(double letters, double share_of_width) const {
    return std::max(1.0, std::ceil(letters * size_ / (line_letters * share_of_width)));
  }

  [[nodiscard]] double list(const std::vector<std::string>& entries, double share) const {
    double sum = entries.empty() ? 0 : heading_lines;
    for (const std::string& entry : entries) {
      sum += lines(letters_in(entry), share);
    }
    return sum;
  }

  [[nodiscard]] double table(const std::vector<SheetLine>& rows, double share) const {
    const double blank = 9; // as long as so many letters
    const double bold = 1.12;
    double sum = rows.empty() ? 0 : heading_lines;
    for (const SheetLine& row : rows) {
      const double value = row.value ? bold * letters_in(*row.value) : blank + letters_in(row.unit);
      sum += row_padding + std::max(lines(letters_in(row.label), 0.42 * share),
                                    lines(value + letters_in(row.note), 0.52 * share));
    }
    return sum;
  }

  [[nodiscard]] double order(const std::vector<SheetEvent>& events) const {
    double sum = events.empty() ? 0 : heading_lines + 1 + row_padding;
    for (const SheetEvent& event : events) {
      sum += row_padding + std::max(lines(letters_in(event.when + event.band), 0.24),
                                    lines(letters_in(event.what), 0.5));
    }
    return sum;
  }

  [[nodiscard]] double course(const SheetTable& table) const {
    if (table.rows.empty()) {
      return 0;
    }
    const double share = 0.8 / static_cast<double>(table.headings.size() - 1);
    double sum = heading_lines;
    double tallest = 1;
    for (const std::string& heading : table.headings) {
      tallest = std::max(tallest, lines(1.3 * letters_in(heading), share));
    }
    sum += tallest + row_padding;
    for (const auto& row : table.rows) {
      tallest = 1;
      for (const SheetCell& cell : row) {
        tallest = std::max(tallest, lines(1.1 * letters_in(cell.text + cell.band), share));
      }
      sum += tallest + row_padding;
    }
    return sum;
  }

  [[nodiscard]] double all(const SetupSheet& sheet) const {
    const double half = 0.47;
    const double head = 2 * lines(2 * letters_in(sheet.title), 1) + 8;
    const double settings = sheet.quantities.empty() ? table(sheet.settings, half)
                                                     : std::max(table(sheet.settings, half),
                                                                table(sheet.quantities, half));
    const double ends =
        std::max(list(sheet.watch, half), list(sheet.stop, half) + list(sheet.flush, half));
    return head + 1.6 * list(sheet.forbidden, 0.7) + list(sheet.attention, 0.95) + settings +
           order(sheet.order) + course(sheet.course) + lines(letters_in(sheet.band), 1.1) + ends +
           list(sheet.abort, 1) +
           caution_size * LineCount(caution_size * size_).list(sheet.cautions, 1) + 1.5;
  }

private:
  double size_;
};

} // namespace

double letter_size(const SetupSheet& sheet) {
  constexpr int largest = 82; // tenths of a point
  constexpr int smallest = 52;
  for (int tenths = largest; tenths > smallest; --tenths) {
    const double size = tenths / 80.0;
    if (LineCount(size).all(sheet) * size <= page_lines) {
      return tenths / 10.0;
    }
  }
  return smallest / 10.0;
}

} // namespace tidemark
