#include "io/raw_name.hpp"

#include "io/wording.hpp"

#include <algorithm>
#include <set>

namespace tidemark {

bool has_control_characters(std::string_view text) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (control_bytes(text.substr(i)) > 0) {
      return true;
    }
  }
  return false;
}

Maybe<std::string> read_name(const TomlTable& table, const char* example) {
  const std::string expected = "a name in quotes such as " + quoted_text(example);
  require(table, "name", expected);
  const auto name = read_text(table, "name", expected);
  if (!name) {
    return name;
  }
  // Names become column titles of history.csv.
  const bool is_clean = name->value.find_first_of(",;\"") == std::string::npos &&
                        !has_control_characters(name->value);
  if (name->value.empty() || !is_clean) {
    add_error(*table.findings, name->line, key_of(table, "name"),
              "found " + quoted_text(name->value) +
                  ", expected a name without comma, semicolon, quotes or control characters");
    return std::nullopt;
  }
  return name;
}

Maybe<std::string> read_word(const TomlTable& table, const std::vector<std::string>& known,
                             const char* name) {
  require(table, name, "one of " + list_of(known));
  auto word = read_text(table, name, "one of " + list_of(known));
  if (word && std::ranges::find(known, word->value) == known.end()) {
    add_error(*table.findings, word->line, key_of(table, name),
              "found " + quoted_text(word->value) + ", expected one of " +
                  list_with_nearest(word->value, known));
    word.reset();
  }
  return word;
}

void refuse_same_names(const std::vector<Maybe<std::string>>& names, const std::string& kind,
                       Findings& findings) {
  std::set<std::string> seen;
  for (const Maybe<std::string>& name : names) {
    if (name && !seen.insert(name->value).second) {
      add_error(findings, name->line, kind + "[" + name->value + "].name",
                "found " + quoted_text(name->value) + " a second time, expected a name of its own");
    }
  }
}

} // namespace tidemark
