#include "io/summary.hpp"

#include "io/filling_course.hpp"
#include "io/gel_text.hpp"
#include "io/heat_text.hpp"
#include "io/json_values.hpp"
#include "io/mesh_pieces.hpp"
#include "io/mould_text.hpp"
#include "io/number_text.hpp"
#include "io/region_fields.hpp"
#include "io/resin_use.hpp"
#include "io/shop_units.hpp"
#include "io/short_reason.hpp"
#include "io/spoken.hpp"
#include "io/vent_arrival.hpp"
#include "io/wording.hpp"
#include "mesh/error.hpp"
#include "solver/mould_load.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

/// A gate that is open at the end was not closed.
Json gates_of(const FillProblem& problem, const FillResult& result) {
  Json gates = Json::array();
  for (std::size_t g = 0; g < result.gates.size(); ++g) {
    const GateResult& gate = result.gates[g];
    const bool has_own = problem.gates[g].own_injector.has_value();
    gates.push_back(
        {{"name", gate.name},
         {"injected_m3", gate.injected},
         {"peak_pressure_pa", gate.peak_pressure},
         {"opened_at_s", number_or_null(gate.opened_at)},
         {"closed_at_s", has_closed(problem, result, g) ? Json(*gate.closed_at) : Json()},
         {"own_pump_time_at_cap_s", has_own ? Json(gate.at_cap.duration) : Json()},
         {"own_pump_time_cap_reached_s", number_or_null(gate.at_cap.reached)}});
  }
  return gates;
}

Json vents_of(const FillProblem& problem, const FillResult& result) {
  Json vents = Json::array();
  for (std::size_t v = 0; v < result.vents.size(); ++v) {
    const VentArrival arrival = vent_arrival(problem, result, v);
    vents.push_back({{"name", result.vents[v].name},
                     {"reached_at_s", number_or_null(arrival.first)},
                     {"all_reached_at_s", number_or_null(arrival.all)},
                     {"bled_m3", result.vents[v].bled}});
  }
  return vents;
}

Json last_filled_of(const Case& input, const FillResult& result) {
  Json places = Json::array();
  for (const LastFilled& place : result.last_filled) {
    places.push_back({{"position_m", position_json(input.problem.mesh.positions[place.node])},
                      {"time_s", place.time},
                      {"region", region_name(input, place.region)}});
  }
  return places;
}

Json meeting_lines_of(const Case& input, const FillResult& result) {
  Json lines = Json::array();
  const FillProblem& problem = input.problem;
  for (const MeetingLine& line : lines_met(problem, result)) {
    Json gates = Json::array();
    for (const std::int32_t gate : line.gates) {
      gates.push_back(problem.gates[static_cast<std::size_t>(gate)].name);
    }
    lines.push_back({{"gates", gates},
                     {"length_m", line.length},
                     {"middle_m", position_json(line.middle)},
                     {"first_time_s", line.first},
                     {"last_time_s", line.last}});
  }
  return lines;
}

Json dry_spots_of(const Case& input, const FillResult& result) {
  Json spots = Json::array();
  const std::vector<bool> has_gate = dry_spots_with_gate(input.problem, result);
  for (std::size_t i = 0; i < result.dry_spots.size(); ++i) {
    const DrySpot& spot = result.dry_spots[i];
    spots.push_back(
        {{"position_m", position_json(spot.position)},
         {"volume_m3", spot.volume},
         {"air_pressure_pa", spot.air_pressure},
         {"region", region_name(input, spot.region)},
         {"is_connected_to_gate", static_cast<bool>(has_gate[i])},
         {"is_sealed", spot.is_sealed},
         {"sealed_at_s", spot.is_sealed ? Json(spot.sealed_at) : Json()},
         {"halving_pressure_pa", spot.is_sealed ? Json(spot.halving_pressure) : Json()}});
  }
  return spots;
}

