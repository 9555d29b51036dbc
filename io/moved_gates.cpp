#include "io/moved_gates.hpp"

#include "io/case_syntax.hpp"
#include "io/number_text.hpp"
#include "io/toml_text.hpp"
#include "mesh/error.hpp"

#include <algorithm>
#include <array>
#include <sstream>
#include <string_view>
#include <utility>

namespace tidemark {

namespace {

namespace fs = std::filesystem;

/// Bytes of a text to be replaced.
struct Patch {
  std::size_t begin, end;
  std::string text;
};

/// Where line and column (from 1, in letters) lie in the bytes of a text.
std::size_t offset_of(std::string_view text, toml::source_position position) {
  std::size_t at = 0;
  for (toml::source_index line = 1; line < position.line; ++line) {
    at = std::min(text.find('\n', at), text.size() - 1) + 1;
  }
  for (toml::source_index column = 1; column < position.column && at < text.size(); ++column) {
    do {
      ++at;
    } while (at < text.size() && (static_cast<unsigned char>(text[at]) & 0xC0U) == 0x80U);
  }
  return at;
}

/// The value with its path seen from the folder.
void add_path_patch(const std::string& text, const toml::node* value, const fs::path& from,
                    const fs::path& folder, std::vector<Patch>& patches) {
  if (value == nullptr || !value->is_string()) {
    return;
  }
  const fs::path target = from.parent_path() / *value->value<std::string>();
  std::error_code none;
  const fs::path seen = fs::proximate(target, folder, none);
  patches.push_back({offset_of(text, value->source().begin), offset_of(text, value->source().end),
                     toml_string((none ? target : seen).generic_string())});
}

/// Lines on which tables begin, but for those of the gates within themselves.
void collect_headers(const toml::table& table, std::vector<toml::source_index>& lines) {
  const auto collect = [&](const toml::node& node, bool with_inner) {
    if (const auto* inner = node.as_table(); inner != nullptr && !inner->is_inline()) {
      lines.push_back(inner->source().begin.line);
      if (with_inner) {
        collect_headers(*inner, lines);
      }
    }
  };
  for (const auto& [key, value] : table) {
    collect(value, true);
    if (const auto* list = value.as_array()) {
      for (const toml::node& entry : *list) {
        collect(entry, key.str() != "gate");
      }
    }
  }
}

/// The end of the last line from begin on, before end, that is neither blank nor a comment.
std::size_t end_of_content(std::string_view text, std::size_t begin, std::size_t end) {
  std::size_t last = begin;
  for (std::size_t at = begin; at < end;) {
    const std::size_t next = std::min(text.find('\n', at), end - 1) + 1;
    const std::size_t sign = text.find_first_not_of(" \t\r\n", at);
    if (sign < next && text[sign] != '#') {
      last = next;
    }
    at = next;
  }
  return last;
}

/// Keys that say where a gate is and when it opens, and those that come first in any case.
bool is_replaced(std::string_view key) {
  const std::array<std::string_view, 8> keys{"name",     "at",    "group",     "radius",
                                             "opens_at", "opens", "closes_at", "closes"};
  return std::ranges::find(keys, key) != keys.end();
}

std::string value_text(toml::node& value) {
  if (toml::table* table = value.as_table()) {
    table->is_inline(true);
  }
  std::ostringstream text;
  const auto flags =
      toml::toml_formatter::default_flags & ~toml::format_flags::allow_literal_strings;
  text << toml::toml_formatter(value, flags);
  return text.str();
}

/// One gate, key by key.
std::vector<std::string> entries_of(toml::table first, const MovedGate& gate,
                                    const std::optional<std::string>& radius) {
  std::vector<std::string> entries{"name = " + toml_string(gate.name),
                                   "at = [" + number_text(gate.at.x()) + ", " +
                                       number_text(gate.at.y()) + ", " + number_text(gate.at.z()) +
                                       "]"};
  if (radius) {
    entries.push_back("radius = " + toml_string(*radius));
  } else if (toml::node* own = first.get("radius")) {
    entries.push_back("radius = " + value_text(*own));
  }
  for (auto&& [key, value] : first) {
    if (!is_replaced(key.str())) {
      entries.push_back(std::string(key.str()) + " = " + value_text(value));
    }
  }
  return entries;
}

/// The gates under their headers, or as the entries of a list.
std::string gates_text(const toml::table& first, const std::vector<MovedGate>& gates,
                       const std::optional<std::string>& radius, bool is_inline) {
  std::string text;
  for (const MovedGate& gate : gates) {
    std::string lines;
    for (const std::string& entry : entries_of(first, gate, radius)) {
      lines += is_inline ? (lines.empty() ? "" : ", ") + entry : entry + "\n";
    }
    if (is_inline) {
      text += (text.empty() ? "{ " : ", { ") + lines + " }";
    } else {
      text += (text.empty() ? "[[gate]]\n" : "\n[[gate]]\n") + lines;
    }
  }
  return is_inline ? "[" + text + "]" : text;
}

/// The first gate's lines become the new gates, the others' go.
void add_gate_patches(const std::string& text, const toml::table& document,
                      const std::vector<MovedGate>& gates, const std::optional<std::string>& radius,
                      std::vector<Patch>& patches) {
  const toml::array& old = *document["gate"].as_array();
  const toml::table& first = *old.front().as_table();
  if (first.is_inline()) {
    patches.push_back({offset_of(text, old.source().begin), offset_of(text, old.source().end),
                       gates_text(first, gates, radius, true)});
    return;
  }
  std::vector<toml::source_index> headers;
  collect_headers(document, headers);
  std::ranges::sort(headers);
  std::string content = gates_text(first, gates, radius, false);
  for (const toml::node& gate : old) {
    const toml::source_index line = gate.source().begin.line;
    const auto next = std::ranges::upper_bound(headers, line);
    const std::size_t begin = offset_of(text, {line, 1});
    const std::size_t end = next == headers.end() ? text.size() : offset_of(text, {*next, 1});
    patches.push_back({begin, end_of_content(text, begin, end), std::exchange(content, "")});
  }
}

} // namespace

std::string with_moved_gates(const std::string& text, const std::vector<MovedGate>& gates,
                             const std::optional<std::string>& radius, const fs::path& from,
                             const fs::path& folder) {
  const Findings findings{from.string(), {}, {}};
  const toml::table document = parse_toml(text, findings);
  std::vector<Patch> patches;
  add_path_patch(text, document["fabrics"].node(), from, folder, patches);
  add_path_patch(text, document["part"]["mesh"].node(), from, folder, patches);
  add_gate_patches(text, document, gates, radius, patches);
  std::ranges::sort(patches, std::ranges::greater{}, &Patch::begin);
  std::string result = text;
  for (const Patch& patch : patches) {
    result.replace(patch.begin, patch.end - patch.begin, patch.text);
  }
  return result;
}

} // namespace tidemark
