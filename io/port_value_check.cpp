#include "io/port_value_check.hpp"

#include "io/raw_lookup.hpp"
#include "io/shop_units.hpp"
#include "io/value_range.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {

constexpr Limits flow_rate_limits{
    1e-15,
    100,
    1e-8,
    5e-3,
    "a flow rate above 0 (from 1e-15 m3/s to 100 m3/s)",
    "0.6 mL/min to 300 L/min are usual; is the unit right (L/min, cm3/s)?"};
constexpr Limits radius_limits{1e-7, 100, 1e-7, 100, "a radius above 0 (from 1e-7 m to 100 m)", ""};
constexpr Limits hose_length_limits{1e-4,
                                    1e4,
                                    0.01,
                                    100,
                                    "a length above 0 (from 1e-4 m to 1e4 m)",
                                    "1 cm to 100 m are usual; is the unit right (mm, cm, m)?"};
constexpr Limits hose_bore_limits{1e-5,
                                  10,
                                  1e-3,
                                  0.1,
                                  "a bore above 0 (from 1e-5 m to 10 m)",
                                  "1 mm to 100 mm are usual; is the unit right (mm, cm, m)?"};
constexpr double week = 7 * 86400.0;
constexpr Limits opening_limits{0,
                                1e9,
                                0,
                                week,
                                "a time of 0 or later (up to 1e9 s)",
                                "up to 7 days are usual; is the unit "
                                "right (s, min, h)?"};
constexpr Limits moment_limits{1e-6,
                               1e9,
                               1e-6,
                               week,
                               "a time above 0 (from 1e-6 s to 1e9 s)",
                               "up to 7 days are usual; is the "
                               "unit right (s, min, h)?"};
constexpr Limits volume_limits{1e-12,
                               1e3,
                               1e-7,
                               10,
                               "a volume above 0 (from 1e-12 m3 to 1000 m3)",
                               "0.1 mL to 10 m3 are usual; is the unit right (mL, L)?"};

constexpr Limits ratio_limits{
    1e-3, 1e4, 0.5, 100, "a number above 0 (from 0.001 to 1e4)", "0.5 to 100 are usual"};

// --- injectors ---------------------------------------------------------------------------------

void check_hoses(const std::vector<RawHose>& hoses, Findings& findings) {
  for (const RawHose& hose : hoses) {
    check_range(hose.length, hose.key + ".length", hose_length_limits, findings);
    check_range(hose.bore, hose.key + ".bore", hose_bore_limits, findings);
  }
}

/// The air the resin runs against at the start; none if it is not given.
Maybe<double> dry_cavity_pressure(const RawCase& raw) {
  return raw.vents.empty() ? raw.cavity_pressure : lowest_vent_pressure(raw);
}

/// A limit the resin runs against: not below vacuum; without effect below the dry cavity's.
void check_cap(const RawCase& raw, const Maybe<double>& cap, const std::string& key,
               Findings& findings) {
  check_pressure(raw, cap, key, findings);
  const Maybe<double> front = dry_cavity_pressure(raw);
  const bool may_fall = raw.gravity.has_value(); // by its weight alone
  if (cap && front && (cap->value < front->value || (cap->value <= front->value && !may_fall))) {
    add_warning(findings, cap->line, key,
                "found " + quoted_text(cap->text) +
                    ", which is not above the pressure of "
                    "the dry cavity (" +
                    quoted_text(front->text) + "): no resin will flow");
  }
}

/// Each moment after the one before it of the same kind.
void check_order(const RawInjector& drive, Maybe<double> RawStage::*moment, const char* name,
                 Findings& findings) {
  const RawStage* last = nullptr;
  for (const RawStage& stage : drive.stages) {
    const Maybe<double>& given = stage.*moment;
    if (!given) {
      continue;
    }
    if (last != nullptr && !(given->value > (last->*moment)->value)) {
      add_error(findings, given->line, stage.key + "." + name,
                "found " + quoted_text(given->text) + ", expected more than " +
                    quoted_text((last->*moment)->text) + " of " + last->key);
    }
    last = &stage;
  }
}

