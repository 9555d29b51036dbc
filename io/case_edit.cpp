#include "io/case_edit.hpp"

#include "io/case_syntax.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <algorithm>
#include <cctype>
#include <charconv>
#include <optional>
#include <string_view>
#include <utility>

namespace tidemark {

namespace {

const char* const expected_form =
    "KEY = VALUE such as region.skin.thickness = 3 mm, several with ; between";
constexpr std::size_t longest_text = 4000;
constexpr std::size_t most_parts = 20; // of a key; toml++ recurses for each

[[noreturn]] void refuse(const std::string& edit, const std::string& found,
                         const std::string& expected) {
  throw InputError("--try " + quoted_text(edit) + ": found " + found + ", expected " + expected);
}

bool is_blank(char letter) {
  return letter == ' ' || letter == '\t' || letter == '\n' || letter == '\r';
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && is_blank(text.front())) {
    text.remove_prefix(1);
  }
  while (!text.empty() && is_blank(text.back())) {
    text.remove_suffix(1);
  }
  return text;
}

/// Position after the quote that closes the one at `at`; the end of the text if none does.
std::size_t after_quote(std::string_view text, std::size_t at) {
  const char quote = text[at];
  for (std::size_t i = at + 1; i < text.size(); ++i) {
    if (text[i] == '\\' && quote == '"') {
      ++i;
    } else if (text[i] == quote) {
      return i + 1;
    }
  }
  return text.size();
}

/// The first place of one of the letters outside quotes and brackets; npos if there is none.
std::size_t find_outside(std::string_view text, std::string_view letters) {
  int depth = 0;
  for (std::size_t i = 0; i < text.size();) {
    const char letter = text[i];
    if (letter == '"' || letter == '\'') {
      i = after_quote(text, i);
      continue;
    }
    if (depth <= 0 && letters.find(letter) != std::string_view::npos) {
      return i;
    }
    depth += letter == '[' || letter == '{' ? 1 : letter == ']' || letter == '}' ? -1 : 0;
    ++i;
  }
  return std::string_view::npos;
}

/// Splits at the letter outside quotes and brackets.
std::vector<std::string_view> parts_of(std::string_view text, std::string_view letter) {
  std::vector<std::string_view> parts;
  for (std::size_t at = find_outside(text, letter); at != std::string_view::npos;
       at = find_outside(text, letter)) {
    parts.push_back(text.substr(0, at));
    text.remove_prefix(at + 1);
  }
  parts.push_back(text);
  return parts;
}

/// A basic string of TOML.
std::string as_toml_text(std::string_view text) {
  std::string result = "\"";
  for (const char letter : text) {
    if (letter == '"' || letter == '\\') {
      result += '\\';
    }
    result += letter;
  }
  return result + "\"";
}

/// A part of a key without its quotes; none if it is not one.
std::optional<std::string> plain_part(std::string_view part) {
  const bool is_quoted = part.size() > 1 && (part.front() == '"' || part.front() == '\'') &&
                         after_quote(part, 0) == part.size() && part.back() == part.front();
  const std::string_view name = is_quoted ? part.substr(1, part.size() - 2) : part;
  const bool is_sound = !name.empty() && std::ranges::all_of(name, [&](char letter) {
    const auto code = static_cast<unsigned char>(letter);
    const bool is_plain =
        std::isalnum(code) != 0 || letter == '_' || letter == '-' || letter == ' ' || code >= 0x80;
    return is_plain || (is_quoted && code >= 0x20 && code != 0x7F && letter != '\\');
  });
  return is_sound ? std::optional(std::string(name)) : std::nullopt;
}

std::vector<std::string> read_path(const std::string& edit, std::string_view key) {
  std::vector<std::string> path;
  for (const std::string_view part : parts_of(key, ".")) {
    const auto name = plain_part(trimmed(part));
    if (!name) {
      refuse(edit, "the key " + quoted_text(trimmed(key)),
             "names with dots between such as region.skin.thickness, those with other signs than "
             "letters, digits, blanks, _ and - in quotes");
    }
    path.push_back(*name);
  }
  if (path.size() > most_parts) {
    refuse(edit, "a key of " + std::to_string(path.size()) + " parts",
           "at most " + std::to_string(most_parts));
  }
  return path;
}

/// The value as TOML, after a trial; a plain word or quantity gets the quotes it lacks.
std::string read_value(const std::string& edit, std::string_view value) {
  const std::string_view brackets_and_quotes = "\"'[{";
  const bool is_open = brackets_and_quotes.find(value.front()) == std::string_view::npos;
  const bool is_line = value.find_first_of("#\n\r") == std::string_view::npos;
  const std::string where = "--try " + quoted_text(edit);
  try {
    const bool is_one = parse_values("value = " + std::string(value), where).size() == 1;
    if (is_one && (is_line || !is_open)) {
      return std::string(value);
    }
    refuse(edit, quoted_text(value), "one value");
  } catch (const InputError&) {
    if (!is_open || !is_line) {
      throw;
    }
  }
  const std::string text = as_toml_text(value);
  parse_values("value = " + text, where); // throws for what no text may hold
  return text;
}

Change read_change(const std::string& edit, std::string_view text) {
  const std::size_t equals = find_outside(text, "=");
  if (trimmed(text).empty()) {
    refuse(edit, "nothing where a change should stand", expected_form);
  }
  if (equals == std::string_view::npos) {
    refuse(edit, quoted_text(trimmed(text)) + " without an equals sign", expected_form);
  }
  const std::string_view value = trimmed(text.substr(equals + 1));
  if (value.empty()) {
    refuse(edit, "no value after " + quoted_text(trimmed(text)),
           "one, or the word none to take the key out");
  }
  Change change{read_path(edit, text.substr(0, equals)), ""};
  if (value != "none") {
    change.value = read_value(edit, value);
  }
  return change;
}

/// What stands before a colon that comes before the first equals sign; cut off from the text.
std::string take_label(const std::string& edit, std::string_view& text) {
  const std::size_t colon = text.find_first_of(":=\""); // a label may hold an apostrophe
  if (colon == std::string_view::npos || text[colon] != ':') {
    return {};
  }
  const std::string label(trimmed(text.substr(0, colon)));
  const bool has_control = std::ranges::any_of(label, [](char letter) {
    const auto code = static_cast<unsigned char>(letter);
    return code < 0x20 || code == 0x7F;
  });
  if (label.empty() || has_control) {
    refuse(edit, quoted_text(label) + " before the colon", "a label of one line such as thin:");
  }
  text.remove_prefix(colon + 1);
  return label;
}

void refuse_same_key_twice(const CaseEdit& edit) {
  for (auto change = edit.changes.begin(); change != edit.changes.end(); ++change) {
    if (std::find_if(edit.changes.begin(), change, [&](const Change& earlier) {
          return earlier.path == change->path;
        }) != change) {
      refuse(edit.text, key_of(*change) + " twice", "each key once");
    }
  }
}

/// The name of each table of a list, or its number.
std::vector<std::string> names_in(const toml::array& list) {
  std::vector<std::string> names;
  for (std::size_t i = 0; i < list.size(); ++i) {
    const toml::table* table = list[i].as_table();
    const auto name = table == nullptr ? std::nullopt : (*table)["name"].value<std::string>();
    names.push_back(name ? *name : std::to_string(i + 1));
  }
  return names;
}

std::vector<std::string> names_in(const toml::table& table) {
  std::vector<std::string> names;
  for (const auto& [key, node] : table) {
    names.emplace_back(key.str());
  }
  return names;
}

/// Where an element of that name, or of that number from 1, stands.
std::optional<std::size_t> position_in(const toml::array& list, const std::string& name) {
  const std::vector<std::string> names = names_in(list);
  const auto named = std::ranges::find(names, name);
  if (named != names.end()) {
    return static_cast<std::size_t>(named - names.begin());
  }
  std::size_t number = 0;
  const char* const end = name.data() + name.size();
  const auto [stop, fault] = std::from_chars(name.data(), end, number);
  const bool is_number = fault == std::errc() && stop == end && number >= 1;
  return is_number && number <= list.size() ? std::optional(number - 1) : std::nullopt;
}

/// Makes one change; the walk along its path from the document inwards.
class ChangeWalk {
public:
  ChangeWalk(const Change& change, int line, Findings& findings)
      : change_(change), line_(line), findings_(findings) {}

