#include "io/sheet_html.hpp"

#include "io/number_text.hpp"
#include "io/sheet_fit.hpp"
#include "io/spoken.hpp"

namespace tidemark {

namespace {

constexpr std::string_view written_blank = "________"; // as it stands inside a sentence

// Black on white, rules and weight only: it must say the same from a black-and-white printer. The
// printer tells the size of the page; what is laid out fits the width of A4 and the height of
// Letter.
constexpr const char* style = R"(
@page { margin: 8mm 11mm; }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 12px; max-width: 900px; color: #000; background: #fff;
  font: 15px/1.35 "Liberation Sans", Arial, Helvetica, sans-serif; overflow-wrap: anywhere; }
header { border-bottom: 2px solid #000; padding-bottom: 4px; }
h1 { font-size: 1.45em; line-height: 1.15; margin: 0; }
h2 { font-size: 1.05em; margin: .7em 0 .15em; border-bottom: 1px solid #000; }
p { margin: .2em 0; }
ul { margin: .2em 0; padding-left: 1.7em; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .12em .4em .12em 0;
  border-bottom: 1px solid #999; font-weight: normal; }
th { font-weight: bold; }
td.key { width: 44%; }
td.value { font-weight: bold; }
.course td, .course th { padding-left: .2em; }
.band, .note { font-weight: normal; font-size: .88em; }
.blank { display: inline-block; min-width: 4.5em; height: 1em; border-bottom: 1px solid #000; }
.hand { width: 12%; border-left: 1px solid #999; white-space: nowrap; }
td.hand, th.hand { padding-left: .3em; }
.course tr > :first-child { white-space: nowrap; width: 1%; }
.day { display: grid; grid-template-columns: repeat(auto-fill, minmax(12em, 1fr));
  gap: .45em 1em; margin-top: .5em; }
.day .field { display: flex; gap: .3em; white-space: nowrap; }
.day .blank { flex: 1; min-width: 1.5em; }
.forbidden { border: 4px solid #000; padding: .3em .6em; margin-top: .6em; font-weight: bold; }
.forbidden h2 { font-size: 1.4em; margin: 0; border: 0; }
.attention { border: 2px solid #000; padding: .1em .5em; margin-top: .5em; }
.cautions { font-size: .88em; }
footer { font-size: .8em; margin-top: .4em; }
@media (min-width: 640px), print { .pair { display: grid; grid-template-columns: 1fr 1fr; gap: 0 1.4em; } }
@media screen and (max-width: 480px) { .hand { display: none; } }
@media (max-width: 480px) { body { font-size: 13.5px; padding: 8px; } th, td { padding-right: .25em; } }
@media print {
  body { font-size: var(--letters); line-height: 1.18; padding: 0; max-width: none; }
  .day { grid-template-columns: repeat(4, 1fr); gap: .6em 1.4em; margin-top: .6em; }
  h2 { margin-top: .45em; break-after: avoid; }
  .order td:first-child { white-space: nowrap; width: 1%; padding-right: 1.2em; }
  .cautions { font-size: .85em; }
}
)";

std::string blank_text() {
  return "<span class=\"blank\"></span>";
}

std::string bracketed(const std::string& css_class, const std::string& text) {
  return text.empty() ? "" : " <span class=\"" + css_class + "\">(" + html_text(text) + ")</span>";
}

std::string value_text(const SheetLine& line) {
  return (line.value ? html_text(*line.value) : blank_text() + " " + html_text(line.unit)) +
         bracketed("note", line.note);
}

std::string heading_text(const std::string& heading) {
  return "<h2>" + html_text(heading) + "</h2>\n";
}

std::string lines_text(const std::string& heading, const std::vector<SheetLine>& lines) {
  if (lines.empty()) {
    return "";
  }
  std::string text = "<section>" + heading_text(heading) + "<table>\n";
  for (const SheetLine& line : lines) {
    text += "<tr><td class=\"key\">" + html_text(line.label) + "</td><td class=\"value\">" +
            value_text(line) + "</td></tr>\n";
  }
  return text + "</table></section>\n";
}

std::string order_text(const std::vector<SheetEvent>& order) {
  if (order.empty()) {
    return "";
  }
  std::string text = heading_text("Gates and vents, in the order they come") +
                     "<table class=\"order\">\n<tr><th>When</th><th>What</th><th "
                     "class=\"hand\">Seen at</th></tr>\n";
  for (const SheetEvent& event : order) {
    text += "<tr><td><b>" + html_text(event.when) + "</b>" + bracketed("band", event.band) +
            "</td><td>" + html_text(event.what) + "</td><td class=\"hand\"></td></tr>\n";
  }
  return text + "</table>\n";
}

std::string course_text(const SetupSheet& sheet) {
  if (sheet.course.rows.empty()) {
    return "";
  }
  std::string text = heading_text("Expected course") + "<table class=\"course\">\n<tr>";
  for (const std::string& heading : sheet.course.headings) {
    text += "<th>" + html_text(heading) + "</th>";
  }
  text += "<th class=\"hand\">Read</th></tr>\n";
  for (const auto& row : sheet.course.rows) {
    text += "<tr>";
    for (const SheetCell& cell : row) {
      text += "<td><b>" + html_text(cell.text) + "</b>" + bracketed("band", cell.band) + "</td>";
    }
    text += "<td class=\"hand\"></td></tr>\n";
  }
  return text + "</table>\n<p class=\"note\">" + html_text(sheet.band) + "</p>\n";
}

std::string entry_text(const std::string& entry) {
  const std::size_t at = entry.find(written_blank);
  return at == std::string::npos ? html_text(entry)
                                 : html_text(entry.substr(0, at)) + blank_text() +
                                       html_text(entry.substr(at + written_blank.size()));
}

std::string list_text(const std::string& heading, const std::vector<std::string>& entries,
                      const std::string& css_class = "") {
  if (entries.empty()) {
    return "";
  }
  std::string text = "<section class=\"" + css_class + "\">" + heading_text(heading) + "<ul>\n";
  for (const std::string& entry : entries) {
    text += "<li>" + entry_text(entry) + "</li>\n";
  }
  return text + "</ul></section>\n";
}

std::string day_text(const std::vector<SheetLine>& lines) {
  std::string text = "<div class=\"day\">\n";
  for (const SheetLine& line : lines) {
    text += "<span class=\"field\">" + html_text(line.label) + " " + value_text(line) + "</span>\n";
  }
  return text + "</div>\n";
}

std::string pair_text(const std::string& left, const std::string& right) {
  return "<div class=\"pair\">\n<div>" + left + "</div>\n<div>" + right + "</div>\n</div>\n";
}

} // namespace

std::string html_text(std::string_view text) {
  std::string result;
  for (const char c : text) {
    switch (c) {
    case '<':
      result += "&lt;";
      break;
    case '>':
      result += "&gt;";
      break;
    case '&':
      result += "&amp;";
      break;
    case '"':
      result += "&quot;";
      break;
    case '\'':
      result += "&#39;";
      break;
    default:
      result += c;
    }
  }
  return printable(result);
}

std::string sheet_html(const SetupSheet& sheet) {
  const std::string settings =
      sheet.forbidden.empty() ? "Settings" : "Set in the case, not to be injected";
  return "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
         "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>" +
         html_text(sheet.title) + ": set-up sheet</title>\n<style>" + style +
         "</style>\n</head>\n" + "<body style=\"--letters: " + plain_number(letter_size(sheet)) +
         "pt\">\n<header><h1>" + html_text(sheet.title) +
         "</h1>\n<p>Set-up sheet for the injection</p>\n" + day_text(sheet.day) + "</header>\n" +
         list_text("DO NOT INJECT AS SET", sheet.forbidden, "forbidden") +
         list_text("Mind this first", sheet.attention, "attention") +
         pair_text(lines_text(settings, sheet.settings),
                   lines_text("Quantities", sheet.quantities)) +
         order_text(sheet.order) + course_text(sheet) +
         pair_text(list_text("Watch for", sheet.watch),
                   list_text("Stop the pump", sheet.stop) + list_text("Flush", sheet.flush)) +
         list_text("Break off and find out why", sheet.abort) +
         list_text("Cautions", sheet.cautions, "cautions") + "<footer>" + html_text(sheet.origin) +
         "</footer>\n</body>\n</html>\n";
}

} // namespace tidemark
