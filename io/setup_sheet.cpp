#include "io/setup_sheet.hpp"

#include "io/filling_course.hpp"
#include "io/gel_text.hpp"
#include "io/resin_use.hpp"
#include "io/sheet_cautions.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <limits>

namespace tidemark {

namespace {

// What a page holds.
constexpr std::size_t most_events = 14;
constexpr std::size_t most_places = 2;
constexpr std::size_t most_pumps = 3;
constexpr std::size_t longest_name = 32;
constexpr std::size_t longest_title = 80;
constexpr std::size_t longest_list = 120;
constexpr std::size_t most_warnings = 4;
constexpr std::size_t longest_warning = 250;

constexpr std::array<double, 5> fractions{0, 0.25, 0.5, 0.75, 1};

/// A case, its filling, and the same with less and more permeability.
struct Shot {
  const Case& input;
  const FillResult& result;
  const PermeabilityBand& band;
  [[nodiscard]] const FillProblem& problem() const { return input.problem; }
};

std::string name_of(const std::string& name) {
  return shortened(name, longest_name);
}

/// The fillings of the band that fill the part, and the one as expected.
std::vector<const FillResult*> full_results(const Shot& shot) {
  std::vector<const FillResult*> results{&shot.result};
  for (const auto* other : {&shot.band.tighter, &shot.band.more_open}) {
    if (*other && (*other)->verdict == Verdict::filled) {
      results.push_back(&**other);
    }
  }
  return results;
}

/// Lowest to highest of a number over these fillings; a filling without it does not count.
template <class Number, class Text>
std::string band_of(const std::vector<const FillResult*>& results, Number number, Text text) {
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for (const FillResult* result : results) {
    if (const std::optional<double> value = number(*result)) {
      low = std::min(low, *value);
      high = std::max(high, *value);
    }
  }
  return low <= high ? range_text(text(low), text(high)) : "";
}

std::string in_brackets(const std::string& band) {
  return band.empty() ? "" : " (" + band + ")";
}

/// What the list of inputs says of a key; none if it was not given.
std::optional<std::string> given_text(const Case& input, const std::string& key) {
  for (const UsedValue& value : input.values) {
    if (value.key == key && value.given) {
      return value.value.substr(0, value.value.find(" ("));
    }
  }
  return std::nullopt;
}

bool has_common_pump(const FillProblem& problem) {
  return std::ranges::any_of(problem.gates, [](const Gate& gate) { return !gate.own_injector; });
}

/// The cap of the common pump if it is one and the same from start to end.
std::optional<double> constant_cap(const FillProblem& problem) {
  const bool changes = std::ranges::any_of(problem.injector.stages, [](const InjectorStage& stage) {
    return stage.pressure_cap.has_value();
  });
  return has_common_pump(problem) && !changes ? problem.injector.pressure_cap : std::nullopt;
}

// Why not, and what to mind.

bool lifts(const FillResult& result) {
  return result.mould_load && result.mould_load->lifts_at && result.mould_load->hold_down_force > 0;
}

std::string reason_of(const Case& input, const FillResult& result) {
  return result.reason == ShortReason::gel ? gel_reason_text(input, result)
                                           : std::string(reason_sentence(result.reason));
}

std::vector<std::string> forbidden_of(const Shot& shot) {
  const FillResult& result = shot.result;
  std::vector<std::string> reasons;
  if (result.verdict != Verdict::filled) {
    reasons.push_back("The part does not fill. " + reason_of(shot.input, result));
    reasons.push_back(result.injected > 0
                          ? "At the end, after " + as_minutes(result.end_time) + ", " +
                                as_percent(result.filled_fraction) + " of it is filled."
                          : "No resin flows at all.");
    for (std::size_t i = 0; i < std::min(result.dry_spots.size(), most_places); ++i) {
      const DrySpot& spot = result.dry_spots[i];
      reasons.push_back("Left dry: " + as_small_litres(spot.volume) + " around " +
                        place_text(shot.input, spot.position) + " in region " +
                        name_of(region_name(shot.input, spot.region)) + ".");
    }
  }
  if (lifts(result)) {
    const MouldLoad& load = *result.mould_load;
    reasons.push_back("The mould is pushed open: up to " + as_kilonewtons(load.peak_force) +
                      " against the " + as_kilonewtons(load.hold_down_force) +
                      " that hold it shut.");
  }
  return reasons;
}

std::string in_band_text(const Shot& shot, const std::optional<FillResult>& result,
                         const std::string& which) {
  const std::string start =
      "With reinforcement " + rough_number(shot.band.factor) + " times " + which + " permeable, ";
  if (!result) {
    return start + "the filling could not be computed.";
  }
  if (result->verdict != Verdict::filled) {
    return start + "which is within the usual scatter, the part does not fill. " +
           reason_of(shot.input, *result);
  }
  return lifts(*result) ? start + "the mould is pushed open." : "";
}

std::vector<std::string> attention_of(const Shot& shot) {
  std::vector<std::string> attention;
  for (const auto& [result, which] :
       {std::pair{&shot.band.tighter, "less"}, std::pair{&shot.band.more_open, "more"}}) {
    if (const std::string text = in_band_text(shot, *result, which); !text.empty()) {
      attention.push_back(text);
    }
  }
  for (const auto& more :
       {gel_warnings(shot.input, shot.result), machine_warnings(shot.input, shot.result)}) {
    attention.insert(attention.end(), more.begin(), more.end());
  }
  if (const std::size_t count = shot.input.warnings.size(); count > 0) {
    attention.push_back("The case has " + counted(count, "more warning", "more warnings") +
                        ": tidemark check prints them.");
  }
  if (attention.size() > most_warnings) {
    attention.resize(most_warnings);
    attention.emplace_back("There is more to mind, which the page has no room for: tidemark fill "
                           "tells all.");
  }
  for (std::string& warning : attention) {
    warning = shortened(warning, longest_warning);
  }
  return attention;
}

// Settings.

std::string flow_and_cap(const std::optional<double>& flow, const std::optional<double>& cap) {
  std::string text = flow ? as_litres_per_minute(*flow) : "";
  return text + (flow && cap ? ", " : "") + (cap ? "cap " + as_bar(*cap) : "");
}

std::string stages_text(const std::vector<InjectorStage>& stages) {
  std::string text;
  for (const InjectorStage& stage : stages) {
    text += (text.empty() ? "" : "; ") +
            (stage.from_time ? "from " + as_minutes(*stage.from_time)
                             : "from " + as_litres(stage.from_volume.value_or(0)) + " on") +
            ": " + flow_and_cap(stage.flow_rate, stage.pressure_cap);
  }
  return shortened(text, longest_list);
}

std::string hoses_text(const std::vector<Hose>& line) {
  std::string text;
  for (const Hose& hose : line) {
    text += (text.empty() ? "" : ", then ") + rough_number(hose.length) + " m of " +
            rough_number(1e3 * hose.bore) + " mm bore";
  }
  return shortened(text, longest_list);
}

void add_common_pump(std::vector<SheetLine>& lines, const FillProblem& problem) {
  const Injector& pump = problem.injector;
  lines.push_back({"Flow rate", pump.flow_rate ? as_litres_per_minute(*pump.flow_rate)
                                               : "none: the head is held at its cap"});
  if (pump.pressure_cap) {
    lines.push_back({"Pressure cap at the mixing head", as_bar(*pump.pressure_cap) + " gauge"});
  } else {
    lines.push_back({"Pressure cap at the mixing head", {}, "bar", "none in the case"});
  }
  if (!pump.stages.empty()) {
    lines.push_back({"Changes on the way", stages_text(pump.stages)});
  }
  if (!pump.line.empty()) {
    lines.push_back({"Hose to the gates", hoses_text(pump.line)});
  }
}

void add_own_pumps(std::vector<SheetLine>& lines, const FillProblem& problem) {
  std::size_t count = 0;
  for (const Gate& gate : problem.gates) {
    if (!gate.own_injector) {
      continue;
    }
    if (++count > most_pumps) {
      lines.push_back({"More gates with their own pump", "see the case file"});
      return;
    }
    const Injector& pump = *gate.own_injector;
    const std::string stages = stages_text(pump.stages);
    lines.push_back(
        {"Gate " + name_of(gate.name) + ", own pump",
         flow_and_cap(pump.flow_rate, pump.pressure_cap) + (stages.empty() ? "" : "; " + stages)});
  }
}

void add_resin(std::vector<SheetLine>& lines, const Case& input) {
  const Resin& resin = input.problem.resin;
  const auto temperature = given_text(input, "temperature");
  lines.push_back({"Resin temperature", temperature, "degC",
                   temperature ? "" : "not in the case: temperature"});
  if (input.resin.catalyst) {
    lines.push_back(
        {"Catalyst level", rough_number(100 * *input.resin.catalyst) + " % by mass of the resin"});
  } else {
    lines.push_back({"Catalyst level", {}, "%", "not in the case: resin.catalyst"});
  }
  const double gel = gel_age(resin);
  if (std::isfinite(gel)) {
    lines.push_back({"The resin gels when it is", as_minutes(gel) + " old"});
  } else {
    lines.push_back({"The resin gels when it is", {}, "min old", "no gel time in the case"});
  }
  if (resin.mixing == Mixing::inline_head) {
    lines.push_back({"Mixing", "in the head"});
  } else if (resin.mixed_before > 0) {
    lines.push_back({"Mixing", "one batch, " + as_minutes(resin.mixed_before) +
                                   " before the injection starts"});
  }
}

void add_mould(std::vector<SheetLine>& lines, const Case& input) {
  lines.push_back(
      {"Air in the cavity at the start", as_bar(front_pressure(input.problem)) + " gauge"});
  if (const auto flange = given_text(input, "mould.flange_pressure")) {
    lines.push_back({"Vacuum on the flange", *flange});
  }
  if (const auto clamps = given_text(input, "mould.clamp_force")) {
    lines.push_back({"Clamp force", *clamps});
  }
  if (const auto& air = input.machine.air_pressure) {
    lines.push_back({"Air to the pump's motor", as_bar(*air)});
  }
}

std::vector<SheetLine> settings_of(const Case& input) {
  std::vector<SheetLine> lines;
  if (has_common_pump(input.problem)) {
    add_common_pump(lines, input.problem);
  }
  add_own_pumps(lines, input.problem);
  add_resin(lines, input);
  add_mould(lines, input);
  return lines;
}

// Quantities.

std::string with_mass(double volume, const std::optional<double>& density) {
  return as_small_litres(volume) + (density ? ", " + as_small_kilograms(volume * *density) : "");
}

void add_volumes(std::vector<SheetLine>& lines, const Case& input, const ResinUse& use) {
  const auto& density = input.problem.resin.density;
  lines.push_back({"Resin in the part", with_mass(use.in_part, density)});
  if (use.channels > 0) {
    lines.push_back({"of that, in runners and gaps", with_mass(use.channels, density)});
  }
  lines.push_back({"In the hoses",
                   use.hoses > 0 ? std::optional(with_mass(use.hoses, density)) : std::nullopt, "L",
                   use.hoses > 0 ? "" : "no hose (line) in the case"});
  if (use.bled > 0) {
    lines.push_back({"Bled at the vents", with_mass(use.bled, density)});
  }
  if (given_text(input, "resin.waste") || input.resin.waste > 0) {
    lines.push_back({"Waste, " + rough_number(100 * input.resin.waste) + " % on top",
                     with_mass(use.waste, density)});
    lines.push_back({"To prepare, catalyst included", with_mass(use.to_mix, density)});
  } else {
    lines.push_back({"Waste, mixer and bucket", {}, "L", "not in the case: resin.waste"});
    lines.push_back({"To prepare without that, catalyst included", with_mass(use.to_mix, density)});
  }
  if (!density) {
    lines.push_back({"Mass to prepare", {}, "kg", "not in the case: resin.density"});
  }
}

/// Why a quantity of catalyst is blank.
std::string missing_for_catalyst(const Case& input) {
  if (!input.resin.catalyst) {
    return "not in the case: resin.catalyst";
  }
  return input.problem.resin.density ? "not in the case: resin.catalyst_density"
                                     : "not in the case: resin.density";
}

void add_catalyst(std::vector<SheetLine>& lines, const Case& input, const ResinUse& use) {
  const std::string missing = missing_for_catalyst(input);
  if (use.catalyst_mass) {
    lines.push_back({"Catalyst, of what is prepared", as_small_kilograms(*use.catalyst_mass)});
  } else {
    lines.push_back({"Catalyst, of what is prepared", {}, "g", missing});
  }
  if (use.catalyst_volume) {
    lines.push_back({"Catalyst by volume", as_small_litres(*use.catalyst_volume)});
  } else {
    lines.push_back({"Catalyst by volume", {}, "mL", missing});
  }
}

/// What is drawn from the drum from the opening of the first gate to the last stroke.
void add_drum(std::vector<SheetLine>& lines, const Case& input, const FillResult& result) {
  const bool is_inline = input.problem.resin.mixing == Mixing::inline_head;
  const std::string label = is_inline ? "Drum lighter at the end by (resin alone)"
                                      : "Drum or bucket lighter at the end by";
  const auto& density = input.problem.resin.density;
  if (!density || (is_inline && !input.resin.catalyst)) {
    lines.push_back(
        {label,
         {},
         "kg",
         "not in the case: " + std::string(density ? "resin.catalyst" : "resin.density")});
    return;
  }
  const double mass = result.injected * *density;
  lines.push_back(
      {label, as_small_kilograms(is_inline ? mass / (1 + *input.resin.catalyst) : mass)});
}

void add_strokes(std::vector<SheetLine>& lines, const Case& input, const ResinUse& use) {
  if (!use.strokes) {
    lines.push_back({"Strokes of the pump", {}, "", "not in the case: injector.stroke_volume"});
    return;
  }
  const ResinUse::Strokes& strokes = *use.strokes;
  lines.push_back(
      {"Strokes of the pump",
       std::to_string(strokes.shot) + " of " + as_small_litres(*input.machine.stroke_volume), "",
       "the last gives " + as_small_litres(std::max(0.0, strokes.remainder)) +
           " more than needed"});
  if (strokes.hoses > 0) {
    lines.push_back({"Strokes before that, to fill the hose", std::to_string(strokes.hoses)});
  }
  lines.push_back(
      {"Strokes a minute", three_digits(60 * strokes.rate_at_start) + " after the first 1 %, " +
                               three_digits(60 * strokes.rate_at_the_end) + " before the last"});
}

std::vector<SheetLine> quantities_of(const Case& input, const FillResult& result) {
  const ResinUse use = resin_use(input, result);
  std::vector<SheetLine> lines;
  add_volumes(lines, input, use);
  add_catalyst(lines, input, use);
  add_drum(lines, input, result);
  if (has_common_pump(input.problem)) {
    add_strokes(lines, input, use);
  }
  return lines;
}

// Gates and vents, in the order things happen.

struct TimedEvent {
  double time; // [s], below 0 for what is done before the start
  SheetEvent event;
};

std::string port_name(const FillProblem& problem, const PortRef& port) {
  return port.kind == PortRef::Kind::gate ? "gate " + name_of(problem.gates[port.index].name)
                                          : "vent " + name_of(problem.vents[port.index].name);
}

/// As many names as a line holds, then how many more there are.
std::string names_of(const std::vector<std::string>& names) {
  std::string text;
  for (std::size_t i = 0; i < names.size(); ++i) {
    const std::string name = (i > 0 ? ", " : "") + name_of(names[i]);
    if (text.size() + name.size() > longest_list) {
      return text + " and " + std::to_string(names.size() - i) + " more";
    }
    text += name;
  }
  return text;
}

bool opens_at_start(const Gate& gate) {
  return !gate.opens.reached && gate.opens.time.value_or(0) <= 0;
}

void add_before_start(std::vector<TimedEvent>& events, const FillProblem& problem) {
  std::vector<double> pressures;
  for (const Vent& vent : problem.vents) {
    if (std::ranges::find(pressures, vent.pressure) == pressures.end()) {
      pressures.push_back(vent.pressure);
    }
  }
  for (const double pressure : pressures) {
    std::vector<std::string> names;
    for (const Vent& vent : problem.vents) {
      if (vent.pressure == pressure) {
        names.push_back(vent.name);
      }
    }
    events.push_back({-1,
                      {"before the start", "",
                       "Open " + std::string(names.size() == 1 ? "vent " : "vents ") +
                           names_of(names) + " to " + as_bar(pressure) + " gauge."}});
  }
  std::vector<std::string> shut;
  std::vector<std::string> open;
  for (const Gate& gate : problem.gates) {
    (opens_at_start(gate) ? open : shut).push_back(gate.name);
  }
  if (!shut.empty()) {
    events.push_back(
        {-1,
         {"before the start", "",
          std::string(shut.size() == 1 ? "Gate " : "Gates ") + names_of(shut) + " shut."}});
  }
  events.push_back({0,
                    {"0:00 min", "",
                     open.empty() ? "Start the clock; no gate is open yet."
                                  : "Open " + std::string(open.size() == 1 ? "gate " : "gates ") +
                                        names_of(open) + ", start the pump and the clock."}});
}

/// "at 1:00 min" as it was set, or what is seen then.
std::string cause_text(const FillProblem& problem, const Moment& moment, std::size_t gate) {
  if (!moment.reached) {
    return "";
  }
  const bool is_own = *moment.reached == PortRef{PortRef::Kind::gate, gate};
  return is_own ? ", as the resin arrives there"
                : ", when the resin shows at " + port_name(problem, *moment.reached);
}

void add_gate_events(std::vector<TimedEvent>& events, const Shot& shot, std::size_t g) {
  const Gate& gate = shot.problem().gates[g];
  const GateResult& done = shot.result.gates[g];
  const std::string name = "gate " + name_of(gate.name);
  const auto results = full_results(shot);
  if (!done.opened_at) {
    events.push_back({std::numeric_limits<double>::infinity(),
                      {"not expected", "", "To open " + name + ": it stays shut."}});
    return;
  }
  if (!opens_at_start(gate)) {
    events.push_back(
        {*done.opened_at,
         {as_minutes(*done.opened_at),
          band_of(
              results, [&](const FillResult& r) { return r.gates[g].opened_at; }, as_minutes),
          "Open " + name + cause_text(shot.problem(), gate.opens, g) + "."}});
  }
  const bool may_close = gate.closes.time || gate.closes.reached;
  if (may_close && done.closed_at && *done.closed_at < shot.result.end_time) {
    const auto closed_at = [&](const FillResult& r) {
      const auto& at = r.gates[g].closed_at;
      return at && *at < r.end_time ? at : std::nullopt;
    };
    events.push_back({*done.closed_at,
                      {as_minutes(*done.closed_at), band_of(results, closed_at, as_minutes),
                       "Close " + name + cause_text(shot.problem(), gate.closes, g) + "."}});
  }
}

std::string after_arrival(const Vent& vent, double bled) {
  if (vent.bleed <= 0) {
    return "close it";
  }
  if (std::isfinite(vent.bleed)) {
    return "let " + as_small_litres(vent.bleed) + " run out, then close it";
  }
  return "leave it open; " + as_small_litres(bled) + " are expected to run out";
}

void add_vent_event(std::vector<TimedEvent>& events, const Shot& shot, std::size_t v) {
  const Vent& vent = shot.problem().vents[v];
  const VentResult& done = shot.result.vents[v];
  const std::string name = "vent " + name_of(vent.name);
  if (!done.reached_at) {
    events.push_back(
        {std::numeric_limits<double>::infinity(), {"not expected", "", "Resin at " + name + "."}});
    return;
  }
  events.push_back({*done.reached_at,
                    {as_minutes(*done.reached_at),
                     band_of(
                         full_results(shot),
                         [&](const FillResult& r) { return r.vents[v].reached_at; }, as_minutes),
                     "Resin shows at " + name + ": " + after_arrival(vent, done.bled) + "."}});
}

std::vector<SheetEvent> order_of(const Shot& shot) {
  std::vector<TimedEvent> events;
  add_before_start(events, shot.problem());
  for (std::size_t g = 0; g < shot.problem().gates.size(); ++g) {
    add_gate_events(events, shot, g);
  }
  for (std::size_t v = 0; v < shot.problem().vents.size(); ++v) {
    add_vent_event(events, shot, v);
  }
  std::ranges::stable_sort(events, {}, &TimedEvent::time);
  std::vector<SheetEvent> order;
  const std::size_t count = events.size();
  const std::size_t hidden = count > most_events ? count - most_events : 0;
  for (std::size_t i = 0; i < count; ++i) { // the last one says when to stop: it is always shown
    if (i + 1 < most_events || i + 1 == count) {
      order.push_back(events[i].event);
    } else if (i + 1 == most_events) {
      order.push_back({"", "",
                       "and " + std::to_string(hidden) +
                           " more in between, which the page has no room for: tidemark fill tells "
                           "all."});
    }
  }
  return order;
}

// The course.

/// As a gauge is read: hundredths of a bar, more where all pressures are low. highest: in the
/// filling [Pa].
std::string gauge_text(double pressure, double highest) {
  if (highest < 2e4) {
    return as_bar(pressure);
  }
  const double shown = std::abs(pressure) < 500 ? 0 : pressure / 1e5; // no minus before a zero
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.2f bar", shown);
  return text.data();
}

std::string strokes_text(double strokes) {
  return strokes < 9.95 ? rough_number(std::round(10 * strokes) / 10)
                        : rough_number(std::round(strokes));
}

template <class Number, class Text>
SheetCell course_cell(const Shot& shot, double fraction, Number number, Text text) {
  const auto value = [&](const FillResult& result) -> std::optional<double> {
    const auto point = course_at(shot.problem(), result, fraction);
    return point ? std::optional(number(*point)) : std::nullopt;
  };
  std::vector<const FillResult*> results{&shot.result};
  for (const auto* other : {&shot.band.tighter, &shot.band.more_open}) {
    if (*other) {
      results.push_back(&**other);
    }
  }
  const auto expected = value(shot.result);
  std::string band = band_of(results, value, text);
  if (!std::ranges::all_of(results,
                           [&](const FillResult* result) { return value(*result).has_value(); })) {
    band += band.empty() ? "or never" : ", or never";
  }
  return {expected ? text(*expected) : "", band};
}

std::vector<SheetCell> course_row(const Shot& shot, double fraction, std::size_t pumps) {
  const auto& stroke = shot.input.machine.stroke_volume;
  std::vector<SheetCell> row{{rough_number(100 * fraction) + " %", ""}};
  row.push_back(course_cell(
      shot, fraction, [](const CoursePoint& p) { return p.time; }, as_minutes));
  for (std::size_t p = 0; p < pumps; ++p) {
    const auto flow = [p](const CoursePoint& point) { return point.pumps[p].flow_rate; };
    const auto pressure = [p](const CoursePoint& point) { return point.pumps[p].pressure; };
    row.push_back(course_cell(shot, fraction, flow, as_litres_per_minute));
    const auto gauge = [&](double value) {
      return gauge_text(value, shot.result.peak_head_pressure);
    };
    row.push_back(course_cell(shot, fraction, pressure, gauge));
  }
  if (stroke && has_common_pump(shot.problem())) {
    const auto strokes = [&](const CoursePoint& p) { return p.pumps.front().volume / *stroke; };
    row.push_back(course_cell(shot, fraction, strokes, strokes_text));
  }
  return row;
}

SheetTable course_of(const Shot& shot) {
  const std::vector<CoursePump> all = course_pumps(shot.problem());
  const std::size_t pumps = std::min(all.size(), most_pumps);
  SheetTable table;
  table.headings = {"Filled", "Time"};
  for (std::size_t p = 0; p < pumps; ++p) {
    const auto& gate = all[p].gate;
    const std::string name = gate ? "gate " + name_of(shot.problem().gates[*gate].name) : "";
    table.headings.push_back(gate ? "Flow, " + name : "Flow");
    table.headings.push_back(gate ? "Pressure, " + name : "Head pressure");
  }
  if (shot.input.machine.stroke_volume && has_common_pump(shot.problem())) {
    table.headings.emplace_back("Strokes so far");
  }
  for (const double fraction : fractions) {
    table.rows.push_back(course_row(shot, fraction, pumps));
  }
  return table;
}

std::string band_text(const Shot& shot) {
  const std::string factor = rough_number(shot.band.factor);
  return "In brackets: the same filling computed with reinforcement " + factor +
         " times less and " + factor +
         " times more permeable (runners and gaps as they are); fabrics of one kind commonly "
         "scatter by 30 to 45 % (common practice, no source). Other faults are not in it. Flow and "
         "pressure at 0 and 100 % are those at 1 and 99 %.";
}

// What to watch for, when to stop, when to break off.

std::string cap_text(const Shot& shot) {
  const auto& at = shot.result.time_cap_reached;
  const auto& cap = shot.problem().injector.pressure_cap;
  if (!at || !constant_cap(shot.problem()) || !shot.problem().injector.flow_rate) {
    return "";
  }
  return "The head reaches its cap of " + as_bar(*cap) + " at about " + as_minutes(*at) +
         in_brackets(band_of(
             full_results(shot), [](const FillResult& r) { return r.time_cap_reached; },
             as_minutes)) +
         "; from then on the pump slows down by itself.";
}

std::vector<std::string> watch_of(const Shot& shot) {
  std::vector<std::string> lines;
  if (const std::string cap = cap_text(shot); !cap.empty()) {
    lines.push_back(cap);
  }
  lines.emplace_back("Faster at lower pressure than in brackets: resin may run along an edge. "
                     "Slower at higher pressure: tighter or shifted reinforcement, or a gate that "
                     "is shut (common practice, no source).");
  const auto& zones = shot.result.suspect_zones;
  for (std::size_t i = 0; i < std::min(zones.size(), most_places); ++i) {
    lines.push_back("Look for dry fibres at " + place_text(shot.input, zones[i].position) +
                    ": air was shut in there and closed up.");
  }
  if (zones.size() > most_places) {
    lines.push_back("And at " + counted(zones.size() - most_places, "more place", "more places") +
                    ": tidemark fill lists them.");
  }
  if (!shot.problem().sealed_air) {
    lines.emplace_back(
        "Air that is shut in was not computed: a place without a vent may stay dry.");
  }
  return lines;
}

std::string last_vent_text(const Shot& shot) {
  std::size_t last = shot.result.vents.size();
  for (std::size_t v = 0; v < shot.result.vents.size(); ++v) {
    const auto& at = shot.result.vents[v].reached_at;
    const bool is_later =
        at && (last == shot.result.vents.size() || *at >= *shot.result.vents[last].reached_at);
    last = is_later ? v : last;
  }
  return last < shot.result.vents.size()
             ? ", resin has come to the last vent, " + name_of(shot.result.vents[last].name)
             : "";
}

std::string push_text(const Shot& shot) {
  const FillProblem& problem = shot.problem();
  const auto cap = constant_cap(problem);
  if (!cap || !(*cap > 0)) {
    return "Do not leave the pump on: the pressure in a full part goes on rising.";
  }
  std::string text = "Left on, the pump may bring the whole cavity to its cap of " + as_bar(*cap);
  if (!shot.result.mould_load) {
    return text + ".";
  }
  const MouldLoad& load = *shot.result.mould_load;
  text += ", which pushes the mould open with " + as_kilonewtons(*cap * load.projected_area);
  return text + (load.hold_down_force > 0
                     ? "; " + as_kilonewtons(load.hold_down_force) + " hold it shut."
                     : ".");
}

std::vector<std::string> stop_of(const Shot& shot, const ResinUse& use) {
  const auto end = [](const FillResult& r) { return std::optional(r.end_time); };
  std::string text = "When the part is full, expected at " + as_minutes(shot.result.end_time) +
                     in_brackets(band_of(full_results(shot), end, as_minutes)) +
                     last_vent_text(shot);
  if (use.strokes) {
    text += ", and the pump has made " +
            counted(static_cast<std::size_t>(use.strokes->shot), "stroke", "strokes") +
            ", those for the hose apart";
  }
  return {text + ".", push_text(shot),
          "Keep the mould shut and its vacuum on until the part has cured."};
}

std::string gel_limit_text(const Shot& shot) {
  const Resin& resin = shot.problem().resin;
  const double gel = gel_age(resin);
  const double safety = shot.input.resin.gel_safety.value_or(1);
  const std::string before =
      resin.mixed_before > 0 ? " (mixed " + as_minutes(resin.mixed_before) + " before)" : "";
  const auto spare = [&](const FillResult& r) {
    return std::optional(gel - (r.age ? r.age->oldest : r.end_time));
  };
  const std::string at = as_minutes(gel - resin.mixed_before);
  return "The part is not full at " + as_minutes(gel / safety - resin.mixed_before) +
         ": the first resin gels " +
         (safety > 1 ? "at " + at + before + ", less the reserve of resin.gel_safety"
                     : "then" + before + "; no reserve is set (resin.gel_safety)") +
         ". Expected to spare: " + as_minutes(*spare(shot.result)) +
         in_brackets(band_of(full_results(shot), spare, as_minutes)) +
         ". Warmer resin gels earlier.";
}

std::string pressure_limit_text(const Shot& shot) {
  const auto peak = [](const FillResult& r) { return std::optional(r.peak_head_pressure); };
  if (const auto cap = constant_cap(shot.problem())) {
    return "The head is above " + as_bar(*cap) + ": the cap does not hold.";
  }
  return "The head is above what machine, hoses and mould may bear. Highest expected: " +
         as_bar(shot.result.peak_head_pressure) +
         in_brackets(band_of(full_results(shot), peak, as_bar)) + ".";
}

std::string mould_limit_text(const Shot& shot) {
  const std::string start = "The mould opens, or the flange loses its vacuum. ";
  if (!shot.result.mould_load) {
    return start + "The case has no [mould]: no margin is known.";
  }
  const MouldLoad& load = *shot.result.mould_load;
  const auto force = [](const FillResult& r) {
    return r.mould_load ? std::optional(r.mould_load->peak_force) : std::nullopt;
  };
  const std::string push = "Expected push: up to " + as_kilonewtons(load.peak_force) +
                           in_brackets(band_of(full_results(shot), force, as_kilonewtons));
  if (!(load.hold_down_force > 0)) {
    return start + push + ". What holds the mould shut is not in the case.";
  }
  return start + push + "; " + as_kilonewtons(load.hold_down_force) + " hold it shut, " +
         as_kilonewtons(load.hold_down_force - load.peak_force) + " to spare.";
}

std::vector<SheetLine> day_lines() {
  return {{"Date", {}},
          {"Operator", {}},
          {"Mould, part no.", {}},
          {"Shot no.", {}},
          {"Resin batch", {}},
          {"Catalyst batch", {}},
          {"Resin, measured", {}, "degC"},
          {"Room", {}, "degC"},
          {"Drum before", {}, "kg"},
          {"Drum after", {}, "kg"},
          {"Stopped at", {}, "min"},
          {"Strokes counted", {}}};
}

std::vector<std::string> flush_of(const Shot& shot) {
  const Resin& resin = shot.problem().resin;
  const double gel = gel_age(resin);
  if (!std::isfinite(gel)) {
    return {"Flush mixer and hose as soon as the pump stops. No gel time in the case: by the data "
            "sheet the resin in them gels ________ min after it was mixed."};
  }
  if (resin.mixing == Mixing::inline_head) {
    const double left = gel - oldest_in_hoses(shot.problem(), shot.result);
    return {"Flush mixer and hose as soon as the pump stops: the resin in them gels from " +
            as_minutes(std::max(0.0, left)) + " after that on."};
  }
  return {"Flush mixer and hose as soon as the pump stops: what was mixed at once gels at " +
          as_minutes(gel - resin.mixed_before) + " by the clock, " +
          as_minutes(gel - resin.mixed_before - shot.result.end_time) + " after the expected end."};
}

std::vector<std::string> abort_of(const Shot& shot) {
  const bool gels = std::isfinite(gel_age(shot.problem().resin));
  return {gels ? gel_limit_text(shot)
               : "The part is not full at ________ min: no gel time in the case, take it from the "
                 "data sheet.",
          pressure_limit_text(shot), mould_limit_text(shot)};
}

} // namespace

std::string range_text(const std::string& from, const std::string& to) {
  if (from == to) {
    return "";
  }
  const std::size_t unit = from.rfind(' ');
  const bool is_common = unit != std::string::npos && to.ends_with(from.substr(unit));
  return (is_common ? from.substr(0, unit) : from) + " to " + to;
}

std::string shortened(std::string_view text, std::size_t letters) {
  std::string result;
  std::size_t count = 0;
  for (const char c : text) {
    const bool begins = (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; // a letter of UTF-8
    if (begins && count++ == letters) {
      return result + "…";
    }
    const bool is_break = (c >= 0 && c < ' ') || c == 0x7f;
    result += is_break ? ' ' : c;
  }
  return result;
}

SetupSheet setup_sheet(const Case& input, const FillResult& result, const PermeabilityBand& band) {
  const Shot shot{input, result, band};
  SetupSheet sheet;
  sheet.title = shortened(input.title, longest_title);
  sheet.origin = "From " + shortened(input.file.filename().string(), longest_name) +
                 " by tidemark " TIDEMARK_VERSION;
  sheet.day = day_lines();
  sheet.forbidden = forbidden_of(shot);
  sheet.settings = settings_of(input);
  sheet.cautions = sheet_cautions();
  if (!sheet.forbidden.empty()) {
    return sheet;
  }
  sheet.attention = attention_of(shot);
  sheet.quantities = quantities_of(input, result);
  sheet.order = order_of(shot);
  sheet.course = course_of(shot);
  sheet.band = band_text(shot);
  sheet.watch = watch_of(shot);
  sheet.stop = stop_of(shot, resin_use(input, result));
  sheet.abort = abort_of(shot);
  sheet.flush = flush_of(shot);
  return sheet;
}

} // namespace tidemark
