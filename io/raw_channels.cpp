#include "io/raw_channels.hpp"

#include "io/raw_name.hpp"
#include "io/wording.hpp"

namespace tidemark {

namespace {

const char* const path_example =
    "two points or more in mesh units such as [[0, 0, 0], [800, 0, 0]]";

const char* const lines_example = "the name of lines of the mesh such as \"rim\"";

void require_runner_place(const TomlTable& table) {
  if (has(table, "group") == has(table, "path")) {
    add_error(*table.findings, table.line, table.key,
              std::string("found ") + (has(table, "group") ? "both group and path" : "no place") +
                  ", expected either group = \"name\" or path = [[0, 0, 0], [800, 0, 0]]");
  }
}

/// Exactly: width and depth, or bore.
void require_section(const TomlTable& table) {
  const bool has_width = has(table, "width");
  const bool has_depth = has(table, "depth");
  if (has(table, "bore") && (has_width || has_depth)) {
    add_error(*table.findings, line_of(table, "bore"), key_of(table, "bore"),
              std::string("found it beside ") + (has_width ? "width" : "depth") +
                  ", expected either bore, or width and depth");
  } else if (!has(table, "bore") && !has_width && !has_depth) {
    add_error(*table.findings, table.line, table.key,
              "found no cross-section, expected width and depth, or bore");
  } else if (has_width != has_depth) {
    require(table, has_width ? "depth" : "width", "a length such as \"10 mm\" for the other side");
  }
}

RawRunner read_runner(const TomlTable& table) {
  refuse_unknown_keys(table, {"name", "group", "path", "width", "depth", "bore"});
  require_runner_place(table);
  require_section(table);
  RawRunner runner;
  runner.key = table.key;
  runner.line = table.line;
  runner.name = read_name(table, "R1");
  runner.group = read_text(table, "group", lines_example);
  runner.path = read_points(table, "path", path_example);
  runner.width = read_quantity(table, "width", Dimension::length);
  runner.depth = read_quantity(table, "depth", Dimension::length);
  runner.bore = read_quantity(table, "bore", Dimension::length);
  return runner;
}

void require_track_place(const TomlTable& table) {
  std::string found;
  int places = 0;
  for (const char* const name : {"group", "path", "along", "between"}) {
    if (has(table, name)) {
      found += (places++ > 0 ? " and " : "") + std::string(name);
    }
  }
  if (places != 1) {
    add_error(*table.findings, table.line, table.key,
              "found " + (places == 0 ? "no place" : found) +
                  ", expected one of group = \"name\", path = [[0, 0, 0], [800, 0, 0]], "
                  "along = \"free edges\" and between = [\"skin\", \"core\"]");
  }
}

Maybe<std::string> read_along(const TomlTable& table) {
  auto along = read_text(table, "along", "\"free edges\"");
  if (along && along->value != "free edges") {
    add_error(*table.findings, along->line, key_of(table, "along"),
              "found " + quoted_text(along->value) + ", expected \"free edges\"");
    along.reset();
  }
  return along;
}

Maybe<std::vector<std::string>> read_between(const TomlTable& table) {
  const char* const example = "the names of two regions such as [\"skin\", \"core\"]";
  auto between = read_texts(table, "between", example);
  if (between && (between->value.size() != 2 || between->value[0] == between->value[1])) {
    add_error(*table.findings, between->line, key_of(table, "between"),
              "found " + between->text + ", expected " + example);
    between.reset();
  }
  return between;
}

RawRaceTrack read_race_track(const TomlTable& table) {
  refuse_unknown_keys(table, {"name", "group", "path", "along", "between", "gap", "permeability"});
  require_track_place(table);
  RawRaceTrack track;
  track.key = table.key;
  track.line = table.line;
  track.name = read_name(table, "T1");
  track.group = read_text(table, "group", lines_example);
  track.path = read_points(table, "path", path_example);
  track.along = read_along(table);
  track.between = read_between(table);
  require(table, "gap", "a length such as \"2 mm\"");
  track.gap = read_quantity(table, "gap", Dimension::length);
  track.permeability = read_quantity(table, "permeability", Dimension::permeability);
  return track;
}

} // namespace

std::vector<RawRunner> read_runners(const TomlTable& document) {
  std::vector<RawRunner> runners;
  std::vector<Maybe<std::string>> names;
  for (const TomlTable& table : subtables(document, "runner")) {
    runners.push_back(read_runner(table));
    names.push_back(runners.back().name);
  }
  refuse_same_names(names, "runner", *document.findings);
  return runners;
}

std::vector<RawRaceTrack> read_race_tracks(const TomlTable& document) {
  std::vector<RawRaceTrack> tracks;
  std::vector<Maybe<std::string>> names;
  for (const TomlTable& table : subtables(document, "race_track")) {
    tracks.push_back(read_race_track(table));
    names.push_back(tracks.back().name);
  }
  refuse_same_names(names, "race_track", *document.findings);
  return tracks;
}

} // namespace tidemark
