#include "io/raw_case.hpp"

#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <algorithm>
#include <array>
#include <set>

namespace tidemark {

namespace {

const char* const three_numbers = "three numbers in mesh units such as [120, 300, 0]";

/// What toml++ says of a syntax error, and how we say it.
struct SyntaxError {
  std::string_view description;
  const char* text;
};

constexpr std::array<SyntaxError, 9> syntax_errors{{
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
void refuse_deep_keys(std::string_view text, const Findings& findings) {
  constexpr std::ptrdiff_t most = 100;
  std::size_t line = 1;
  for (std::size_t begin = 0; begin < text.size(); ++line) {
    const std::size_t end = std::min(text.find('\n', begin), text.size());
    const std::ptrdiff_t dots = std::ranges::count(text.substr(begin, end - begin), '.');
    if (dots > most) {
      throw_at(findings, line, 1,
               "found a line with " + std::to_string(dots) + " dots, expected at most " +
                   std::to_string(most) + ": break long lists into several lines");
    }
    begin = end + 1;
  }
}

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

bool has_control_characters(std::string_view text) {
  return std::ranges::any_of(text, [](char letter) {
    const auto code = static_cast<unsigned char>(letter);
    return code < 0x20 || code == 0x7F;
  });
}

Maybe<std::string> read_title(const TomlTable& document) {
  auto title = read_text(document, "title");
  if (title && (title->value.empty() || has_control_characters(title->value))) {
    add_error(*document.findings, title->line, "title",
              "found " + quoted_text(title->value) + ", expected one line of text");
    title.reset();
  }
  return title;
}

Maybe<std::string> read_name(const TomlTable& table, const char* example) {
  require(table, "name", "a name in quotes such as " + quoted_text(example));
  const auto name = read_text(table, "name");
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

DirectPermeability read_direct(const TomlTable& table) {
  require(table, "permeability", "a permeability such as \"3e-9 m2\", or K1 and K2 in a list");
  require(table, "porosity", "a number above 0 and at most 1");
  return {read_quantities(table, "permeability", Dimension::permeability, 2),
          read_fraction(table, "porosity")};
}

Layup refuse_layup(const TomlTable& table) {
  const int line = line_of(table, "layup");
  add_error(*table.findings, line, key_of(table, "layup"),
            "found a layup, expected permeability and porosity: layups of fabrics belong to a "
            "later version");
  return {line};
}

RawRegion read_region(const TomlTable& table) {
  refuse_unknown_keys(table, {"name", "groups", "thickness", "permeability", "porosity", "layup",
                              "direction", "angle"});
  RawRegion region;
  region.key = table.key;
  region.line = table.line;
  region.name = read_name(table, "skin");
  region.takes_rest = !has(table, "groups");
  region.groups = read_texts(table, "groups",
                             "a list of names such as [\"skin\"], or no groups at all for what "
                             "no other region takes");
  require(table, "thickness", example_of(Dimension::length));
  region.thickness = read_quantity(table, "thickness", Dimension::length);
  if (has(table, "layup")) {
    region.reinforcement = refuse_layup(table);
  } else {
    region.reinforcement = read_direct(table);
  }
  region.has_direction = has(table, "direction");
  region.direction = read_three_numbers(table, "direction", "three numbers such as [1, 0, 0]");
  region.angle = read_quantity(table, "angle", Dimension::angle);
  return region;
}

RawPort read_port(const TomlTable& table, bool is_vent) {
  std::vector<std::string> known{"name", "at", "group", "radius"};
  if (is_vent) {
    known.emplace_back("pressure");
  }
  refuse_unknown_keys(table, known);
  RawPort port;
  port.key = table.key;
  port.line = table.line;
  port.name = read_name(table, is_vent ? "V1" : "G1");
  port.at = read_three_numbers(table, "at", three_numbers);
  port.group = read_text(table, "group");
  port.radius = read_quantity(table, "radius", Dimension::length);
  if (has(table, "at") == has(table, "group")) {
    add_error(*table.findings, table.line, table.key,
              std::string("found ") + (has(table, "at") ? "both at and group" : "no place") +
                  ", expected either at = [120, 300, 0] or group = \"name\"");
  }
  if (has(table, "group") && has(table, "radius")) {
    add_error(*table.findings, line_of(table, "radius"), key_of(table, "radius"),
              "found a radius beside a group, expected it beside at only");
  }
  if (is_vent) {
    require(table, "pressure", "a gauge pressure such as \"-0.5 bar\", or \"0 bar\" for open air");
    port.pressure = read_quantity(table, "pressure", Dimension::pressure);
  }
  return port;
}

void read_part(const TomlTable& table, RawCase& raw) {
  refuse_unknown_keys(table, {"mesh", "mesh_unit"});
  require(table, "mesh", "the name of the mesh file in quotes");
  require(table, "mesh_unit", "the unit of the mesh's coordinates such as \"mm\"");
  raw.mesh = read_text(table, "mesh");
  if (raw.mesh && raw.mesh->value.find_first_not_of(" \t") == std::string::npos) {
    add_error(*table.findings, raw.mesh->line, key_of(table, "mesh"),
              "found " + quoted_text(raw.mesh->value) + ", expected the name of the mesh file");
    raw.mesh.reset();
  }
  if (const auto unit = read_text(table, "mesh_unit")) {
    try {
      raw.mesh_unit = {parse_unit(unit->value, Dimension::length), unit->line, unit->text};
    } catch (const InputError& error) {
      add_error(*table.findings, unit->line, key_of(table, "mesh_unit"), error.what());
    }
  }
}

void read_resin(const TomlTable& table, RawCase& raw) {
  refuse_unknown_keys(table, {"viscosity", "density", "gel_time"});
  require(table, "viscosity", example_of(Dimension::viscosity));
  raw.viscosity = read_quantity(table, "viscosity", Dimension::viscosity);
  raw.density = read_quantity(table, "density", Dimension::density);
  raw.gel_time = read_quantity(table, "gel_time", Dimension::time);
}

void read_injector(const TomlTable& table, RawCase& raw) {
  refuse_unknown_keys(table, {"flow_rate", "pressure_cap"});
  raw.flow_rate = read_quantity(table, "flow_rate", Dimension::flow_rate);
  raw.pressure_cap = read_quantity(table, "pressure_cap", Dimension::pressure);
  if (table.toml != nullptr && !has(table, "flow_rate") && !has(table, "pressure_cap")) {
    add_error(*table.findings, table.line, table.key,
              "found neither flow_rate nor pressure_cap, expected at least one of them");
  }
}

void read_cavity(const TomlTable& table, bool has_vents, RawCase& raw) {
  refuse_unknown_keys(table, {"pressure", "sealed_air"});
  raw.cavity_pressure = read_quantity(table, "pressure", Dimension::pressure);
  raw.sealed_air = read_boolean(table, "sealed_air");
  if (!has_vents && !has(table, "pressure")) {
    add_error(*table.findings, table.line, "cavity.pressure",
              "found no such key and no vent, expected the pressure of the air in the dry cavity "
              "such as \"0 bar\"");
  }
}

void read_regions(const TomlTable& document, RawCase& raw) {
  std::vector<Maybe<std::string>> names;
  for (const TomlTable& table : subtables(document, "region")) {
    raw.regions.push_back(read_region(table));
    names.push_back(raw.regions.back().name);
  }
  refuse_same_names(names, "region", *document.findings);
}

std::vector<RawPort> read_ports(const TomlTable& document, const std::string& kind) {
  std::vector<RawPort> ports;
  std::vector<Maybe<std::string>> names;
  for (const TomlTable& table : subtables(document, kind)) {
    ports.push_back(read_port(table, kind == "vent"));
    names.push_back(ports.back().name);
  }
  refuse_same_names(names, kind, *document.findings);
  return ports;
}

/// Fabrics are laid up in regions; alone they change nothing, and silence would hide that.
void refuse_fabrics(const TomlTable& document) {
  if (!has(document, "fabric")) {
    return;
  }
  add_error(*document.findings, line_of(document, "fabric"), "fabric",
            "found fabric data, expected permeability and porosity in each region: layups of "
            "fabrics belong to a later version");
}

} // namespace

RawCase parse_case(std::string_view text, Findings& findings) {
  const toml::table toml = parse_toml(text, findings);
  const TomlTable document{&toml, "", 1, &findings};
  refuse_unknown_keys(document, {"title", "ambient", "temperature", "part", "region", "fabric",
                                 "resin", "injector", "gate", "vent", "cavity", "run"});
  require(document, "part", "a table [part] with mesh and mesh_unit");
  require(document, "region", "one table [[region]] or more");
  require(document, "resin", "a table [resin] with viscosity");
  require(document, "injector", "a table [injector] with flow_rate, pressure_cap or both");
  require(document, "gate", "one table [[gate]] or more");
  refuse_fabrics(document);
  RawCase raw;
  raw.title = read_title(document);
  raw.ambient = read_quantity(document, "ambient", Dimension::pressure);
  raw.temperature = read_quantity(document, "temperature", Dimension::temperature);
  read_part(subtable(document, "part"), raw);
  read_regions(document, raw);
  read_resin(subtable(document, "resin"), raw);
  read_injector(subtable(document, "injector"), raw);
  raw.gates = read_ports(document, "gate");
  raw.vents = read_ports(document, "vent");
  read_cavity(subtable(document, "cavity"), has(document, "vent"), raw);
  const TomlTable run = subtable(document, "run");
  refuse_unknown_keys(run, {"time_limit"});
  raw.time_limit = read_quantity(run, "time_limit", Dimension::time);
  return raw;
}

} // namespace tidemark