Json suspect_zones_of(const Case& input, const FillResult& result) {
  Json zones = Json::array();
  for (const SuspectZone& zone : result.suspect_zones) {
    zones.push_back({{"position_m", position_json(zone.position)},
                     {"volume_m3", zone.volume},
                     {"air_pressure_pa", zone.air_pressure},
                     {"sealed_at_s", zone.sealed_at},
                     {"region", region_name(input, zone.region)}});
  }
  return zones;
}

Json mould_of(const FillResult& result) {
  const std::optional<MouldLoad>& load = result.mould_load;
  if (!load) {
    return {};
  }
  const FibrePush& push = load->at_rest.fibres;
  return {{"peak_opening_force_n", load->peak_force},
          {"peak_opening_force_at_s", load->peak_force_at},
          {"end_opening_force_n", load->end_force},
          {"fibre_push_n", push.counted_area > 0 ? Json(push.force) : Json()},
          {"fibre_push_uncounted_area_m2", push.uncounted_area},
          {"peak_cavity_pressure_pa", load->peak_pressure},
          {"projected_area_m2", load->at_rest.projected_area},
          {"hold_down_force_n", load->hold_down_force},
          {"margin_n", load->hold_down_force - load->peak_force},
          {"opens_mould", load->hold_down_force > 0 ? Json(opens_mould(result)) : Json()},
          {"lifts_at_s", number_or_null(load->lifts_at)},
          {"head_pressure_at_lift_pa", number_or_null(load->head_pressure_at_lift)}};
}

/// What the layup of a region adds to its data.
void add_layup(const Case& input, std::size_t region, Json& data) {
  if (region < input.layups.size() && input.layups[region]) {
    const ClosedStack& stack = input.layups[region]->stack;
    data["ply_volume_fraction"] = stack.ply_volume_fraction;
    data["fibre_areal_weight_kg_per_m2"] = stack.areal_weight;
    data["closing_pressure_pa"] = number_or_null(stack.closing_pressure);
  }
}

/// What differs over a region, where anything does.
void add_spread(const Case& input, RegionId region, Json& data) {
  data["thickness_m"] = input.problem.regions[region.position()].thickness;
  if (input.problem.reinforcement.empty()) {
    return;
  }
  const RegionSpread spread = region_spread(input.problem, region);
  data["least_thickness_m"] = spread.thickness.least;
  data["largest_thickness_m"] = spread.thickness.most;
  data["least_fibre_volume_fraction"] = spread.fibre_volume_fraction.least;
  data["largest_fibre_volume_fraction"] = spread.fibre_volume_fraction.most;
  if (spread.sheared_most.valid()) {
    data["largest_shear_rad"] = std::abs(spread.shear);
    data["largest_shear_position_m"] =
        position_json(element_centre(input.problem.mesh, spread.sheared_most));
  }
}

Json mesh_of(const Case& input, const FillResult& result) {
  Json regions = Json::array();
  for (std::size_t index = 0; index < result.regions.size(); ++index) {
    const RegionFacts& facts = result.regions[index];
    regions.push_back(
        {{"name", facts.name},
         {"area_m2", facts.area},
         {"pore_volume_m3", facts.pore_volume},
         {"fibre_volume_fraction", fibre_volume_fraction(input.problem.regions[index])}});
    add_spread(input, RegionId(index), regions.back());
    add_layup(input, index, regions.back());
  }
  return {{"nodes", input.problem.mesh.positions.size()},
          {"elements", input.problem.mesh.elements.size()},
          {"area_m2", result.area},
          {"regions", regions}};
}

Json network_of(const NetworkQuality& network) {
  return {{"edges", network.edges},
          {"flipped", network.flipped},
          {"limited", network.limited},
          {"limited_fraction", network.limited_fraction}};
}

Json work_of(const WorkFacts& work, const RunCost& cost) {
  return {{"steps", work.steps},
          {"linear_solves", work.linear_solves},
          {"linear_iterations", work.linear_iterations},
          {"largest_residual", work.largest_residual},
          {"wall_s", cost.wall_time},
          {"peak_memory_bytes", cost.peak_memory}};
}