void check_drive(const RawCase& raw, const RawInjector& drive, Findings& findings) {
  check_range(drive.flow_rate, drive.key + ".flow_rate", flow_rate_limits, findings);
  check_cap(raw, drive.pressure, drive.key + ".pressure", findings);
  check_cap(raw, drive.pressure_cap, drive.key + ".pressure_cap", findings);
  check_hoses(drive.hoses, findings);
  for (const RawStage& stage : drive.stages) {
    check_range(stage.from_time, stage.key + ".from_time", moment_limits, findings);
    check_range(stage.from_volume, stage.key + ".from_volume", volume_limits, findings);
    check_range(stage.flow_rate, stage.key + ".flow_rate", flow_rate_limits, findings);
    check_cap(raw, stage.pressure_cap, stage.key + ".pressure_cap", findings);
  }
  check_order(drive, &RawStage::from_time, "from_time", findings);
  check_order(drive, &RawStage::from_volume, "from_volume", findings);
}

/// A pressure a machine can bring: above that of the atmosphere.
void check_machine_pressure(const RawCase& raw, const Maybe<double>& given, const std::string& key,
                            Findings& findings) {
  if (given && !(given->value > 0)) {
    add_error(findings, given->line, key,
              "found " + quoted_text(given->text) + ", expected a gauge pressure above 0");
  } else {
    check_pressure(raw, given, key, findings);
  }
}

/// A set point beyond what the machine can do, in the first settings or in a stage.
void warn_beyond(const RawInjector& injector, Maybe<double> RawInjector::*set,
                 Maybe<double> RawStage::*staged, const char* name, double most,
                 const std::string& limit, Findings& findings) {
  const auto warn = [&](const Maybe<double>& given, const std::string& key) {
    if (given && given->value > most * (1 + 1e-9)) {
      add_warning(findings, given->line, key + "." + name,
                  "found " + quoted_text(given->text) + ", which is more than " + limit);
    }
  };
  warn(injector.*set, injector.key);
  for (const RawStage& stage : injector.stages) {
    warn(stage.*staged, stage.key);
  }
}

void warn_beyond_machine(const RawInjector& injector, Findings& findings) {
  if (injector.max_flow_rate) {
    warn_beyond(injector, &RawInjector::flow_rate, &RawStage::flow_rate, "flow_rate",
                injector.max_flow_rate->value,
                "the " + quoted_text(injector.max_flow_rate->text) +
                    " of injector.max_flow_rate: the pump cannot give it",
                findings);
  }
  if (injector.max_pressure) {
    warn_beyond(injector, &RawInjector::pressure_cap, &RawStage::pressure_cap, "pressure_cap",
                injector.max_pressure->value,
                "the " + quoted_text(injector.max_pressure->text) +
                    " of injector.max_pressure: the cap does not protect the machine",
                findings);
  }
  if (injector.pressure_ratio && injector.air_pressure) {
    const double most = injector.pressure_ratio->value * injector.air_pressure->value;
    warn_beyond(injector, &RawInjector::pressure_cap, &RawStage::pressure_cap, "pressure_cap", most,
                "the " + as_bar(most) +
                    " that pressure_ratio times air_pressure gives: the pump "
                    "stalls before it reaches the cap",
                findings);
  }
}

void check_machine(const RawCase& raw, const RawInjector& injector, Findings& findings) {
  check_range(injector.stroke_volume, "injector.stroke_volume", volume_limits, findings);
  check_range(injector.max_flow_rate, "injector.max_flow_rate", flow_rate_limits, findings);
  check_machine_pressure(raw, injector.max_pressure, "injector.max_pressure", findings);
  check_machine_pressure(raw, injector.air_pressure, "injector.air_pressure", findings);
  if (injector.pressure_ratio) {
    check_number(injector.pressure_ratio->value, injector.pressure_ratio->line,
                 "injector.pressure_ratio", injector.pressure_ratio->text, ratio_limits, findings);
  }
  warn_beyond_machine(injector, findings);
}

void check_common_injector(const RawCase& raw, Findings& findings) {
  if (!raw.injector) {
    return;
  }
  check_drive(raw, *raw.injector, findings);
  check_machine(raw, *raw.injector, findings);
  const bool drives = raw.injector->flow_rate || raw.injector->pressure_cap;
  const bool is_used = std::ranges::any_of(
      raw.gates, [](const RawGate& gate) { return !gate.own_injector.has_value(); });
  if (!is_used && drives && !raw.gates.empty()) {
    add_warning(findings, raw.injector->line, "injector",
                "found an injector that no gate hangs on, which is not used: every gate has a "
                "drive of its own");
  }
}

