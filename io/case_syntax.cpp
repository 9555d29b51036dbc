#include "io/case_syntax.hpp"

#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <algorithm>
#include <array>
#include <string>

namespace tidemark {

namespace {

/// What toml++ says of a syntax error, and how we say it.
struct SyntaxError {
  std::string_view description;
  const char* text;
};

constexpr std::array<SyntaxError, 10> syntax_errors{{
    {"expected a comment or whitespace",
     "found more text after the value, expected the end of the line (a number with its unit "
     "stands in quotes: \"4 mm\")"},
    {"could not determine value type",
     "found a value that TOML does not know, expected a text in quotes, a number, true, false, a "
     "list or a table"},
    {"expected value, saw", "found no value after the equals sign, expected one"},
    {"unescaped control characters",
     "found the end of the line inside a text, expected the quote that closes it"},
    {"unknown escape sequence",
     "found a backslash with a special meaning, expected \\\\ or, in paths, /"},
    {"expected '=', saw", "found a key without an equals sign, expected key = value"},
    {"invalid utf-8", "found bytes that are not UTF-8, expected a text file in UTF-8"},
    {"encountered end-of-file", "found the end of the file in the middle of a value or header, "
                                "expected the rest of it"},
    {"expected comma or closing ']'", "found more text after a value of a list, expected a comma "
                                      "or ] (a number with its unit stands "
                                      "in quotes: \"4 mm\")"},
    {"exceeded maximum nested", "found lists or tables nested too deeply, expected a case file"},
}};

/// 'density' of "cannot redefine existing string 'density'".
std::string redefined_name(std::string_view description) {
  const std::size_t first = description.find('\'');
  const std::size_t last = description.find('\'', first + 1);
  return last == std::string_view::npos
             ? "a key"
             : quoted_text(description.substr(first + 1, last - first - 1));
}

std::string syntax_text(std::string_view description) {
  if (description.find("cannot redefine existing") != std::string_view::npos) {
    return "found " + redefined_name(description) + " a second time, expected it once";
  }
  for (const SyntaxError& known : syntax_errors) {
    if (description.find(known.description) != std::string_view::npos) {
      return known.text;
    }
  }
  return "found what TOML does not allow (" + std::string(description) +
         "), expected a file in TOML";
}

[[noreturn]] void throw_at(const Findings& findings, std::size_t line, std::size_t column,
                           const std::string& text) {
  throw InputError(findings.file + ":" + std::to_string(line) + ":" + std::to_string(column) +
                   ": " + text);
}

/// toml++ recurses for each dot of a key, without limit, and keys cannot span lines. With at most
/// 256 levels of lists and tables in each other this keeps it well within any stack.
constexpr std::ptrdiff_t most_dots = 100;

void refuse_deep_keys(std::string_view text, const Findings& findings) {
  std::size_t line = 1;
  for (std::size_t begin = 0; begin < text.size(); ++line) {
    const std::size_t end = std::min(text.find('\n', begin), text.size());
    const std::ptrdiff_t dots = std::ranges::count(text.substr(begin, end - begin), '.');
    if (dots > most_dots) {
      throw_at(findings, line, 1,
               "found a line with " + std::to_string(dots) + " dots, expected at most " +
                   std::to_string(most_dots) + ": break long lists into several lines");
    }
    begin = end + 1;
  }
}

} // namespace

toml::table parse_toml(std::string_view text, const Findings& findings) {
  // A zero byte or half a UTF-16 character is no text, and toml++ would complain of its syntax.
  if (text.starts_with("\xFF\xFE") || text.starts_with("\xFE\xFF") ||
      text.find('\0') != std::string_view::npos) {
    throw_at(findings, 1, 1, "found a file that is not UTF-8, expected a text file in UTF-8");
  }
  refuse_deep_keys(text, findings);
  try {
    return toml::parse(text, findings.file);
  } catch (const toml::parse_error& error) {
    const toml::source_position at = error.source().begin;
    throw_at(findings, at.line, at.column, syntax_text(error.description()));
  }
}

toml::table parse_values(std::string_view text, const std::string& where) {
  const std::ptrdiff_t dots = std::ranges::count(text, '.');
  if (dots > most_dots) {
    throw InputError(where + ": found " + std::to_string(dots) + " dots, expected at most " +
                     std::to_string(most_dots));
  }
  try {
    return toml::parse(text);
  } catch (const toml::parse_error& error) {
    throw InputError(where + ": " + syntax_text(error.description()));
  }
}

} // namespace tidemark
