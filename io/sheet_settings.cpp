#include "io/sheet_settings.hpp"

#include "io/bleeding_text.hpp"
#include "io/filling_course.hpp"
#include "io/heat_text.hpp"
#include "io/resin_use.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "solver/mould_load.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {

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
    lines.push_back({"Gate " + name_of(gate.name) + ", own pump",
                     flow_and_cap(pump.flow_rate, pump.pressure_cap) +
                         (stages.empty() ? "" : "; " + stages) +
                         (pump.line.empty() ? "" : "; hose " + hoses_text(pump.line))});
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
    const bool has_heat = has_unequal_temperatures(input.problem);
    const auto& heat = input.problem.heat;
    lines.push_back(
        {"The resin gels when it is",
         as_minutes(gel) + " old" +
             (has_heat ? ", if it stays at " + as_celsius(heat->inlet_temperature) : "")});
    if (const auto hot = has_heat ? gel_time_at(resin, heat->mould_temperature) : std::nullopt) {
      lines.push_back({"At the mould's temperature when it is", as_minutes(*hot) + " old"});
    }
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
  if (input.problem.heat) {
    lines.push_back({"Mould temperature", as_celsius(input.problem.heat->mould_temperature)});
  }
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

// Quantities.

std::string with_mass(double volume, const std::optional<double>& density) {
  return as_small_litres(volume) + (density ? ", " + as_small_kilograms(volume * *density) : "");
}

/// What is to be known besides of the resin that runs out of the vents.
std::string bled_note(const FillProblem& problem, const FillResult& result) {
  double before_gel = 0;
  bool goes_on = false;
  for (std::size_t v = 0; v < result.vents.size(); ++v) {
    before_gel += bled_before_gel(problem, result, v);
    goes_on = goes_on || std::isinf(problem.vents[v].bleed);
  }
  const std::string by_gel = before_gel < 0.999 * result.bled
                                 ? as_small_litres(before_gel) + " before the resin gels"
                                 : "";
  const std::string more = goes_on ? "a vent that stays open lets out more" : "";
  return by_gel + (by_gel.empty() || more.empty() ? "" : "; ") + more;
}

void add_volumes(std::vector<SheetLine>& lines, const Case& input, const FillResult& result,
                 const ResinUse& use) {
  const auto& density = input.problem.resin.density;
  lines.push_back({"Resin in the part", with_mass(use.in_part, density)});
  if (use.channels > 0) {
    lines.push_back({"of that, in runners and gaps", with_mass(use.channels, density)});
  }
  lines.push_back({"In the hoses",
                   use.hoses > 0 ? std::optional(with_mass(use.hoses, density)) : std::nullopt, "L",
                   use.hoses > 0 ? "" : "no hose (line) in the case"});
  if (use.bled > 0) {
    lines.push_back(
        {"Bled at the vents", with_mass(use.bled, density), "", bled_note(input.problem, result)});
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

/// What each of several pumps gives.
void add_pump_volumes(std::vector<SheetLine>& lines, const Case& input, const FillResult& result) {
  const FillProblem& problem = input.problem;
  if (has_one_pump(problem)) {
    return;
  }
  double shared = 0;
  std::vector<SheetLine> own;
  for (std::size_t g = 0; g < result.gates.size(); ++g) {
    const double injected = result.gates[g].injected;
    if (problem.gates[g].own_injector) {
      own.push_back({"Given by the pump of gate " + name_of(problem.gates[g].name),
                     with_mass(injected, problem.resin.density)});
    } else {
      shared += injected;
    }
  }
  if (has_common_pump(problem)) {
    lines.push_back({"Given by the injector", with_mass(shared, problem.resin.density)});
  }
  lines.insert(lines.end(), own.begin(), own.end());
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
       "the last gives " + as_small_litres(strokes.remainder) + " more than needed"});
  if (strokes.hoses > 0) {
    lines.push_back({"Strokes before that, to fill the hose", std::to_string(strokes.hoses)});
  }
  lines.push_back(
      {"Strokes a minute", three_digits(60 * strokes.rate_at_start) + " after 1 % of the time, " +
                               three_digits(60 * strokes.rate_at_the_end) + " before the last"});
}

} // namespace

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

std::vector<SheetLine> quantities_of(const Case& input, const FillResult& result) {
  const ResinUse use = resin_use(input, result);
  std::vector<SheetLine> lines;
  add_volumes(lines, input, result, use);
  add_pump_volumes(lines, input, result);
  add_catalyst(lines, input, use);
  add_drum(lines, input, result);
  if (has_common_pump(input.problem)) {
    add_strokes(lines, input, use);
  }
  return lines;
}

} // namespace tidemark