/// Adds what was asked, so that a summary can be understood away from its case file.
void add_input(Json& summary, const Case& input, const FillResult& result) {
  Json values = Json::array();
  for (const UsedValue& value : input.values) {
    values.push_back({{"key", value.key}, {"value", value.value}, {"given", value.given}});
  }
  summary["inputs"] = values;
  summary["notes"] = input.notes;
  summary["warnings"] = all_warnings(input, result);
}

void add_flow(Json& summary, const FillProblem& problem, const FillResult& result) {
  summary["fill_time_s"] = number_or_null(result.fill_time);
  summary["end_time_s"] = result.end_time;
  summary["bleeding"] = result.bleeding
                            ? Json{{"ended_at_s", number_or_null(result.bleeding->ended_at)},
                                   {"reason", reason_word(result.bleeding->reason)}}
                            : Json();
  summary["filled_fraction"] = result.filled_fraction;
  summary["pore_volume_m3"] = result.pore_volume;
  summary["injected_m3"] = result.injected;
  summary["bled_m3"] = result.bled;
  summary["resin_in_part_m3"] = result.resin_in_part;
  summary["mass_balance_error"] = result.mass_balance_error;
  summary["peak_head_pressure_pa"] = peak_at_head(problem, result);
  summary["peak_head_pressure_till_99_percent_pa"] = peak_till_near_end(problem, result);
  summary["time_at_cap_s"] = result.time_at_cap;
  summary["time_cap_reached_s"] = number_or_null(result.time_cap_reached);
  const FlowEnds flow = flow_ends(result.history);
  summary["flow_after_1_percent_of_time_m3_per_s"] = flow.start;
  summary["flow_at_99_percent_m3_per_s"] = flow.end;
}

bool may_exceed(const Injector& pump, double pressure) {
  if (!pump.pressure_cap) {
    return true;
  }
  return *pump.pressure_cap > pressure ||
         std::ranges::any_of(pump.stages, [pressure](const InjectorStage& stage) {
           return stage.pressure_cap.value_or(pressure) > pressure;
         });
}

/// A setting that lets the push at rest become too much: "the cap", "the pressure of gate B", and
/// below what it does not [Pa].
struct Setting {
  std::string name;
  std::optional<std::size_t> own_gate;
  double limit;
};

std::vector<Setting> settings_above(const FillProblem& problem, double pressure) {
  std::vector<Setting> settings;
  const auto add = [&](const Injector& pump, std::string name, std::optional<std::size_t> gate) {
    const double limit = pressure - rise_of_head(problem, gate);
    if (may_exceed(pump, limit)) {
      settings.push_back({std::move(name), gate, limit});
    }
  };
  if (has_common_pump(problem)) {
    add(problem.injector, "the cap", std::nullopt);
  }
  for (std::size_t g = 0; g < problem.gates.size(); ++g) {
    if (const auto& own = problem.gates[g].own_injector) {
      const bool is_held = !own->flow_rate && own->pressure_cap;
      add(*own, (is_held ? "the pressure of gate " : "the cap of gate ") + problem.gates[g].name,
          g);
    }
  }
  return settings;
}

/// "the cap and the pressure of gate B below 1.2 bar"; each with its own if they stand at different
/// heights.
std::string below_limits(const std::vector<Setting>& settings) {
  const bool is_one_limit = std::ranges::all_of(settings, [&](const Setting& setting) {
    return std::abs(setting.limit - settings.front().limit) <= 1e-9 * std::abs(setting.limit);
  });
  std::vector<std::string> parts;
  for (const Setting& setting : settings) {
    parts.push_back(setting.name + (is_one_limit ? "" : " below " + as_bar_at_most(setting.limit)));
  }
  return enumeration(parts, " and ") +
         (is_one_limit ? " below " + as_bar_at_most(settings.front().limit) : "");
}

