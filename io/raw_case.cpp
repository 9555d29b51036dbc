#include "io/raw_case.hpp"

#include "io/case_syntax.hpp"
#include "io/fabric_value_check.hpp"
#include "io/raw_name.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <algorithm>

namespace tidemark {

namespace {

Maybe<std::string> read_one_line(const TomlTable& document, const char* name, std::size_t longest,
                                 const char* expected) {
  auto text = read_text(document, name, expected);
  const bool has_controls = text && has_control_characters(text->value);
  if (text && (text->value.empty() || text->value.size() > longest || has_controls)) {
    add_error(*document.findings, text->line, name,
              "found " + quoted_text(text->value) + ", expected " + expected +
                  (has_controls
                       ? " without control characters (a backslash is written \\\\: \\t is "
                         "a tab, \\n a new line)"
                       : ""));
    text.reset();
  }
  return text;
}

DirectPermeability read_direct(const TomlTable& table) {
  require(table, "permeability", "a permeability such as \"3e-9 m2\", or K1 and K2 in a list");
  require(table, "porosity", "a number above 0 and at most 1");
  return {read_quantities(table, "permeability", Dimension::permeability, 2),
          read_fraction(table, "porosity")};
}

/// What belongs to the other way of describing a reinforcement.
void refuse_beside(const TomlTable& table, const char* name, const std::string& expected) {
  if (has(table, name)) {
    add_error(*table.findings, line_of(table, name), key_of(table, name), "found it " + expected);
  }
}

/// With a layup the thickness or the fibre volume fraction is given, and the other follows.
void require_one_size(const TomlTable& table) {
  if (has(table, "thickness") && has(table, "fibre_volume_fraction")) {
    add_error(*table.findings, line_of(table, "fibre_volume_fraction"),
              key_of(table, "fibre_volume_fraction"),
              "found it beside thickness, expected one of the two: the other follows");
  } else if (!has(table, "fibre_volume_fraction")) {
    require(table, "thickness",
            example_of(Dimension::length) + ", or a fibre_volume_fraction such as 0.5");
  }
}

std::variant<DirectPermeability, RawLayup> read_reinforcement(const TomlTable& table) {
  if (has(table, "layup")) {
    for (const char* const name : {"permeability", "porosity"}) {
      refuse_beside(table, name, "beside a layup, expected one of the two");
    }
    require_one_size(table);
    return read_layup(table);
  }
  refuse_beside(table, "fibre_volume_fraction",
                "without a layup, expected porosity (1 - fibre volume fraction) beside "
                "permeability");
  require(table, "thickness", example_of(Dimension::length));
  return read_direct(table);
}

Maybe<std::vector<Vector3>> read_box(const TomlTable& table) {
  const char* const expected = "two opposite corners such as [[0, 0, 0], [800, 300, 50]]";
  auto box = read_points(table, "box", expected);
  if (box && box->value.size() != 2) {
    add_error(*table.findings, box->line, key_of(table, "box"),
              "found a list of " + std::to_string(box->value.size()) + ", expected " + expected);
    box.reset();
  }
  return box;
}

std::optional<RawSphere> read_sphere(const TomlTable& region) {
  const TomlTable table =
      subtable(region, "sphere", "a table such as { centre = [0, 0, 0], radius = \"120 mm\" }");
  if (table.toml == nullptr) {
    return std::nullopt;
  }
  refuse_unknown_keys(table, {"centre", "radius"});
  require(table, "centre", "three numbers in mesh units such as [0, 0, 0]");
  require(table, "radius", example_of(Dimension::length));
  return RawSphere{table.key, table.line,
                   read_three_numbers(table, "centre", "three numbers such as [0, 0, 0]"),
                   read_quantity(table, "radius", Dimension::length)};
}

/// Which elements belong to the region.
void read_place(const TomlTable& table, RawRegion& region) {
  region.takes_rest = !has(table, "groups") && !has(table, "box") && !has(table, "sphere");
  region.groups = read_texts(table, "groups",
                             "a list of names such as [\"skin\"], or no groups at all for what "
                             "no other region takes");
  region.box = read_box(table);
  region.sphere = read_sphere(table);
  region.is_place_read = region.groups.has_value() == has(table, "groups") &&
                         region.box.has_value() == has(table, "box") &&
                         region.sphere.has_value() == has(table, "sphere") &&
                         (!region.sphere || (region.sphere->centre && region.sphere->radius));
}

/// What only a layup can have, and what goes with what.
void check_field_company(const TomlTable& table) {
  for (const char* const name : {"drape", "shear"}) {
    if (!has(table, "layup")) {
      refuse_beside(table, name, "without a layup, expected one of woven fabrics, which shear");
    }
  }
  if (has(table, "drape")) {
    refuse_beside(table, "direction",
                  "beside drape, expected only that of the drape, where the warp points");
    refuse_beside(table, "shear", "beside drape, expected one of the two");
    if (is_array_given(table, "angle")) {
      refuse_beside(table, "angle", "as an array beside drape, expected one angle");
    }
  } else if (has(table, "shear")) {
    require(table, "direction",
            "where the warp points such as [1, 0, 0], since sheared cloth has "
            "a direction");
  }
}

void read_fields(const TomlTable& table, RawRegion& region) {
  RawFields& fields = region.fields;
  fields.thickness = read_array(table, "thickness", Dimension::length);
  fields.fibre_volume_fraction = read_array(table, "fibre_volume_fraction", Dimension::fraction);
  fields.direction = read_array(table, "direction", std::nullopt);
  fields.angle = read_array(table, "angle", Dimension::angle);
  if (has(table, "shear") && !is_array_given(table, "shear")) {
    subtable(table, "shear", "a table such as { array = \"shear\", unit = \"deg\" }");
  }
  fields.shear = read_array(table, "shear", Dimension::angle);
  region.drape = read_drape(table);
  check_field_company(table);
}

/// One value for the whole region; none where an array is given.
Maybe<double> read_one_value(const TomlTable& table, const char* name, Dimension dimension) {
  return is_array_given(table, name) ? std::nullopt : read_quantity(table, name, dimension);
}

RawRegion read_region(const TomlTable& table) {
  refuse_unknown_keys(table,
                      {"name", "groups", "box", "sphere", "thickness", "permeability", "porosity",
                       "layup", "fibre_volume_fraction", "direction", "angle", "shear", "drape"});
  RawRegion region;
  region.key = table.key;
  region.line = table.line;
  region.name = read_name(table, "skin");
  read_place(table, region);
  read_fields(table, region);
  region.thickness = read_one_value(table, "thickness", Dimension::length);
  region.reinforcement = read_reinforcement(table);
  region.has_direction = has(table, "direction");
  if (!region.fields.direction) {
    region.direction = read_three_numbers(table, "direction", "three numbers such as [1, 0, 0]");
  }
  region.angle = read_one_value(table, "angle", Dimension::angle);
  return region;
}

Maybe<std::string> read_file_name(const TomlTable& table, const char* name, const char* expected) {
  auto file = read_text(table, name, expected);
  if (file && file->value.find_first_not_of(" \t") == std::string::npos) {
    add_error(*table.findings, file->line, key_of(table, name),
              "found " + quoted_text(file->value) + ", expected " + expected);
    file.reset();
  }
  return file;
}

void read_part(const TomlTable& table, RawCase& raw) {
  refuse_unknown_keys(table, {"mesh", "mesh_unit"});
  require(table, "mesh", "the name of the mesh file in quotes");
  const char* const unit_example = "the unit of the mesh's coordinates such as \"mm\"";
  require(table, "mesh_unit", unit_example);
  raw.mesh = read_file_name(table, "mesh", "the name of the mesh file");
  if (const auto unit = read_text(table, "mesh_unit", unit_example)) {
    try {
      raw.mesh_unit = {parse_unit(unit->value, Dimension::length), unit->line, unit->text};
    } catch (const InputError& error) {
      add_error(*table.findings, unit->line, key_of(table, "mesh_unit"), error.what());
    }
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

/// The one injector of all gates without a drive of their own; not needed if there is none.
std::optional<RawInjector> read_common_injector(const TomlTable& document,
                                                const std::vector<RawGate>& gates) {
  const bool all_have_their_own =
      !gates.empty() &&
      std::ranges::all_of(gates, [](const RawGate& gate) { return gate.own_injector.has_value(); });
  if (!all_have_their_own) {
    require(document, "injector", "a table [injector] with flow_rate, pressure_cap or both");
  }
  return has(document, "injector")
             ? std::optional(read_injector(subtable(document, "injector"), all_have_their_own))
             : std::nullopt;
}

std::optional<RawGravity> read_gravity(const TomlTable& document) {
  const TomlTable table = subtable(document, "gravity");
  if (table.toml == nullptr) {
    return std::nullopt;
  }
  refuse_unknown_keys(table, {"direction", "acceleration"});
  const char* const example = "where things fall, three numbers such as [0, 0, -1]";
  require(table, "direction", example);
  return RawGravity{table.line, read_three_numbers(table, "direction", example),
                    read_quantity(table, "acceleration", Dimension::acceleration)};
}

std::optional<RawMould> read_mould(const TomlTable& document) {
  const TomlTable table = subtable(document, "mould");
  if (table.toml == nullptr) {
    return std::nullopt;
  }
  refuse_unknown_keys(table,
                      {"closing_direction", "flange_pressure", "flange_area", "clamp_force"});
  const char* const example = "along what the halves part, three numbers such as [0, 0, 1]";
  require(table, "closing_direction", example);
  if (has(table, "flange_pressure")) {
    require(table, "flange_area", "an area such as \"0.25 m2\" beside flange_pressure");
  }
  if (has(table, "flange_area")) {
    require(table, "flange_pressure", "a gauge pressure such as \"-0.9 bar\" beside flange_area");
  }
  return RawMould{table.line, read_three_numbers(table, "closing_direction", example),
                  read_quantity(table, "flange_pressure", Dimension::pressure),
                  read_quantity(table, "flange_area", Dimension::area),
                  read_quantity(table, "clamp_force", Dimension::force)};
}

} // namespace

RawCase parse_case(std::string_view text, Findings& findings) {
  return read_document(parse_toml(text, findings), findings);
}

RawCase read_document(const toml::table& toml, Findings& findings) {
  const TomlTable document{&toml, "", 1, &findings};
  refuse_unknown_keys(document, {"title",   "currency", "ambient", "temperature", "part",
                                 "region",  "fabric",   "fabrics", "resin",       "injector",
                                 "gate",    "vent",     "runner",  "race_track",  "cavity",
                                 "gravity", "mould",    "heat",    "scatter",     "run"});
  require(document, "part", "a table [part] with mesh and mesh_unit");
  require(document, "region", "one table [[region]] or more");
  require(document, "resin", "a table [resin] with viscosity");
  RawCase raw;
  raw.title = read_one_line(document, "title", std::string::npos, "one line of text");
  raw.currency = read_one_line(document, "currency", 20,
                               "a short text such as \"EUR\", of at most 20 letters");
  raw.ambient = read_quantity(document, "ambient", Dimension::pressure);
  raw.temperature = read_quantity(document, "temperature", Dimension::temperature);
  raw.has_temperature = has(document, "temperature");
  read_part(subtable(document, "part"), raw);
  raw.fabrics_file = read_file_name(document, "fabrics", "the name of the file of fabrics");
  raw.fabrics = checked_fabrics(document);
  read_regions(document, raw);
  raw.resin = read_resin(subtable(document, "resin"));
  raw.gates = read_gates(document);
  raw.injector = read_common_injector(document, raw.gates);
  require(document, "gate", "one table [[gate]] or more");
  raw.vents = read_vents(document);
  raw.runners = read_runners(document);
  raw.race_tracks = read_race_tracks(document);
  read_cavity(subtable(document, "cavity"), has(document, "vent"), raw);
  raw.gravity = read_gravity(document);
  raw.mould = read_mould(document);
  raw.heat = read_heat(document);
  raw.scatter = read_scatter(document);
  const TomlTable run = subtable(document, "run");
  refuse_unknown_keys(run, {"time_limit"});
  raw.time_limit = read_quantity(run, "time_limit", Dimension::time);
  return raw;
}

} // namespace tidemark