  void from(toml::table& document) {
    toml::node* at = &document;
    for (depth_ = 0; at != nullptr && depth_ < change_.path.size(); ++depth_) {
      if (toml::table* table = at->as_table()) {
        at = into(*table);
      } else if (toml::array* list = at->as_array()) {
        at = into(*list);
      } else {
        report("found a value at " + key_so_far() + ", expected a table or a list");
        at = nullptr;
      }
    }
  }

private:
  [[nodiscard]] bool is_last() const { return depth_ + 1 == change_.path.size(); }
  [[nodiscard]] const std::string& name() const { return change_.path[depth_]; }

  /// The next node, or nothing if the change was made or cannot be.
  toml::node* into(toml::table& table) {
    toml::node* inner = table.get(name());
    if (inner != nullptr && !is_last()) {
      parent_ = &table;
      return inner;
    }
    if (inner == nullptr && change_.value.empty()) {
      report_missing(names_in(table), "key");
      return nullptr;
    }
    table.erase(name()); // with its line, so that the new one has a line of its own
    if (!change_.value.empty()) {
      toml::table fresh = parsed();
      for (auto&& [key, node] : fresh) {
        node.visit([&](auto& value) { table.insert_or_assign(key, std::move(value)); });
      }
    }
    return nullptr;
  }

  toml::node* into(toml::array& list) {
    const auto position = position_in(list, name());
    if (!position) {
      report_missing(names_in(list), depth_ > 0 ? change_.path[depth_ - 1].c_str() : "entry");
      return nullptr;
    }
    if (!is_last()) {
      return list.get(*position);
    }
    const auto place = list.cbegin() + static_cast<std::ptrdiff_t>(*position);
    if (change_.value.empty()) {
      list.erase(place);
      drop_if_empty(list);
    } else {
      toml::table fresh = parsed();
      fresh.begin()->second.visit([&](auto& value) { list.replace(place, std::move(value)); });
    }
    return nullptr;
  }

