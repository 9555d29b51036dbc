#include "io/resin_use.hpp"

#include "io/filling_course.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "solver/channel.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>

namespace tidemark {

double volume_of(std::span<const Hose> line) {
  double volume = 0;
  for (const Hose& hose : line) {
    volume += std::numbers::pi / 4 * hose.bore * hose.bore * hose.length;
  }
  return volume;
}

namespace {

using Json = nlohmann::ordered_json;

bool is_on_common_pump(const Gate& gate) {
  return !gate.own_injector;
}

double volume_of_hoses(const FillProblem& problem) {
  double volume = has_common_pump(problem) ? volume_of(problem.injector.line) : 0;
  for (const Gate& gate : problem.gates) {
    volume += gate.own_injector ? volume_of(gate.own_injector->line) : 0;
  }
  return volume;
}

double injected_by_common_pump(const FillProblem& problem, const FillResult& result) {
  double volume = 0;
  for (std::size_t g = 0; g < result.gates.size(); ++g) {
    volume += is_on_common_pump(problem.gates[g]) ? result.gates[g].injected : 0;
  }
  return volume;
}

/// Of the common pump in a row of the history [m3/s].
double common_flow(const FillProblem& problem, const HistoryRow& row) {
  double flow = 0;
  for (std::size_t g = 0; g < row.gates.size(); ++g) {
    flow += is_on_common_pump(problem.gates[g]) ? row.gates[g].flow_rate : 0;
  }
  return flow;
}

/// Of the common pump at 1 % and each 1 % after: that of the first moment has no limit at constant
/// pressure [m3/s].
double highest_common_flow(const FillProblem& problem, const std::vector<HistoryRow>& history) {
  const auto flow = [&](const HistoryRow& row) { return common_flow(problem, row); };
  double highest = 0;
  for (int percent = 1; percent < 100; ++percent) {
    highest = std::max(highest, flow_when(history, 0.01 * percent, flow));
  }
  return highest;
}

/// Whole strokes for a volume; what rounding adds does not make one more.
long strokes_for(double volume, double stroke) {
  return std::lround(std::ceil(volume / stroke - 1e-9));
}

ResinUse::Strokes strokes_of(const Case& input, const FillResult& result, double stroke) {
  const double injected = injected_by_common_pump(input.problem, result);
  const long count = strokes_for(injected, stroke);
  const double more = static_cast<double>(count) * stroke - injected;
  constexpr double nothing = 1e-6; // of a stroke: rounding
  ResinUse::Strokes strokes{count, more > nothing * stroke ? more : 0,
                            strokes_for(volume_of(input.problem.injector.line), stroke), 0, 0};
  const auto flow = [&](const HistoryRow& row) { return common_flow(input.problem, row); };
  strokes.rate_at_start = flow_when(result.history, 0, flow) / stroke;
  strokes.rate_at_the_end = flow_when(result.history, 1, flow) / stroke;
  return strokes;
}

std::string mix_text(const Case& input, const ResinUse& use) {
  std::string text = "To mix: " + as_litres(use.to_mix) +
                     (use.mass ? " (" + as_small_kilograms(*use.mass) + ")" : "") + ", of which " +
                     as_litres(use.in_part) + " for the part";
  text += use.hoses > 0 ? ", " + as_small_litres(use.hoses) + " for the hoses" : "";
  text += use.bled > 0 ? ", " + as_small_litres(use.bled) + " for the vents" : "";
  text += input.resin.waste > 0 ? ", " + as_small_litres(use.waste) + " as waste" : "";
  return text + ".\n";
}

std::string catalyst_text(const Case& input, const ResinUse& use) {
  if (!input.resin.catalyst) {
    return "";
  }
  const std::string level = rough_number(100 * *input.resin.catalyst) + " % by mass of the resin";
  if (!use.catalyst_mass) {
    return "Catalyst: " + level + ".\n";
  }
  return "Catalyst: " + as_small_kilograms(*use.catalyst_mass) +
         (use.catalyst_volume ? " (" + as_small_litres(*use.catalyst_volume) + ")" : "") + ", " +
         level + ", to " + as_small_kilograms(*use.mass - *use.catalyst_mass) + " of resin.\n";
}

std::string strokes_text(const ResinUse& use, double stroke) {
  const ResinUse::Strokes& strokes = *use.strokes;
  std::string text = "Strokes of the pump: " + std::to_string(strokes.shot) + " of " +
                     as_small_litres(stroke) + ", the last one " +
                     as_small_litres(strokes.remainder) + " more than needed";
  text += strokes.hoses > 0 ? "; " + std::to_string(strokes.hoses) + " before that to fill the hose"
                            : "";
  return text + ". " + three_digits(60 * strokes.rate_at_start) +
         " strokes a minute after 1 % of the time, " + three_digits(60 * strokes.rate_at_the_end) +
         " before the last 1 % of the resin.\n";
}

} // namespace

ResinUse resin_use(const Case& input, const FillResult& result) {
  const FillProblem& problem = input.problem;
  ResinUse use;
  use.in_part = result.resin_in_part;
  for (const Channel& channel : problem.channels) {
    use.channels += channel_size(problem.mesh, channel).volume;
  }
  use.hoses = volume_of_hoses(problem);
  use.bled = result.bled;
  const double used = use.in_part + use.hoses + use.bled;
  use.waste = input.resin.waste * used;
  use.to_mix = used + use.waste;
  if (problem.resin.density) {
    use.mass = *problem.resin.density * use.to_mix;
  }
  if (use.mass && input.resin.catalyst) {
    const double share = *input.resin.catalyst;
    use.catalyst_mass = *use.mass * share / (1 + share);
    if (input.resin.catalyst_density) {
      use.catalyst_volume = *use.catalyst_mass / *input.resin.catalyst_density;
    }
  }
  if (input.machine.stroke_volume && has_common_pump(problem)) {
    use.strokes = strokes_of(input, result, *input.machine.stroke_volume);
  }
  return use;
}

std::string resin_use_text(const Case& input, const ResinUse& use) {
  const bool is_wanted = input.resin.waste > 0 || input.resin.catalyst || use.strokes;
  if (!is_wanted) {
    return "";
  }
  return mix_text(input, use) + catalyst_text(input, use) +
         (use.strokes ? strokes_text(use, *input.machine.stroke_volume) : "");
}

Json resin_use_json(const ResinUse& use) {
  const auto or_null = [](const std::optional<double>& value) {
    return value ? Json(*value) : Json();
  };
  Json json{{"in_part_m3", use.in_part},
            {"channels_m3", use.channels},
            {"hoses_m3", use.hoses},
            {"bled_m3", use.bled},
            {"waste_m3", use.waste},
            {"to_mix_m3", use.to_mix},
            {"to_mix_kg", or_null(use.mass)},
            {"catalyst_kg", or_null(use.catalyst_mass)},
            {"catalyst_m3", or_null(use.catalyst_volume)},
            {"strokes", nullptr}};
  if (use.strokes) {
    json["strokes"] = {{"shot", use.strokes->shot},
                       {"remainder_m3", use.strokes->remainder},
                       {"hoses", use.strokes->hoses},
                       {"at_start_per_s", use.strokes->rate_at_start},
                       {"at_the_end_per_s", use.strokes->rate_at_the_end}};
  }
  return json;
}

std::vector<std::string> machine_warnings(const Case& input, const FillResult& result) {
  const FillProblem& problem = input.problem;
  std::vector<std::string> warnings;
  if (!has_common_pump(problem)) {
    return warnings;
  }
  const MachineFacts& machine = input.machine;
  const double peak_flow = highest_common_flow(problem, result.history);
  if (!problem.injector.flow_rate && machine.max_flow_rate && peak_flow > *machine.max_flow_rate) {
    warnings.push_back("The flow reaches " + as_litres_per_minute(peak_flow) +
                       ", more than the pump gives, " +
                       as_litres_per_minute(*machine.max_flow_rate) +
                       ": set that as flow_rate, and see how the part fills then.");
  }
  if (problem.injector.pressure_cap) {
    return warnings;
  }
  const double peak = peak_at_head(problem, result);
  if (machine.max_pressure && peak > *machine.max_pressure) {
    warnings.push_back("The head reaches " + as_bar(peak) + ", more than the " +
                       as_bar(*machine.max_pressure) +
                       " the machine may be run at: set a pressure_cap.");
  }
  if (machine.pressure_ratio && peak > *machine.pressure_ratio * *machine.air_pressure) {
    warnings.push_back("The head reaches " + as_bar(peak) + ", more than the " +
                       as_bar(*machine.pressure_ratio * *machine.air_pressure) +
                       " the air motor brings: set a pressure_cap.");
  }
  return warnings;
}

} // namespace tidemark