// --- when gates open and close -----------------------------------------------------------------

std::vector<std::string> port_names(const RawCase& raw, const RawGate* without) {
  std::vector<std::string> names;
  for (const RawGate& gate : raw.gates) {
    if (gate.port.name && &gate != without) {
      names.push_back(gate.port.name->value);
    }
  }
  for (const RawVent& vent : raw.vents) {
    if (vent.port.name) {
      names.push_back(vent.port.name->value);
    }
  }
  return names;
}

bool all_are_named(const RawCase& raw) {
  return port_names(raw, nullptr).size() == raw.gates.size() + raw.vents.size();
}

/// One name, one gate or vent: it is what others wait for, and what the worker reads.
void refuse_name_of_gate(const RawCase& raw, const RawVent& vent, Findings& findings) {
  if (!vent.port.name) {
    return;
  }
  const auto has_it = [&](const RawGate& gate) {
    return gate.port.name && gate.port.name->value == vent.port.name->value;
  };
  if (std::ranges::any_of(raw.gates, has_it)) {
    add_error(findings, vent.port.name->line, vent.port.key + ".name",
              "found " + quoted_text(vent.port.name->text) +
                  ", which a gate has too, expected a name of its own");
  }
}

/// The gate or vent that is waited for is known, unless it may be one still without a name.
void check_reached(const RawCase& raw, const RawGate& gate, const RawMoment& moment,
                   const std::string& key, Findings& findings) {
  if (!moment.reached || moment.reached->value.empty()) {
    return;
  }
  const Given<std::string>& name = *moment.reached;
  if (ports_named(raw, name.value).empty() && all_are_named(raw)) {
    add_error(findings, name.line, key,
              "found " + quoted_text(name.text) + ", expected the name of a gate or vent: " +
                  list_with_nearest(name.value, port_names(raw, &gate)));
  }
}

/// A gate is reached before it lets resin in, or by its own resin: it would never be open.
void refuse_closing_by_itself(const RawGate& gate, Findings& findings) {
  const Maybe<std::string>& closes = gate.closes.reached;
  const Maybe<std::string>& opens = gate.opens.reached;
  if (closes && gate.port.name && closes->value == gate.port.name->value) {
    add_error(findings, closes->line, gate.port.key + ".closes",
              "found " + quoted_text(closes->text) +
                  ", expected another gate or a vent: a gate cannot close when it is itself "
                  "reached");
  } else if (closes && opens && closes->value == opens->value) {
    add_error(findings, closes->line, gate.port.key + ".closes",
              "found " + quoted_text(closes->text) +
                  " for both opens and closes, expected that it closes later than it opens");
  }
}

void check_gate_times(const RawGate& gate, Findings& findings) {
  check_range(gate.opens.time, gate.port.key + ".opens_at", opening_limits, findings);
  check_range(gate.closes.time, gate.port.key + ".closes_at", moment_limits, findings);
  if (gate.opens.time && gate.closes.time && gate.closes.time->value <= gate.opens.time->value) {
    add_error(findings, gate.closes.time->line, gate.port.key + ".closes_at",
              "found " + quoted_text(gate.closes.time->text) +
                  ", expected a time after opens_at (" + quoted_text(gate.opens.time->text) + ")");
  }
}

/// Without resin from any gate the front reaches nothing, and nothing that waits for it opens.
void check_some_gate_opens(const RawCase& raw, Findings& findings) {
  const bool all_wait = std::ranges::all_of(
      raw.gates, [](const RawGate& gate) { return gate.opens.reached.has_value(); });
  if (all_wait && !raw.gates.empty()) {
    add_error(findings, raw.gates.front().opens.reached->line,
              raw.gates.front().port.key + ".opens",
              "found no gate that opens without waiting for the front, expected one at least that "
              "is open from the start or opens at a time");
  }
}

void check_gate(const RawCase& raw, const RawGate& gate, Findings& findings) {
  check_range(gate.port.radius, gate.port.key + ".radius", radius_limits, findings);
  if (gate.port.at && !gate.port.radius) {
    add_warning(findings, gate.port.line, gate.port.key,
                "found a gate at one node: its pressure and time depend on the mesh; give the "
                "radius of the port");
  }
  if (gate.own_injector) {
    check_drive(raw, *gate.own_injector, findings);
  }
  check_gate_times(gate, findings);
  check_reached(raw, gate, gate.opens, gate.port.key + ".opens", findings);
  check_reached(raw, gate, gate.closes, gate.port.key + ".closes", findings);
  refuse_closing_by_itself(gate, findings);
}