  /// A case without vents has no list of them, not an empty one.
  void drop_if_empty(const toml::array& list) {
    if (list.empty() && parent_ != nullptr && depth_ > 0 &&
        parent_->get(change_.path[depth_ - 1]) == &list) {
      parent_->erase(change_.path[depth_ - 1]);
    }
  }

  /// The rest of the path with the value, on the line that stands for the change.
  [[nodiscard]] toml::table parsed() const {
    std::string text(static_cast<std::size_t>(line_ - 1), '\n');
    for (std::size_t i = depth_; i < change_.path.size(); ++i) {
      text += (i > depth_ ? "." : "") + as_toml_text(change_.path[i]);
    }
    return parse_values(text + " = " + change_.value, findings_.edit);
  }

  [[nodiscard]] std::string key_so_far() const {
    return key_of(
        Change{{change_.path.begin(), change_.path.begin() + std::ptrdiff_t(depth_)}, ""});
  }

  void report(const std::string& text) { add_error(findings_, line_, key_of(change_), text); }

  void report_missing(const std::vector<std::string>& known, const char* what) {
    report("found no " + std::string(what) + " " + quoted_text(name()) + ", expected one of " +
           list_with_nearest(name(), known));
  }

  const Change& change_;
  int line_;
  Findings& findings_;
  std::size_t depth_ = 0;
  toml::table* parent_ = nullptr; // the last table that was walked through
};

/// Whether the change is of a fabric's data, and the document has no such fabric.
bool is_of_unknown_fabric(const Change& change, const toml::table& document) {
  return change.path.size() > 2 && change.path[0] == "fabric" && document["fabric"].is_table() &&
         document["fabric"].as_table()->get(change.path[1]) == nullptr;
}

void report_unknown_fabric(const Change& change, int line, std::vector<std::string> names,
                           const toml::table& document, Findings& findings) {
  if (const toml::table* fabrics = document["fabric"].as_table()) {
    std::ranges::move(names_in(*fabrics), std::back_inserter(names));
  }
  std::ranges::sort(names);
  add_error(findings, line, key_of(change),
            "found no fabric " + quoted_text(change.path[1]) + ", expected one of " +
                list_with_nearest(change.path[1], names));
}

/// Each value may take several lines; the next change stands below.
int lines_in(const std::string& value) {
  return 1 + static_cast<int>(std::ranges::count(value, '\n'));
}

void begin_edit(const CaseEdit& edit, std::size_t lines_of_file, Findings& findings) {
  findings.last_line = static_cast<int>(lines_of_file);
  findings.edit = "--try " + quoted_text(edit.text);
}

} // namespace

CaseEdit parse_edit(const std::string& text) {
  if (text.size() > longest_text) {
    refuse(text, std::to_string(text.size()) + " bytes", "at most " + std::to_string(longest_text));
  }
  CaseEdit edit{text, "", {}};
  std::string_view rest = text;
  edit.label = take_label(text, rest);
  for (const std::string_view part : parts_of(rest, ";")) {
    edit.changes.push_back(read_change(text, part));
  }
  refuse_same_key_twice(edit);
  return edit;
}

std::string key_of(const Change& change) {
  std::string key;
  for (const std::string& part : change.path) {
    key += (key.empty() ? "" : ".") + part;
  }
  return key;
}

std::vector<Change> apply_edit(const CaseEdit& edit, std::size_t lines_of_file,
                               toml::table& document, Findings& findings) {
  begin_edit(edit, lines_of_file, findings);
  std::vector<Change> of_shared_fabrics;
  int line = findings.last_line + 1;
  for (const Change& change : edit.changes) {
    const bool has_file = document.contains("fabrics");
    const bool is_of_fabric =
        change.path.size() > 2 && change.path[0] == "fabric" &&
        (!document.contains("fabric") || is_of_unknown_fabric(change, document));
    if (is_of_fabric && has_file) {
      of_shared_fabrics.push_back(change);
    } else if (is_of_fabric) {
      report_unknown_fabric(change, line, {}, document, findings);
    } else {
      ChangeWalk(change, line, findings).from(document);
    }
    line += lines_in(change.value);
  }
  return of_shared_fabrics;
}

void apply_to_fabrics(const CaseEdit& edit, const std::vector<Change>& changes,
                      const std::vector<std::string>& own_names, std::size_t lines_of_file,
                      toml::table& document, Findings& findings) {
  begin_edit(edit, lines_of_file, findings);
  int line = findings.last_line + 1;
  for (const Change& change : changes) {
    if (is_of_unknown_fabric(change, document)) {
      report_unknown_fabric(change, line, own_names, document, findings);
    } else {
      ChangeWalk(change, line, findings).from(document);
    }
    line += lines_in(change.value);
  }
}

} // namespace tidemark
