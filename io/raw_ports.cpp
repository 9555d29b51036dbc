#include "io/raw_ports.hpp"

#include "io/raw_name.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <array>
#include <string_view>

namespace tidemark {

namespace {

const char* const three_numbers = "three numbers in mesh units such as [120, 300, 0]";
const char* const hose_tables =
    "a table such as { length = \"2 m\", bore = \"8 mm\" } or a list of "
    "such tables";
const char* const stage_tables =
    "a list of tables such as [ { from_time = \"60 s\", flow_rate = \"2 L/min\" } ]";

RawHose read_hose(const TomlTable& table) {
  refuse_unknown_keys(table, {"length", "bore"});
  require(table, "length", "a length such as \"2 m\"");
  require(table, "bore", "a length such as \"8 mm\"");
  return {table.key, read_quantity(table, "length", Dimension::length),
          read_quantity(table, "bore", Dimension::length)};
}

std::vector<RawHose> read_line(const TomlTable& table) {
  std::vector<RawHose> hoses;
  for (const TomlTable& hose : inner_tables(table, "line", OneTable::allowed, hose_tables)) {
    hoses.push_back(read_hose(hose));
  }
  return hoses;
}

void require_one_moment(const TomlTable& table) {
  const bool has_time = has(table, "from_time");
  if (has_time == has(table, "from_volume")) {
    add_error(*table.findings, table.line, table.key,
              std::string("found ") + (has_time ? "both from_time and" : "neither from_time nor") +
                  " from_volume, expected one of them");
  }
}

void require_flow_or_cap(const TomlTable& table) {
  if (table.toml != nullptr && !has(table, "flow_rate") && !has(table, "pressure_cap")) {
    add_error(*table.findings, table.line, table.key,
              "found neither flow_rate nor pressure_cap, expected at least one of them");
  }
}

RawStage read_stage(const TomlTable& table) {
  refuse_unknown_keys(table, {"from_time", "from_volume", "flow_rate", "pressure_cap"});
  require_one_moment(table);
  require_flow_or_cap(table);
  return {table.key, read_quantity(table, "from_time", Dimension::time),
          read_quantity(table, "from_volume", Dimension::volume),
          read_quantity(table, "flow_rate", Dimension::flow_rate),
          read_quantity(table, "pressure_cap", Dimension::pressure)};
}

std::vector<RawStage> read_schedule(const TomlTable& table) {
  std::vector<RawStage> stages;
  for (const TomlTable& stage : inner_tables(table, "schedule", OneTable::refused, stage_tables)) {
    stages.push_back(read_stage(stage));
  }
  return stages;
}

/// What [injector] and a gate with a drive of its own have in common.
RawInjector read_drive(const TomlTable& table) {
  RawInjector drive;
  drive.key = table.key;
  drive.line = table.line;
  drive.flow_rate = read_quantity(table, "flow_rate", Dimension::flow_rate);
  drive.pressure_cap = read_quantity(table, "pressure_cap", Dimension::pressure);
  drive.hoses = read_line(table);
  drive.stages = read_schedule(table);
  return drive;
}

void refuse_drive_keys_alone(const TomlTable& table) {
  for (const char* const name : {"line", "schedule"}) {
    if (has(table, name)) {
      add_error(*table.findings, line_of(table, name), key_of(table, name),
                "found it without flow_rate, pressure or pressure_cap, expected a drive of the "
                "gate's own beside it: without one the gate hangs on [injector] and on its line");
    }
  }
}

void refuse_beside_held_pressure(const TomlTable& table) {
  for (const char* const name : {"flow_rate", "pressure_cap"}) {
    if (has(table, "pressure") && has(table, name)) {
      add_error(*table.findings, line_of(table, "pressure"), key_of(table, "pressure"),
                std::string("found it beside ") + name +
                    ", expected either a pressure that is held, or flow_rate and pressure_cap");
    }
  }
}

std::optional<RawInjector> read_own_injector(const TomlTable& table) {
  if (!has(table, "flow_rate") && !has(table, "pressure") && !has(table, "pressure_cap")) {
    refuse_drive_keys_alone(table);
    return std::nullopt;
  }
  refuse_beside_held_pressure(table);
  RawInjector drive = read_drive(table);
  drive.pressure = read_quantity(table, "pressure", Dimension::pressure);
  return drive;
}

RawPort read_port(const TomlTable& table, const char* example) {
  RawPort port;
  port.key = table.key;
  port.line = table.line;
  port.name = read_name(table, example);
  port.at = read_three_numbers(table, "at", three_numbers);
  port.group =
      read_text(table, "group",
                "the name of points, lines or surfaces of the mesh, or at = [120, 300, 0] instead");
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
  return port;
}

/// "V1" of "when V1 is reached".
std::optional<std::string> name_reached(std::string_view text) {
  constexpr std::string_view before = "when ";
  constexpr std::string_view after = " is reached";
  if (text.size() <= before.size() + after.size() || !text.starts_with(before) ||
      !text.ends_with(after)) {
    return std::nullopt;
  }
  text.remove_prefix(before.size());
  text.remove_suffix(after.size());
  return std::string(text);
}

Maybe<std::string> read_event(const TomlTable& table, const std::string& name, bool may_arrive) {
  const std::string expected = std::string(may_arrive ? "\"on arrival\" or " : "") +
                               "\"when NAME is reached\" with the name of a gate or vent";
  const auto text = read_text(table, name, expected);
  if (!text) {
    return std::nullopt;
  }
  if (may_arrive && text->value == "on arrival") {
    return Given<std::string>{"", text->line, text->text};
  }
  if (const auto reached = name_reached(text->value)) {
    return Given<std::string>{*reached, text->line, text->text};
  }
  add_error(*table.findings, text->line, key_of(table, name),
            "found " + quoted_text(text->value) + ", expected " + expected);
  return std::nullopt;
}

/// verb: "opens" or "closes". The front cannot close a gate by arriving at it.
RawMoment read_moment(const TomlTable& table, const std::string& verb) {
  const std::string at = verb + "_at";
  if (has(table, verb) && has(table, at)) {
    add_error(*table.findings, line_of(table, verb), key_of(table, verb),
              "found it beside " + at + ", expected one of the two");
  }
  return {has(table, verb) || has(table, at), read_quantity(table, at, Dimension::time),
          read_event(table, verb, verb == "opens")};
}

RawGate read_gate(const TomlTable& table) {
  refuse_unknown_keys(table,
                      {"name", "at", "group", "radius", "flow_rate", "pressure", "pressure_cap",
                       "line", "schedule", "opens_at", "opens", "closes_at", "closes"});
  RawGate gate;
  gate.port = read_port(table, "G1");
  gate.own_injector = read_own_injector(table);
  gate.opens = read_moment(table, "opens");
  gate.closes = read_moment(table, "closes");
  return gate;
}

Maybe<bool> read_closing(const TomlTable& table) {
  const char* const expected = "\"on arrival\" or \"never\" (after some resin: bleed = \"50 mL\")";
  const auto text = read_text(table, "closes", expected);
  if (!text) {
    return std::nullopt;
  }
  if (text->value != "on arrival" && text->value != "never") {
    add_error(*table.findings, text->line, key_of(table, "closes"),
              "found " + quoted_text(text->value) + ", expected " + expected);
    return std::nullopt;
  }
  return Given<bool>{text->value == "on arrival", text->line, text->text};
}

RawVent read_vent(const TomlTable& table) {
  refuse_unknown_keys(table,
                      {"name", "at", "group", "radius", "pressure", "closes", "bleed", "line"});
  RawVent vent;
  vent.port = read_port(table, "V1");
  const char* const example = "a gauge pressure such as \"-0.5 bar\", or \"0 bar\" for open air";
  require(table, "pressure", example);
  vent.pressure = read_quantity(table, "pressure", Dimension::pressure, example);
  vent.closes = read_closing(table);
  vent.bleed = read_quantity(table, "bleed", Dimension::volume);
  vent.hoses = read_line(table);
  if (has(table, "closes") && has(table, "bleed")) {
    add_error(*table.findings, line_of(table, "bleed"), key_of(table, "bleed"),
              "found it beside closes, expected one of the two");
  }
  return vent;
}

void read_machine(const TomlTable& table, RawInjector& injector) {
  injector.has_mixing = has(table, "mixing");
  if (injector.has_mixing) {
    injector.mixing = read_word(table, {"inline", "batch"}, "mixing");
  }
  injector.mixed_before = read_quantity(table, "mixed_before", Dimension::time);
  injector.stroke_volume = read_quantity(table, "stroke_volume", Dimension::volume);
  injector.max_flow_rate = read_quantity(table, "max_flow_rate", Dimension::flow_rate);
  injector.max_pressure = read_quantity(table, "max_pressure", Dimension::pressure);
  const char* const ratio = "resin pressure over air pressure, a number such as 11";
  if (const auto given = read_numbers(table, "pressure_ratio", 1, ratio)) {
    injector.pressure_ratio = Given<double>{given->value.front(), given->line, given->text};
  }
  injector.air_pressure = read_quantity(table, "air_pressure", Dimension::pressure);
  if (has(table, "pressure_ratio") != has(table, "air_pressure")) {
    const bool has_ratio = has(table, "pressure_ratio");
    const char* const name = has_ratio ? "pressure_ratio" : "air_pressure";
    add_error(*table.findings, line_of(table, name), key_of(table, name),
              std::string("found it without ") + (has_ratio ? "air_pressure" : "pressure_ratio") +
                  ", expected both: an air motor brings pressure_ratio times air_pressure");
  }
}

} // namespace

RawInjector read_injector(const TomlTable& table, bool may_be_idle) {
  refuse_unknown_keys(table, {"flow_rate", "pressure_cap", "line", "schedule", "mixing",
                              "mixed_before", "stroke_volume", "max_flow_rate", "max_pressure",
                              "pressure_ratio", "air_pressure"});
  const bool tells_of_machine = std::ranges::any_of(
      std::array{"mixing", "stroke_volume", "max_flow_rate", "max_pressure", "pressure_ratio"},
      [&](const char* name) { return has(table, name); });
  if (!may_be_idle || !tells_of_machine) {
    require_flow_or_cap(table);
  }
  RawInjector injector = read_drive(table);
  read_machine(table, injector);
  return injector;
}

std::vector<RawGate> read_gates(const TomlTable& document) {
  std::vector<RawGate> gates;
  std::vector<Maybe<std::string>> names;
  for (const TomlTable& table : subtables(document, "gate")) {
    gates.push_back(read_gate(table));
    names.push_back(gates.back().port.name);
  }
  refuse_same_names(names, "gate", *document.findings);
  return gates;
}

std::vector<RawVent> read_vents(const TomlTable& document) {
  std::vector<RawVent> vents;
  std::vector<Maybe<std::string>> names;
  for (const TomlTable& table : subtables(document, "vent")) {
    vents.push_back(read_vent(table));
    names.push_back(vents.back().port.name);
  }
  refuse_same_names(names, "vent", *document.findings);
  return vents;
}

} // namespace tidemark
