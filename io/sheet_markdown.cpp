#include "io/sheet_markdown.hpp"

#include "io/spoken.hpp"

namespace tidemark {

namespace {

constexpr const char* blank = "________";

/// A row of a table; the cells are marked up already.
std::string row_text(const std::vector<std::string>& cells) {
  std::string text = "|";
  for (const std::string& cell : cells) {
    text += " " + cell + " |";
  }
  return text + "\n";
}

std::string head_text(const std::vector<std::string>& headings) {
  std::string rule = "|";
  for (std::size_t i = 0; i < headings.size(); ++i) {
    rule += "---|";
  }
  return row_text(headings) + rule + "\n";
}

/// The value, or a blank with its unit, and the note behind it.
std::string value_text(const SheetLine& line) {
  std::string text = line.value ? markdown_text(*line.value)
                                : blank + (line.unit.empty() ? "" : " " + markdown_text(line.unit));
  return text + (line.note.empty() ? "" : " (" + markdown_text(line.note) + ")");
}

std::string lines_text(const std::string& heading, const std::vector<SheetLine>& lines) {
  if (lines.empty()) {
    return "";
  }
  std::string text = "\n## " + heading + "\n\n" + head_text({"", ""});
  for (const SheetLine& line : lines) {
    text += row_text({markdown_text(line.label), value_text(line)});
  }
  return text;
}

std::string with_band(const std::string& text, const std::string& band) {
  return markdown_text(text) + (band.empty() ? "" : " (" + markdown_text(band) + ")");
}

std::string order_text(const std::vector<SheetEvent>& order) {
  if (order.empty()) {
    return "";
  }
  std::string text =
      "\n## Gates and vents, in the order they come\n\n" + head_text({"When", "What", "Seen at"});
  for (const SheetEvent& event : order) {
    text += row_text({with_band(event.when, event.band), markdown_text(event.what), blank});
  }
  return text;
}

std::string course_text(const SetupSheet& sheet) {
  if (sheet.course.rows.empty()) {
    return "";
  }
  std::vector<std::string> headings;
  for (const std::string& heading : sheet.course.headings) {
    headings.push_back(markdown_text(heading));
  }
  headings.emplace_back("Read");
  std::string text = "\n## Expected course\n\n" + head_text(headings);
  for (const auto& row : sheet.course.rows) {
    std::vector<std::string> cells;
    for (const SheetCell& cell : row) {
      cells.push_back(with_band(cell.text, cell.band));
    }
    cells.emplace_back(blank);
    text += row_text(cells);
  }
  return text + "\n" + markdown_text(sheet.band) + "\n";
}

std::string list_text(const std::string& heading, const std::vector<std::string>& entries) {
  if (entries.empty()) {
    return "";
  }
  std::string text = "\n## " + heading + "\n\n";
  for (const std::string& entry : entries) {
    text += "- " + markdown_text(entry) + "\n";
  }
  return text;
}

std::string day_text(const std::vector<SheetLine>& lines) {
  std::string text = "\n";
  for (const SheetLine& line : lines) {
    text += "- " + markdown_text(line.label) + ": " + value_text(line) + "\n";
  }
  return text;
}

} // namespace

std::string markdown_text(std::string_view text) {
  std::string result;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool is_blank = text.substr(i).starts_with(blank); // a line to write on
    if (is_blank) {
      result += blank;
      i += std::string_view(blank).size() - 1;
      continue;
    }
    const bool is_mark = std::string_view("\\`*_[]<>|~&#$").find(text[i]) != std::string_view::npos;
    result += is_mark ? "\\" : "";
    result += text[i] == '\n' ? ' ' : text[i];
  }
  return printable(result);
}

std::string sheet_markdown(const SetupSheet& sheet) {
  return "# " + markdown_text(sheet.title) + "\n\nSet-up sheet for the injection\n" +
         day_text(sheet.day) + list_text("DO NOT INJECT AS SET", sheet.forbidden) +
         list_text("Mind this first", sheet.attention) +
         lines_text(sheet.forbidden.empty() ? "Settings" : "Set in the case, not to be injected",
                    sheet.settings) +
         lines_text("Quantities", sheet.quantities) + order_text(sheet.order) + course_text(sheet) +
         list_text("Watch for", sheet.watch) + list_text("Stop the pump", sheet.stop) +
         list_text("Break off and find out why", sheet.abort) + list_text("Flush", sheet.flush) +
         list_text("Cautions", sheet.cautions) + "\n" + markdown_text(sheet.origin) + "\n";
}

} // namespace tidemark
