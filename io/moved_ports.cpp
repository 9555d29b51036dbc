#include "io/moved_ports.hpp"

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

/// Lines on which tables begin, but for those within the tables of a list with this name.
void collect_headers(const toml::table& table, std::string_view name,
                     std::vector<toml::source_index>& lines) {
  const auto collect = [&](const toml::node& node, bool with_inner) {
    if (const auto* inner = node.as_table(); inner != nullptr && !inner->is_inline()) {
      lines.push_back(inner->source().begin.line);
      if (with_inner) {
        collect_headers(*inner, name, lines);
      }
    }
  };
  for (const auto& [key, value] : table) {
    collect(value, true);
    if (const auto* list = value.as_array()) {
      for (const toml::node& entry : *list) {
        collect(entry, key.str() != name);
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

std::string point_text(const Vector3& at) {
  return "[" + number_text(at.x()) + ", " + number_text(at.y()) + ", " + number_text(at.z()) + "]";
}

/// One gate, key by key.
std::vector<std::string> entries_of(toml::table first, const MovedGate& gate,
                                    const std::optional<std::string>& radius) {
  std::vector<std::string> entries{"name = " + toml_string(gate.name),
                                   "at = " + point_text(gate.at)};
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

using Entries = std::vector<std::string>; // "key = value"

/// The tables of a list under their headers, or inline.
std::string tables_text(const std::string& name, const std::vector<Entries>& tables,
                        bool is_inline) {
  std::string text;
  for (const Entries& entries : tables) {
    std::string lines;
    for (const std::string& entry : entries) {
      lines += is_inline ? (lines.empty() ? "" : ", ") + entry : entry + "\n";
    }
    if (is_inline) {
      text += (text.empty() ? "{ " : ", { ") + lines + " }";
    } else {
      text += (text.empty() ? "[[" : "\n[[") + name + "]]\n" + lines;
    }
  }
  return is_inline ? "[" + text + "]" : text;
}

/// The lines of the first table of the list become the new ones, the others' go. Without such a
/// list they come last.
void add_table_patches(const std::string& text, const toml::table& document,
                       const std::string& name, const std::vector<Entries>& tables,
                       std::vector<Patch>& patches) {
  const toml::array* old = document[name].as_array();
  if (old == nullptr || old->empty()) {
    const std::string gap = text.ends_with('\n') ? "\n" : "\n\n";
    patches.push_back({text.size(), text.size(), gap + tables_text(name, tables, false)});
    return;
  }
  if (old->front().as_table()->is_inline()) {
    patches.push_back({offset_of(text, old->source().begin), offset_of(text, old->source().end),
                       tables_text(name, tables, true)});
    return;
  }
  std::vector<toml::source_index> headers;
  collect_headers(document, name, headers);
  std::ranges::sort(headers);
  std::string content = tables_text(name, tables, false);
  for (const toml::node& table : *old) {
    const toml::source_index line = table.source().begin.line;
    const auto next = std::ranges::upper_bound(headers, line);
    const std::size_t begin = offset_of(text, {line, 1});
    const std::size_t end = next == headers.end() ? text.size() : offset_of(text, {*next, 1});
    patches.push_back({begin, end_of_content(text, begin, end), std::exchange(content, "")});
  }
}

void add_port_patches(const std::string& text, const toml::table& document, const MovedPorts& ports,
                      std::vector<Patch>& patches) {
  std::vector<Entries> gates;
  for (const MovedGate& gate : ports.gates) {
    gates.push_back(
        entries_of(*document["gate"].as_array()->front().as_table(), gate, ports.radius));
  }
  if (!gates.empty()) {
    add_table_patches(text, document, "gate", gates, patches);
  }
  std::vector<Entries> vents;
  for (const NewVent& vent : ports.vents) {
    vents.push_back({"name = " + toml_string(vent.name), "at = " + point_text(vent.at),
                     "pressure = " + toml_string(number_text(vent.pressure) + " Pa")});
  }
  if (!vents.empty()) {
    add_table_patches(text, document, "vent", vents, patches);
  }
}

} // namespace

std::string with_moved_ports(const std::string& text, const MovedPorts& ports, const fs::path& from,
                             const fs::path& folder) {
  const Findings findings{from.string(), {}, {}};
  const toml::table document = parse_toml(text, findings);
  std::vector<Patch> patches;
  add_path_patch(text, document["fabrics"].node(), from, folder, patches);
  add_path_patch(text, document["part"]["mesh"].node(), from, folder, patches);
  add_port_patches(text, document, ports, patches);
  std::ranges::sort(patches, std::ranges::greater{}, &Patch::begin);
  std::string result = text;
  for (const Patch& patch : patches) {
    result.replace(patch.begin, patch.end - patch.begin, patch.text);
  }
  return result;
}

} // namespace tidemark
