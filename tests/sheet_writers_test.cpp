// Marks in names and titles are text, in Markdown and in HTML.
#include "io/sheet_fit.hpp"
#include "io/sheet_html.hpp"
#include "io/sheet_markdown.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <regex>
#include <sstream>

using namespace tidemark;

namespace {

FillResult full_result() {
  FillResult result = sample_result();
  result.history.back().flow_rate = 1e-6;
  result.history.back().gates[0].flow_rate = 1e-6;
  return result;
}

SetupSheet sheet_of(const Case& input) {
  return setup_sheet(input, full_result(), {1.4, full_result(), full_result()});
}

Case marked_case() {
  Case input = sample_case();
  input.title = "Größe <b>&amp; \"a|b\" *c* 'd'";
  input.problem.vents[0].name = "V|1 *x* <i>_y_";
  return input;
}

std::size_t count_of(const std::string& text, const std::string& words) {
  std::size_t count = 0;
  for (std::size_t at = text.find(words); at != std::string::npos; at = text.find(words, at + 1)) {
    ++count;
  }
  return count;
}

/// Bars of a line that part cells: those without a backslash before.
long bars_of(const std::string& line) {
  long count = 0;
  for (std::size_t i = 0; i < line.size(); ++i) {
    count += line[i] == '|' && (i == 0 || line[i - 1] != '\\') ? 1 : 0;
  }
  return count;
}

} // namespace

TEST_CASE("markdown: letters that are marks get a backslash, blanks to write on stay") {
  CHECK(markdown_text("a|b *c* <d> & [e] `f` \\") ==
        "a\\|b \\*c\\* \\<d\\> \\& \\[e\\] \\`f\\` \\\\");
  CHECK(markdown_text("at ________ min") == "at ________ min");
  CHECK(markdown_text("a\nb\x1b") == "a b?");
}

TEST_CASE("html: letters that are marks become references") {
  CHECK(html_text("<a href=\"x\"> & 'y' Größe") ==
        "&lt;a href=&quot;x&quot;&gt; &amp; &#39;y&#39; Größe");
}

TEST_CASE("markdown: a bar in a name parts no cell") {
  std::istringstream text(sheet_markdown(sheet_of(marked_case())));
  std::string line;
  std::getline(text, line);
  CHECK(line == "# Größe \\<b\\>\\&amp; \"a\\|b\" \\*c\\* 'd'");
  long columns = 0;
  bool is_seen = false;
  while (std::getline(text, line)) {
    if (!line.starts_with("|")) {
      columns = 0;
      continue;
    }
    CAPTURE(line);
    columns = columns == 0 ? bars_of(line) : columns;
    CHECK(bars_of(line) == columns);
    is_seen = is_seen || says(line, "V\\|1 \\*x\\* \\<i\\>\\_y\\_");
  }
  CHECK(is_seen);
}

TEST_CASE("html: no mark of a name comes through, every element is closed") {
  const std::string page = sheet_html(sheet_of(marked_case()));
  CHECK(says(page, "<h1>Größe &lt;b&gt;&amp;amp; &quot;a|b&quot; *c* &#39;d&#39;</h1>"));
  CHECK(says(page, "V|1 *x* &lt;i&gt;_y_"));
  for (const char* name : {"table", "tr", "td", "th", "ul", "li", "section", "div", "span", "p",
                           "h2", "b", "header", "body", "html"}) {
    CAPTURE(name);
    const std::string tag = name;
    CHECK(count_of(page, "<" + tag + ">") + count_of(page, "<" + tag + " ") ==
          count_of(page, "</" + tag + ">"));
  }
}

TEST_CASE("html: one file, without scripts, colours or anything from elsewhere") {
  const std::string page = sheet_html(sheet_of(sample_case()));
  for (const char* words : {"<script", "http:", "https:", "src=", "<link", "@import", "url("}) {
    CAPTURE(words);
    CHECK(!says(page, words));
  }
  const std::regex colour("#[0-9a-f]{3,6}\\b");
  for (auto at = std::sregex_iterator(page.begin(), page.end(), colour);
       at != std::sregex_iterator(); ++at) {
    const std::string found = at->str();
    CAPTURE(found); // black, white and grey
    CHECK(std::ranges::all_of(found.substr(1), [&](char c) { return c == found[1]; }));
  }
  CHECK(says(page, "@page"));
  CHECK(says(page, "name=\"viewport\""));
}

TEST_CASE("both: a sheet that forbids says so before anything else and gives no course") {
  const SetupSheet sheet = setup_sheet(sample_case(), short_result(), {});
  for (const std::string& text : {sheet_markdown(sheet), sheet_html(sheet)}) {
    CHECK(text.find("DO NOT INJECT AS SET") < text.find("Set in the case, not to be injected"));
    CHECK(says(text, "The resin gels before the part is full."));
    CHECK(!says(text, "Expected course"));
    CHECK(says(text, "the first shot is a trial"));
  }
}

TEST_CASE("both: the same figures") {
  const SetupSheet sheet = sheet_of(sample_case());
  for (const std::string& text : {sheet_markdown(sheet), sheet_html(sheet)}) {
    for (const auto& row : sheet.course.rows) {
      CHECK(says(text, row[1].text));
      CHECK(says(text, row[3].text));
    }
    CHECK(says(text, *sheet.quantities[0].value));
  }
}

TEST_CASE("letters: smaller the more stands on the sheet, within limits") {
  SetupSheet sheet = sheet_of(sample_case());
  const double usual = letter_size(sheet);
  CHECK(usual <= 8.2);
  CHECK(usual > 6.5);
  sheet.watch.assign(12, std::string(200, 'x'));
  CHECK(letter_size(sheet) < usual);
  sheet.watch.assign(500, std::string(200, 'x'));
  CHECK(letter_size(sheet) == doctest::Approx(5.2));
}