// --- vents and air -----------------------------------------------------------------------------

/// An absolute pressure typed where a gauge pressure belongs.
void warn_of_pressed_vent(const RawCase& raw, const RawVent& vent, Findings& findings) {
  if (!vent.pressure || !(vent.pressure->value > 1e-6 * ambient_of(raw))) {
    return;
  }
  const double gauge = vent.pressure->value - ambient_of(raw);
  add_warning(findings, vent.pressure->line, vent.port.key + ".pressure",
              "found " + quoted_text(vent.pressure->text) +
                  ", above that of the outer air: pressures are gauge, and a vent is commonly at "
                  "\"0 bar\" or under vacuum" +
                  (gauge < 0 ? "; meant as an absolute pressure it is " + as_bar(gauge) : ""));
}

void check_vent(const RawCase& raw, const RawVent& vent, Findings& findings) {
  check_range(vent.port.radius, vent.port.key + ".radius", radius_limits, findings);
  check_pressure(raw, vent.pressure, vent.port.key + ".pressure", findings);
  warn_of_pressed_vent(raw, vent, findings);
  check_range(vent.bleed, vent.port.key + ".bleed", volume_limits, findings);
  check_hoses(vent.hoses, findings);
  const bool lets_resin_out = vent.bleed || (vent.closes && !vent.closes->value);
  if (!vent.hoses.empty() && !lets_resin_out) {
    add_warning(findings, vent.port.line, vent.port.key + ".line",
                "found a line that changes nothing: the vent closes when resin arrives, and air "
                "passes a line without loss");
  }
}

bool differ(const RawCase& raw, const Given<double>& a, const Given<double>& b) {
  return std::abs(a.value - b.value) > 1e-9 * ambient_of(raw);
}

/// One warning, however many differ.
void compare_vents(const RawCase& raw, Findings& findings) {
  const auto first = std::ranges::find_if(
      raw.vents, [](const RawVent& vent) { return vent.pressure.has_value(); });
  const auto other = std::ranges::find_if(raw.vents, [&](const RawVent& vent) {
    return vent.pressure && differ(raw, *vent.pressure, *first->pressure);
  });
  if (other != raw.vents.end()) {
    add_warning(findings, other->pressure->line, other->port.key + ".pressure",
                "found " + quoted_text(other->pressure->text) + ", where " + first->port.key +
                    " has " + quoted_text(first->pressure->text) +
                    ": the air in each dry place takes the lowest of the vents still open there");
  }
}

void compare_with_cavity(const RawCase& raw, Findings& findings) {
  const Maybe<double> vent = lowest_vent_pressure(raw);
  if (vent && raw.cavity_pressure && differ(raw, *raw.cavity_pressure, *vent)) {
    add_warning(findings, raw.cavity_pressure->line, "cavity.pressure",
                "found " + quoted_text(raw.cavity_pressure->text) +
                    ", which is not used where a vent is open: the vents hold the dry cavity at " +
                    quoted_text(vent->text));
  }
}

void warn_of_no_vent(const RawCase& raw, Findings& findings) {
  const bool is_sealed = !raw.sealed_air || raw.sealed_air->value;
  if (raw.vents.empty() && is_sealed && !raw.gates.empty()) {
    const int line = raw.sealed_air        ? raw.sealed_air->line
                     : raw.cavity_pressure ? raw.cavity_pressure->line
                                           : 1;
    add_warning(findings, line, "cavity.sealed_air",
                "found no vent, so that the air is shut in from the start and resists the resin; "
                "sealed_air = false keeps every dry place vented");
  }
}

} // namespace

void check_port_values(const RawCase& raw, Findings& findings) {
  check_common_injector(raw, findings);
  for (const RawGate& gate : raw.gates) {
    check_gate(raw, gate, findings);
  }
  check_some_gate_opens(raw, findings);
  for (const RawVent& vent : raw.vents) {
    check_vent(raw, vent, findings);
    refuse_name_of_gate(raw, vent, findings);
  }
  compare_vents(raw, findings);
  compare_with_cavity(raw, findings);
  warn_of_no_vent(raw, findings);
}

} // namespace tidemark