/// Below what pressure the full part keeps the mould shut, a sentence up to "or"; where that says
/// nothing of the filling it says so: with gates at different heights more may push on the way than
/// at rest.
std::string safe_cap_text(const FillProblem& problem, const FillResult& result, double head) {
  constexpr double to_rounding = 1.001;
  const MouldLoad& load = *result.mould_load;
  const std::vector<Setting> settings = settings_above(problem, head);
  if (settings.empty() || load.peak_force > to_rounding * push_at_highest_head(problem, result)) {
    return " More pushes on the way than in the full part at rest, so that no safe cap can be "
           "told: try a lower one, or ";
  }
  const std::string stays = " With " + below_limits(settings) + " it stays shut, ";
  if (has_one_pump(problem) &&
      pressure_to_the_top(problem, settings.front().own_gate) >= settings.front().limit) {
    return stays + "but that does not lift the resin to the top of the part: ";
  }
  return stays + "even if the " + (has_one_pump(problem) ? "pump stays" : "pumps stay") +
         " on; whether the part fills with that, a fill of the case with it tells. Or ";
}

/// "The head is at 1.20 bar then."; of several pumps that with the highest head.
std::string head_at_lift_text(const FillProblem& problem, const FillResult& result) {
  const std::string at = " is at " + as_bar(*result.mould_load->head_pressure_at_lift) + " then.";
  const std::vector<CoursePump> pumps = course_pumps(problem);
  const std::vector<CoursePoint> points = course_points(problem, result);
  const auto point = std::ranges::find_if(points, [&](const CoursePoint& each) {
    return each.time > 0 && each.time >= *result.mould_load->lifts_at;
  });
  if (pumps.size() < 2 || point == points.end()) {
    return " The head" + at;
  }
  const auto highest = std::ranges::max_element(point->pumps, {}, [](const PumpReading& reading) {
    return std::pair(reading.flow_rate > 0, reading.pressure);
  });
  const std::string name =
      place_of_head(problem, pumps[static_cast<std::size_t>(highest - point->pumps.begin())]);
  return " " + with_capital(name) + at;
}

/// Empty if the mould stays shut, or if it is not said what holds it.
std::string lift_warning(const FillProblem& problem, const FillResult& result) {
  if (!opens_mould(result)) {
    return "";
  }
  const std::optional<MouldLoad>& load = result.mould_load;
  std::string text = "The mould is pushed open";
  if (*load->lifts_at > 0) {
    text += " at about " + as_minutes(*load->lifts_at);
  } else {
    text += " before the injection begins";
  }
  text += ", with more than the " + as_kilonewtons(load->hold_down_force) + " that hold it shut.";
  if (load->head_pressure_at_lift) {
    text += head_at_lift_text(problem, result);
  }
  if (load->at_rest.fibres.force > load->hold_down_force) {
    return text + " The fibres alone push harder than that: hold the mould shut harder, within the "
                  "rating of mould and clamps, or put less fibre into the cavity.";
  }
  const std::string harder =
      "hold the mould shut harder, within the rating of mould and clamps."; // common practice
  const auto head = load->at_rest.highest_head(load->hold_down_force);
  if (head && problem.gravity && !(*head > 0)) {
    return text +
           " The weight of the resin in the full part alone pushes harder than that: " + harder;
  }
  if (!(head > 0.0)) {
    return text + " Only more vacuum in the cavity could keep it shut, or " + harder;
  }
  return text + safe_cap_text(problem, result, *head) + harder;
}

} // namespace

std::vector<MeetingLine> lines_met(const FillProblem& problem, const FillResult& result) {
  std::vector<MeetingLine> lines = meeting_lines(problem, result);
  std::erase_if(lines, [&](const MeetingLine& line) {
    return std::ranges::any_of(line.gates, [&](std::int32_t gate) {
      return !(result.gates[static_cast<std::size_t>(gate)].injected > 0);
    });
  });
  return lines;
}

std::string_view reason_word(ShortReason reason) {
  switch (reason) {
  case ShortReason::none:
    return "";
  case ShortReason::pressure:
    return "pressure";
  case ShortReason::gel:
    return "gel";
  case ShortReason::trapped_air:
    return "trapped air";
  case ShortReason::no_path:
    return "no path";
  case ShortReason::time_limit:
    return "time limit";
  case ShortReason::interrupted:
    return "interrupted";
  }
  return "";
}

