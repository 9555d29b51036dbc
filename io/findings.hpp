// What is wrong or doubtful in a case file, collected so that one run tells everything.
#pragma once

#include <limits>
#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

struct Finding {
  int line;                 // of the case file, from 1
  std::string text;         // "file:line: key: what was found, what is expected"
  bool is_unfilled = false; // a "?" still to be filled in, no mistake
};

struct Findings {
  std::string file;            // as the messages call it
  std::vector<Finding> errors; // with what is still to be filled in: no run without it
  std::vector<Finding> warnings;
  /// Lines beyond the last of the file are values tried in place of those written, and messages
  /// call them by where they were given.
  int last_line = std::numeric_limits<int>::max();
  std::string edit = {}; // "--try \"...\""
};

void add_error(Findings& findings, int line, std::string_view key, std::string_view text);
/// For a value that is written as "?". expected: what belongs there.
void add_unfilled(Findings& findings, int line, std::string_view key, std::string_view expected);
void add_warning(Findings& findings, int line, std::string_view key, std::string_view text);

/// The texts in the order of their lines.
std::vector<std::string> texts_of(std::vector<Finding> findings);

/// Throws InputError with all errors if there is one, and after them what is still to be filled in.
void throw_if_errors(const Findings& findings);

} // namespace tidemark