ShortReason reason_named(std::string_view word) {
  for (const ShortReason reason :
       {ShortReason::none, ShortReason::pressure, ShortReason::gel, ShortReason::trapped_air,
        ShortReason::no_path, ShortReason::time_limit}) {
    if (word == reason_word(reason)) {
      return reason;
    }
  }
  throw InputError("found reason " + quoted_text(word) + ", expected one of a filling");
}

std::string_view reason_sentence(ShortReason reason) {
  switch (reason) {
  case ShortReason::none:
    return "";
  case ShortReason::pressure:
    return "The pressure at the mixing head is not high enough to drive the resin any further.";
  case ShortReason::gel:
    return "The resin gels before the part is full.";
  case ShortReason::trapped_air:
    return "Air is shut in, and the resin cannot compress it any further.";
  case ShortReason::no_path:
    return "Part of the cavity has no connection to any gate.";
  case ShortReason::time_limit:
    return "The time limit set for this run ends before the part is full.";
  case ShortReason::interrupted:
    return "The run was interrupted before the part was full.";
  }
  return "";
}

std::vector<std::string> all_warnings(const Case& input, const FillResult& result) {
  std::vector<std::string> warnings = input.warnings;
  const double largest_limited_fraction = 0.01; // own choice: far below the scatter of permeability
  if (result.network.limited_fraction > largest_limited_fraction) {
    warnings.push_back(
        "The mesh does not suit: by the shape of its elements, and the directions of "
        "the permeability in them, " +
        as_percent(result.network.limited_fraction) +
        " of the flow network had to be limited. A finer or more regular mesh there "
        "makes the prediction surer.");
  }
  const double largest_imbalance = 1e-6; // own choice: a sound run stays below 1e-8
  if (!(std::abs(result.mass_balance_error) <= largest_imbalance)) {
    warnings.push_back("Resin is lost or made in the computation: " +
                       number_text(result.mass_balance_error) + " of what was injected.");
  }
  if (const std::string lift = lift_warning(input.problem, result); !lift.empty()) {
    warnings.push_back(lift);
  }
  for (const auto& more : {gel_warnings(input, result), heat_warnings(input, result),
                           machine_warnings(input, result)}) {
    warnings.insert(warnings.end(), more.begin(), more.end());
  }
  return warnings;
}

Json summarise(const Case& input, const FillResult& result, const RunCost& cost,
               const std::optional<CureSearch>& search) {
  Json summary;
  summary["title"] = input.title;
  summary["program"] = "tidemark " TIDEMARK_VERSION;
  summary["case_file"] = input.file.generic_string();
  summary["mesh_file"] = input.mesh_file.generic_string();
  summary["verdict"] = result.verdict == Verdict::filled ? "filled" : "short";
  summary["reason"] = reason_word(result.reason);
  summary["reason_text"] = short_reason_text(input, result);
  add_flow(summary, input.problem, result);
  summary["gates"] = gates_of(input.problem, result);
  summary["vents"] = vents_of(input.problem, result);
  summary["last_filled"] = last_filled_of(input, result);
  summary["meeting_lines"] = meeting_lines_of(input, result);
  summary["dry_spots"] = dry_spots_of(input, result);
  summary["suspect_zones"] = suspect_zones_of(input, result);
  summary["mould"] = mould_of(result);
  summary["resin"] = resin_use_json(resin_use(input, result));
  summary["age"] = age_json(input, result);
  summary["heat"] = heat_json(input, result);
  summary["cure_search"] = search ? cure_search_json(*search) : Json();
  summary["mesh"] = mesh_of(input, result);
  summary["network"] = network_of(result.network);
  summary["work"] = work_of(result.work, cost);
  add_input(summary, input, result);
  return summary;
}

std::string summary_text(const Json& summary) {
  // File names need not be UTF-8: what is not becomes the replacement character.
  return summary.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

} // namespace tidemark
