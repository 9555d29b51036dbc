#include "io/verdict_text.hpp"

#include "io/bleeding_text.hpp"
#include "io/closing_direction.hpp"
#include "io/filling_course.hpp"
#include "io/gel_text.hpp"
#include "io/heat_text.hpp"
#include "io/mesh_pieces.hpp"
#include "io/mould_text.hpp"
#include "io/resin_use.hpp"
#include "io/shop_units.hpp"
#include "io/short_reason.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/vent_arrival.hpp"
#include "io/wording.hpp"
#include "solver/channel.hpp"
#include "solver/mould_load.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <iterator>
#include <limits>

namespace tidemark {

namespace {

const std::size_t longest_list = 5; // places read aloud; all are in the summary

/// Filled fraction at a time, straight between the rows of the history.
double fraction_at(const std::vector<HistoryRow>& history, double time) {
  double time_before = 0;
  double fraction_before = 0;
  for (const HistoryRow& row : history) {
    if (row.time >= time) {
      const double span = row.time - time_before;
      const double share = span > 0 ? (time - time_before) / span : 1;
      return fraction_before + share * (row.filled_fraction - fraction_before);
    }
    time_before = row.time;
    fraction_before = row.filled_fraction;
  }
  return fraction_before;
}

/// No resin flows: said instead of times and pressures, which are none.
std::string no_flow_text(const Case& input, const FillResult& result) {
  const std::optional<double>& cap = input.problem.injector.pressure_cap;
  if (result.reason == ShortReason::pressure && cap && *cap <= front_pressure(input.problem)) {
    return "The part does not fill. No resin flows: the pressure cap of " + as_bar(*cap) +
           " is not above the pressure in the dry cavity, " +
           as_bar(front_pressure(input.problem)) + ".\n";
  }
  return "The part does not fill. No resin flows. " + std::string(reason_sentence(result.reason)) +
         "\n";
}

/// Whether the filling might have gone on: what did not happen may happen yet.
bool was_broken_off(const FillResult& result) {
  return result.reason == ShortReason::interrupted || result.reason == ShortReason::time_limit;
}

std::string outcome_text(const Case& input, const FillResult& result) {
  if (result.verdict == Verdict::filled) {
    const std::string bleeding = bleeding_text(input.problem, result);
    return std::string("The part fills") +
           (opens_mould(result) ? ", but the mould is pushed open" : "") + ". It takes about " +
           as_minutes(result.fill_time.value_or(result.end_time)) + ".\n" +
           (bleeding.empty() ? "" : bleeding + "\n");
  }
  if (result.reason == ShortReason::interrupted) {
    return "It is not known whether the part fills. " + short_reason_text(input, result) +
           "\nBy then, after " + as_minutes(result.end_time) + ", " +
           as_percent(result.filled_fraction) + " of it was filled.\n";
  }
  return "The part does not fill. " + short_reason_text(input, result) + "\n" + end_text(result) +
         "\n";
}

std::string flow_text(const FillResult& result) {
  if (result.history.empty()) {
    return "";
  }
  const FlowEnds flow = flow_ends(result.history);
  return "The flow goes from " + as_litres_per_minute(flow.start) + ", after 1 % of the time, to " +
         as_litres_per_minute(flow.end) +
         (was_broken_off(result) ? ", shortly before the run ended.\n"
                                 : ", before the last 1 % of the resin.\n");
}

bool has_cap(const Injector& injector) {
  return injector.pressure_cap || stages_set_cap(injector);
}

bool has_flow_rate(const Injector& pump) {
  return pump.flow_rate || std::ranges::any_of(pump.stages, [](const InjectorStage& stage) {
           return stage.flow_rate.has_value();
         });
}

/// "The pressure cap of 1.20 bar"; where it has to be told whose, "The cap of gate G2's pump, 1.00
/// bar,".
std::string cap_name(const FillProblem& problem, const CoursePump& pump) {
  const Injector& injector = injector_of(problem, pump);
  const bool may_change = stages_set_cap(injector) || !injector.pressure_cap;
  const std::string height = may_change ? "" : as_bar(*injector.pressure_cap);
  if (course_pumps(problem).size() < 2 && !pump.gate) {
    return "The pressure cap of " + (may_change ? "the moment" : height);
  }
  const std::string whose =
      pump.gate ? "gate " + problem.gates[*pump.gate].name + "'s pump" : "the mixing head";
  return may_change ? "The cap of the moment of " + whose
                    : "The cap of " + whose + ", " + height + ",";
}

/// "The cap of gate G2's pump, 1.00 bar, is reached at 6:40 min and holds it back for 14:41 min.":
/// of a pump that comes to its cap.
std::string cap_reached_text(const FillProblem& problem, const FillResult& result,
                             const CoursePump& pump) {
  const CapTime at_cap = cap_time_of(result, pump);
  const std::string start = cap_name(problem, pump) + " is reached ";
  if (result.bleeding && *at_cap.reached >= result.fill_time.value_or(result.end_time)) {
    return start + "only at " + as_minutes(*at_cap.reached) +
           ", while the vents of the full part bleed.\n";
  }
  const bool is_one = course_pumps(problem).size() < 2;
  const double fraction = fraction_at(result.history, *at_cap.reached);
  return start +
         (*at_cap.reached == 0 ? "from the start"
                               : "at " + as_minutes(*at_cap.reached) +
                                     (is_one ? " with " + as_percent(fraction) + " filled" : "")) +
         " and holds " + (is_one && !pump.gate ? "the pump" : "it") + " back for " +
         as_minutes(at_cap.duration) + (result.bleeding ? " of the filling.\n" : ".\n");
}

/// Of gates with a pump of their own that has a flow rate and comes to its cap.
std::string own_caps_text(const FillProblem& problem, const FillResult& result) {
  std::string text;
  for (const CoursePump& pump : course_pumps(problem)) {
    const Injector& injector = injector_of(problem, pump);
    const bool is_told = pump.gate && has_cap(injector) && has_flow_rate(injector) &&
                         cap_time_of(result, pump).reached;
    text += is_told ? cap_reached_text(problem, result, pump) : "";
  }
  return text;
}

/// Of the common pump.
std::string cap_text(const FillProblem& problem, const FillResult& result) {
  const Injector& injector = problem.injector;
  const std::optional<double>& cap = injector.pressure_cap;
  const bool is_one = course_pumps(problem).size() < 2;
  const bool is_staged = !injector.stages.empty();
  if (!has_cap(injector)) {
    return is_one ? "No pressure cap is set.\n" : "No pressure cap is set at the mixing head.\n";
  }
  if (!result.time_cap_reached) {
    constexpr double near_cap = 1 - 1e-9;
    const bool is_brief = result.time_at_cap > 0 &&
                          result.time_at_cap < 0.01 * result.fill_time.value_or(result.end_time);
    const bool at_last =
        is_brief && cap && !is_staged && peak_at_head(problem, result) >= near_cap * *cap;
    return cap_name(problem, {}) +
           (at_last ? " is reached only while the last cells fill.\n" : " is not reached.\n");
  }
  if (!injector.flow_rate && !is_staged) {
    constexpr double nearly_all = 0.99;
    const bool is_all_the_time =
        result.time_at_cap >= nearly_all * result.fill_time.value_or(result.end_time);
    return std::string("No flow rate is set") +
           (is_one ? ": the head" : " at the mixing head: it") + " is held at its cap of " +
           as_bar(*cap) +
           (is_all_the_time
                ? " from start to end.\n"
                : " while it gives resin, " + as_minutes(result.time_at_cap) + " in all.\n");
  }
  return cap_reached_text(problem, result, {});
}

/// Whether the flow is not that which was set.
bool any_cap_reached(const FillProblem& problem, const FillResult& result) {
  return std::ranges::any_of(course_pumps(problem), [&](const CoursePump& pump) {
    return has_cap(injector_of(problem, pump)) && cap_time_of(result, pump).reached;
  });
}

std::string pressure_text(const Case& input, const FillResult& result) {
  const FillProblem& problem = input.problem;
  const std::string own_caps = own_caps_text(problem, result);
  if (!has_common_pump(problem)) {
    return own_caps + flow_text(result);
  }
  const double peak = peak_at_head(problem, result);
  const double till_near_end = peak_till_near_end(problem, result);
  return "The pressure at the mixing head peaks at " + as_bar(peak) + ".\n" +
         (peaks_at_the_last(peak, till_near_end)
              ? "Until 99 % of the resin is in, it is " + as_bar(till_near_end) +
                    " at most: the rest comes with the last 1 %, and is as rough as the mesh "
                    "there.\n"
              : "") +
         cap_text(problem, result) + own_caps +
         (any_cap_reached(problem, result) ? flow_text(result) : "");
}

std::string with_mass(double volume, const std::optional<double>& density) {
  return as_litres(volume) + (density ? " (" + as_kilograms(volume * *density) + ")" : "");
}

double channels_volume(const FillProblem& problem) {
  double volume = 0;
  for (const Channel& channel : problem.channels) {
    volume += channel_size(problem.mesh, channel).volume;
  }
  return volume;
}

std::string resin_text(const Case& input, const FillResult& result) {
  const std::optional<double>& density = input.problem.resin.density;
  std::string text = "Resin in the part: " + with_mass(result.resin_in_part, density) + " of the " +
                     as_litres(result.pore_volume) + " it can take.";
  if (const double channels = channels_volume(input.problem); channels > 0) {
    text += " Channels and gaps take " + with_mass(channels, density) + " of that.";
  }
  if (result.bled > 0) {
    text += " Bled at the vents: " + with_mass(result.bled, density) + ".";
  }
  const bool is_whole = result.verdict == Verdict::filled; // else it would be for half a part
  const std::string use = is_whole ? resin_use_text(input, resin_use(input, result)) : "";
  return text + (input.resin.waste > 0 ? "\n" : " Hose, mixer and bucket come on top.\n") + use;
}

/// A moment set by time is said as it was set, one that follows the front is a prediction; at a
/// port of several nodes it is that of the last. gate: whose moment it is.
std::string moment_text(const FillProblem& problem, const Moment& moment, double happened_at,
                        std::size_t gate) {
  if (moment.time) {
    return "at " + as_minutes(happened_at);
  }
  const PortRef& port = *moment.reached;
  const std::string when = "at about " + as_minutes(happened_at);
  if (!is_of_several_places(problem, port)) {
    return when;
  }
  const bool is_gate = port.kind == PortRef::Kind::gate;
  return when + ", when the resin has come to all of " +
         (is_gate && port.index == gate ? std::string("it")
          : is_gate                     ? "gate " + problem.gates[port.index].name
                                        : "vent " + problem.vents[port.index].name);
}

bool is_moment(const Moment& moment) {
  return moment.time.value_or(0) > 0 || moment.reached;
}

/// When a gate that has moments of its own opens and closes; empty for one open all the time.
std::string gate_moments_text(const FillProblem& problem, const FillResult& whole, std::size_t g) {
  const Gate& gate = problem.gates[g];
  const GateResult& result = whole.gates[g];
  std::string text;
  if (is_moment(gate.opens) && result.opened_at) {
    text += " It opens " + moment_text(problem, gate.opens, *result.opened_at, g) + ".";
  }
  if (is_moment(gate.closes) && result.closed_at) {
    text += has_closed(problem, whole, g)
                ? " It closes " + moment_text(problem, gate.closes, *result.closed_at, g) + "."
                : " It is still open at the end.";
  }
  return text;
}

/// "takes 2.52 L, at up to 1.20 bar. While ...", or that a gate joined to others has given back
/// more than it took: the pressure of another pump's resin at a gate that it pushes shut is not
/// that of the gate's own.
std::string gate_course_text(const FillProblem& problem, const FillResult& result, std::size_t g) {
  const GatePressures highest = gate_pressures(problem, result, g);
  const double injected = result.gates[g].injected;
  const std::string takes = highest.giving ? (injected < 0 ? "gives back " : "takes ") +
                                                 as_litres(std::abs(injected)) + ", at up to " +
                                                 as_bar(*highest.giving) + "."
                                           : std::string("takes no resin.");
  return takes + (highest.shut ? " While the resin in the part pushes it shut, up to " +
                                     as_bar(*highest.shut) + " stand there."
                               : "");
}

std::string gates_text(const FillProblem& problem, const FillResult& result) {
  std::string text;
  bool has_moments = false;
  for (std::size_t g = 0; g < result.gates.size(); ++g) {
    const GateResult& gate = result.gates[g];
    const std::string moments = gate_moments_text(problem, result, g);
    has_moments = has_moments || !gate.opened_at || !moments.empty();
    text += "Gate " + gate.name;
    text += gate.opened_at ? " " + gate_course_text(problem, result, g) + moments + "\n"
                           : " never opens.\n";
  }
  // One gate of the common pump takes it all at the pressure of the head, as said above.
  const bool is_plain = result.gates.size() == 1 && has_common_pump(problem) &&
                        problem.injector.line.empty() && !has_moments;
  return is_plain ? "" : text;
}

/// "is reached at 4:51 min", "is first reached at 6:23 min, all of it at 8:56 min".
std::string arrival_text(const VentArrival& arrival, bool was_broken_off) {
  if (!arrival.first) {
    return was_broken_off ? "is not reached by then" : "is never reached";
  }
  const std::string first = as_minutes(*arrival.first);
  if (!comes_bit_by_bit(arrival)) {
    return "is reached at " + first;
  }
  return "is first reached at " + first +
         (arrival.all      ? ", all of it at " + as_minutes(*arrival.all)
          : was_broken_off ? ", not all of it by then"
                           : ", all of it never");
}

std::string vents_text(const FillProblem& problem, const FillResult& result) {
  std::string text;
  for (std::size_t v = 0; v < result.vents.size(); ++v) {
    text += "Vent " + result.vents[v].name + " " +
            arrival_text(vent_arrival(problem, result, v), was_broken_off(result)) + "." +
            bled_text(problem, result, v) + "\n";
  }
  return text;
}

std::string rest_text(std::size_t count) {
  return count > longest_list
             ? "  and " + counted(count - longest_list, "more place", "more places") +
                   ", see summary.json\n"
             : "";
}

/// Straight-line distance from a node to the nearest node of any vent.
struct VentDistance {
  const Vent* vent; // null without a vent
  double distance;  // [m]
};

VentDistance nearest_vent(const FillProblem& problem, NodeId node) {
  VentDistance nearest{nullptr, std::numeric_limits<double>::infinity()};
  for (const Vent& vent : problem.vents) {
    for (const NodeId other : vent.nodes) {
      const double distance = (problem.mesh.positions[other] - problem.mesh.positions[node]).norm();
      if (distance < nearest.distance) {
        nearest = {&vent, distance};
      }
    }
  }
  return nearest;
}

std::string vent_distance_text(const FillProblem& problem, NodeId node) {
  const auto [vent, distance] = nearest_vent(problem, node);
  if (vent == nullptr) {
    return "";
  }
  return (distance > 0 ? ", " + as_millimetres(distance) + " from" : std::string(", at")) +
         " vent " + vent->name;
}

/// Where all that is dry is kept vented, the verdict must not hide where air has no way out.
std::string air_text(const FillProblem& problem, const FillResult& result) {
  if (problem.sealed_air) {
    return "";
  }
  if (problem.vents.empty()) {
    return "No vent is given. Air shut in is not computed: each of these places needs a vent to "
           "fill as foretold.\n";
  }
  const bool all_at_vents = std::ranges::all_of(result.last_filled, [&](const LastFilled& place) {
    return nearest_vent(problem, place.node).distance == 0;
  });
  return all_at_vents ? ""
                      : "Air shut in is not computed: a place of these without a vent may stay "
                        "dry.\n";
}

std::string last_filled_text(const Case& input, const FillResult& result) {
  if (result.last_filled.empty()) {
    return "";
  }
  std::string text = result.verdict == Verdict::filled ? "The last places to fill:\n"
                     : result.dry_spots.empty()
                         ? "The places the resin came to last:\n"
                         : "The places the resin came to last, apart from round what stayed dry:\n";
  for (std::size_t i = 0; i < std::min(result.last_filled.size(), longest_list); ++i) {
    const LastFilled& place = result.last_filled[i];
    text += "  " + std::to_string(i + 1) + ": " + as_minutes(place.time) + " at " +
            place_text(input, input.problem.mesh.positions[place.node]) + " in region " +
            region_name(input, place.region) + vent_distance_text(input.problem, place.node) + "\n";
  }
  return text + rest_text(result.last_filled.size()) + air_text(input.problem, result);
}

/// How many lines there are on which resins of different gates meet, and where the longest is.
std::string meeting_text(const Case& input, const FillResult& result) {
  const FillProblem& problem = input.problem;
  const std::vector<MeetingLine> lines = lines_met(problem, result);
  if (lines.empty()) {
    return "";
  }
  const MeetingLine& line = *std::ranges::max_element(lines, {}, &MeetingLine::length);
  const auto name = [&](std::size_t side) {
    return problem.gates[static_cast<std::size_t>(line.gates[side])].name;
  };
  const std::string gates = "gates " + name(0) + " and " + name(1);
  const std::string first = as_minutes(line.first);
  const std::string last = as_minutes(line.last);
  const std::string rest = ", with its middle at " + place_text(input, line.middle) + ", " +
                           (first == last ? "at " + first : "from " + first + " to " + last) +
                           ".\n";
  return lines.size() == 1
             ? "The resins of " + gates + " meet along a line of " + as_millimetres(line.length) +
                   rest
             : "Resins of different gates meet along " + std::to_string(lines.size()) +
                   " lines, see summary.json. The longest is " + as_millimetres(line.length) +
                   ", of " + gates + rest;
}

/// Place first: it is where the engineer looks on the part.
std::string sealed_spot_text(const Case& input, const DrySpot& spot) {
  return "at " + place_text(input, spot.position) + " in region " +
         region_name(input, spot.region) + ": " + as_litres(spot.volume) + " of air shut in, at " +
         as_bar(spot.air_pressure) + ". Resin at " + as_bar(spot.halving_pressure) +
         " there would halve it.\n";
}

std::string dry_spots_text(const Case& input, const FillResult& result) {
  if (result.dry_spots.empty()) {
    return "";
  }
  std::string text = was_broken_off(result) ? "Still dry by then:\n" : "Left dry:\n";
  const std::vector<bool> has_gate = dry_spots_with_gate(input.problem, result);
  for (std::size_t i = 0; i < std::min(result.dry_spots.size(), longest_list); ++i) {
    const DrySpot& spot = result.dry_spots[i];
    text += "  " + letter_name(i) + ": ";
    text += spot.is_sealed
                ? sealed_spot_text(input, spot)
                : as_litres(spot.volume) + " around " + place_text(input, spot.position) +
                      " in region " + region_name(input, spot.region) +
                      (has_gate[i] ? "" : ", which no gate is connected to") + "\n";
  }
  return text + rest_text(result.dry_spots.size());
}

std::string suspect_zones_text(const Case& input, const FillResult& result) {
  if (result.suspect_zones.empty()) {
    return "";
  }
  std::string text = "Look here on the first part. Air was shut in and closed up, under vacuum or "
                     "too small for the mesh to tell:\n";
  for (std::size_t i = 0; i < std::min(result.suspect_zones.size(), longest_list); ++i) {
    const SuspectZone& zone = result.suspect_zones[i];
    text += "  " + letter_name(result.dry_spots.size() + i) + ": at " +
            place_text(input, zone.position) + " in region " + region_name(input, zone.region) +
            ": " + as_small_litres(zone.volume) + " at " + as_bar(zone.air_pressure) +
            ", shut in at about " + as_minutes(zone.sealed_at) + "\n";
  }
  return text + rest_text(result.suspect_zones.size());
}

/// A full part whose vents are shut comes to the pressure of the head all over but for the weight
/// of the resin, if the pump stays on.
std::string mould_after_fill_text(const FillProblem& problem, const FillResult& result) {
  const bool all_shut = std::ranges::all_of(
      problem.vents, [](const Vent& vent) { return std::isfinite(vent.bleed); });
  const bool bleeds_on = result.bleeding && !result.bleeding->ended_at;
  const auto rest = left_on(problem, result);
  if (result.verdict != Verdict::filled || !all_shut || bleeds_on || !rest || !(rest->cap > 0)) {
    return "";
  }
  const double force = rest->force;
  const auto shared = std::ranges::count_if(
      problem.gates, [](const Gate& gate) { return !gate.own_injector.has_value(); });
  const char* const height = !problem.gravity            ? ""
                             : shared > 1 && !rest->gate ? " at the mean height of the gates"
                                                         : " at the height of the gate";
  std::string text = "Left on after that, the pump" +
                     (rest->gate              ? " of gate " + problem.gates[*rest->gate].name
                      : has_one_pump(problem) ? ""
                                              : " of the mixing head") +
                     " brings the whole cavity to " + as_bar(rest->cap) + height +
                     ", and the push to " + as_kilonewtons(force);
  const double held = result.mould_load->hold_down_force;
  if (held > 0) {
    text += ": " + as_kilonewtons(std::abs(held - force)) +
            (force <= held     ? " to spare even then"
             : result.bleeding ? " more than holds it shut. Stop the pump when the vents have bled"
                               : " more than holds it shut. Stop the pump when the part is full");
  }
  return text + ".\n";
}

/// Behind a gelled front the pressure becomes that of the head all over.
std::string mould_after_gel_text(const FillProblem& problem, const FillResult& result) {
  const auto force = push_behind_gel(problem, result);
  if (!force || !(*force > result.mould_load->peak_force)) {
    return "";
  }
  const double held = result.mould_load->hold_down_force;
  return "Left on after the gel, the pump brings all that is wet to " +
         as_bar(left_on(problem, result)->cap) + ", and the push to " + as_kilonewtons(*force) +
         (held <= 0 ? ""
                    : ": " + as_kilonewtons(std::abs(held - *force)) +
                          (*force <= held ? " to spare even then"
                                          : " more than holds it shut. Stop the pump before")) +
         ".\n";
}

/// A column of resin pushes on when the pump is off.
std::string mould_without_pump_text(const FillProblem& problem, const FillResult& result) {
  const auto force = push_of_weight(problem, result);
  const double held = result.mould_load->hold_down_force;
  const bool has_fibres = result.mould_load->at_rest.fibres.force > 0;
  return !force
             ? ""
             : "With the pump off and no pressure left at the gates, the weight of the resin "
               "in the full part" +
                   std::string(has_fibres ? " and the fibres push with " : " alone pushes with ") +
                   as_kilonewtons(*force) +
                   (held > 0 ? ": " + as_kilonewtons(std::abs(held - *force)) +
                                   (*force > held ? " more than holds it shut" : " to spare")
                             : "") +
                   ".\n";
}

/// The push climbs steeply as the front closes at a vent: how far, the mesh cannot tell.
std::string last_push_text(const FillProblem& problem, const FillResult& result) {
  if (const auto most = untold_push(problem, result)) {
    return "It climbs while the last 1 % fills: the steps there are too coarse to tell how far "
           "beyond that, at most to " +
           as_kilonewtons(*most) + ".\n";
  }
  if (!is_full_at_peak(result) || !is_of_last_layer(result)) {
    return "";
  }
  const auto near_full = opening_force_when(result.history, near_end);
  return *near_full > 0
             ? "With 99 % of the resin in, it is " + as_kilonewtons(*near_full) +
                   ": the rest comes with the last 1 %, and is as rough as the mesh and the steps "
                   "there.\n"
             : "With 99 % of the resin in, nothing pushes it open yet: all of this force comes "
               "while the last 1 % fills, and depends on mesh and steps.\n";
}

/// What holds the mould shut against what pushes it open, a line.
std::string held_shut_text(const FillProblem& problem, const FillResult& result) {
  const MouldLoad& load = *result.mould_load;
  const double margin = load.hold_down_force - load.peak_force;
  const auto most = untold_push(problem, result);
  const bool is_untold = !load.lifts_at && most && *most > load.hold_down_force;
  return "It is held shut with " + as_kilonewtons(load.hold_down_force) + ": " +
         as_kilonewtons(std::abs(margin)) +
         (load.lifts_at ? " too little.\n"
          : is_untold   ? " more than the push computed, but less than it may climb to: whether it "
                          "opens as the last "
                          "1 % fills is not known.\n"
                        : " to spare.\n");
}

std::string mould_text(const FillProblem& problem, const FillResult& result) {
  if (!result.mould_load) {
    return "";
  }
  const MouldLoad& load = *result.mould_load;
  if (is_seen_edge_on(problem)) {
    return std::string("How hard the resin pushes the mould open cannot be told: ") + edge_on_text +
           ".\n";
  }
  const std::string after = mould_after_fill_text(problem, result) +
                            mould_after_gel_text(problem, result) +
                            mould_without_pump_text(problem, result);
  const std::string hidden = hidden_faces_text(load.at_rest);
  const std::string missing = uncounted_fibres_text(load.at_rest.fibres);
  const std::string uncounted = missing.empty() ? "" : " " + missing + ".";
  if (load.peak_force <= 0) {
    return std::string("The mould is not pushed open ") +
           (was_broken_off(result) ? "by then" : "during the filling") + ": " +
           why_not_opened(problem, load.at_rest.fibres) + "." + uncounted + "\n" + after;
  }
  const std::string shares = shares_of_force(load.at_rest.fibres, load.peak_force);
  const std::string when = load.peak_force_at >= result.end_time ? "at the end"
                           : load.peak_force_at > 0 ? "at about " + as_minutes(load.peak_force_at)
                                                    : "before the injection begins";
  std::string text = std::string(shares.empty() ? "The resin pushes on the mould to open it"
                                                : "Resin and fibres push the mould open") +
                     " with up to " + (was_broken_off(result) ? "(by then) " : "") +
                     as_kilonewtons(load.peak_force) + ", " + when +
                     (shares.empty() ? "" : ": " + shares) + "." + uncounted + " The cavity sees " +
                     as_bar(load.peak_pressure) + " at most.\n" + last_push_text(problem, result) +
                     (hidden.empty() ? "" : hidden + "\n");
  if (!(load.hold_down_force > 0)) {
    return text + "It is not said what holds the mould shut: it must bear more than that.\n" +
           after;
  }
  return text + held_shut_text(problem, result) + after;
}

/// How long no gate is open, after the first and before the end [s].
double time_all_shut(const FillProblem& problem, const FillResult& result) {
  std::vector<std::array<double, 2>> open; // [s]
  for (std::size_t g = 0; g < result.gates.size(); ++g) {
    const GateResult& gate = result.gates[g];
    if (gate.opened_at) {
      open.push_back(
          {*gate.opened_at, has_closed(problem, result, g) ? *gate.closed_at : result.end_time});
    }
  }
  std::ranges::sort(open);
  double shut = 0;
  double until = open.empty() ? result.end_time : open.front()[0];
  for (const auto& [opens, closes] : open) {
    shut += std::max(0.0, opens - until);
    until = std::max(until, closes);
  }
  return shut + std::max(0.0, result.end_time - until);
}

/// Whether no pump has a flow rate: all are held at a pressure.
bool are_held_at_pressure(const FillProblem& problem) {
  return std::ranges::none_of(problem.gates, [&](const Gate& gate) {
    return has_flow_rate(gate.own_injector ? *gate.own_injector : problem.injector);
  });
}

/// The pump that stood at its cap the longest; of those with a flow rate if there are any.
CoursePump longest_at_cap(const FillProblem& problem, const FillResult& result) {
  return std::ranges::max(course_pumps(problem), {}, [&](const CoursePump& pump) {
    return std::pair(has_flow_rate(injector_of(problem, pump)), cap_time_of(result, pump).duration);
  });
}

/// In accord with what cure_search_text says below it.
std::string gel_advice_text(const FillProblem& problem, const FillResult& result,
                            const std::optional<CureSearch>& search) {
  if (const double shut = time_all_shut(problem, result); shut > 0.5 * result.end_time) {
    return "What to look at: for " + as_minutes(shut) +
           " no gate is open. Keep one open longer, or open another one before\n  the last "
           "closes.\n";
  }
  const bool is_known = search && search->is_complete;
  const bool no_gel_helps = is_known && !search->gel_time &&
                            (!search->slowness || search->without_gel != ShortReason::none);
  const bool flow_helps = search && search->flow_factor;
  const bool no_flow_helps = is_known && search->flow_was_tried && !flow_helps;
  const std::string later_gel = no_gel_helps ? "" : " or a later gel";
  const CoursePump longest = longest_at_cap(problem, result);
  const bool is_held_back = cap_time_of(result, longest).duration > 0.5 * result.end_time;
  const std::string pump =
      longest.gate ? "the pump of gate " + problem.gates[*longest.gate].name : "the pump";
  if (is_held_back && !has_cap(injector_of(problem, longest))) {
    return "What to look at: " + pump + " stood at " + as_bar(result.peak_head_pressure) +
           ", more than any gives, for most of the time: set\n  the cap it has (pressure_cap). A "
           "gate nearer to the dry place, a runner, a thinner resin or a\n  more permeable "
           "reinforcement helps.\n";
  }
  if (is_held_back || are_held_at_pressure(problem)) {
    return std::string("What to look at: ") +
           (!is_held_back ? std::string("no flow rate is set, a pressure drives the resin")
            : flow_helps  ? "the cap held " + pump + " back for most of the time"
                          : "the cap held " + pump +
                               " back for most of the time, so more flow "
                               "changes little") +
           ".\n  A gate nearer to the dry place, a runner, a thinner resin" +
           (no_gel_helps ? " or a" : ", a") + " more permeable reinforcement" + later_gel +
           "\n  helps; so does a higher cap within the rating of the mould.\n";
  }
  const std::string start =
      "What to look at: the pump ran at its set flow rate for most of the time. ";
  return no_flow_helps ? start +
                             "With more flow it runs into\n  the cap: a higher cap, within what "
                             "mould and clamps stand," +
                             later_gel + " helps.\n"
                       : start + "A higher flow rate, as far as the cap\n  lets it," + later_gel +
                             " helps.\n";
}

/// Of a part that is short by gel: air that is shut in besides, which a later gel hardly lets out.
std::string air_beside_gel_text(const FillResult& result, const std::optional<CureSearch>& search) {
  double volume = 0;
  std::size_t count = 0;
  for (const DrySpot& spot : result.dry_spots) {
    volume += spot.is_sealed ? spot.volume : 0;
    count += spot.is_sealed ? 1 : 0;
  }
  if (count == 0) {
    return "";
  }
  const bool is_enough = search && (search->gel_time || search->slowness);
  const bool is_no_help = search && search->is_complete && !is_enough;
  const std::string start = "Air is shut in besides, " + as_litres(volume) +
                            (count == 1 ? "" : " in " + std::to_string(count) + " places");
  const std::string where = count == 1 ? " there" : " at each";
  return start + (is_enough ? ": a vent" + where + " helps as well.\n"
                            : ": it needs a vent" + where +
                                  (is_no_help ? ", whatever the gel time.\n" : ".\n"));
}

/// A vent that never closes and by whose pressure the air that is shut in stands: none, or the
/// first.
const Vent* vent_that_holds_air(const FillProblem& problem, const FillResult& result) {
  constexpr double about_alike = 0.05; // of the drive, own choice
  for (std::size_t v = 0; v < result.vents.size(); ++v) {
    const Vent& vent = problem.vents[v];
    const double drive = result.peak_head_pressure - vent.pressure;
    const auto stands_by_it = [&](const DrySpot& spot) {
      return spot.is_sealed && std::abs(spot.air_pressure - vent.pressure) <= about_alike * drive;
    };
    if (!std::isfinite(vent.bleed) && result.vents[v].bled > 0 &&
        std::ranges::any_of(result.dry_spots, stands_by_it)) {
      return &vent;
    }
  }
  return nullptr;
}

/// What the engineer can change about a short fill.
std::string advice_text(const FillProblem& problem, const FillResult& result,
                        const std::optional<CureSearch>& search) {
  if (const std::string of_ports = port_advice_text(problem, result); !of_ports.empty()) {
    return of_ports;
  }
  switch (result.reason) {
  case ShortReason::pressure:
    return problem.gravity ? "What to look at: the pressure cap, the vacuum in the cavity, and how "
                             "high the resin must rise.\n"
                           : "What to look at: the pressure cap, and the vacuum in the cavity.\n";
  case ShortReason::no_path:
    return "What to look at: a gate on each piece of the part, or a mesh whose pieces are "
           "joined.\n";
  case ShortReason::gel:
    return air_beside_gel_text(result, search) + gel_advice_text(problem, result, search);
  case ShortReason::trapped_air:
    if (const Vent* const vent = vent_that_holds_air(problem, result)) {
      return "What to look at: vent " + vent->name +
             ", which never closes: the resin runs out there rather than press the\n  air shut in "
             "beyond it. Close it when the resin comes, or put a vent where the air is.\n";
    }
    return "What to look at: a vent where the air is shut in, or gates placed so that the front\n  "
           "reaches the vents last. More pressure makes the dry place smaller but leaves it "
           "there.\n";
  case ShortReason::none:
  case ShortReason::time_limit:
  case ShortReason::interrupted:
    return "";
  }
  return "";
}

std::string balance_text(const FillResult& result) {
  const double share = std::abs(result.mass_balance_error);
  const double round_off = 1e-12; // below it the digits mean nothing
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.1g", std::max(share, round_off));
  return std::string("Mass balance: off by ") + (share < round_off ? "less than " : "") +
         text.data() + " of the resin injected.\n";
}

std::string course_text(const Case& input, const FillResult& result,
                        const std::optional<CureSearch>& search) {
  const std::string dry_spots = dry_spots_text(input, result);
  const bool is_a_place = result.reason == ShortReason::trapped_air ||
                          result.reason == ShortReason::no_path; // the answer is where
  return outcome_text(input, result) + (is_a_place ? dry_spots : "") + gel_text(input, result) +
         heat_text(input, result) + pressure_text(input, result) + resin_text(input, result) +
         gates_text(input.problem, result) + vents_text(input.problem, result) +
         mould_text(input.problem, result) + last_filled_text(input, result) +
         meeting_text(input, result) + (is_a_place ? "" : dry_spots) +
         suspect_zones_text(input, result) + advice_text(input.problem, result, search) +
         (search ? cure_search_text(input, *search) : "") + balance_text(result);
}

} // namespace

std::string course_in_words(const Case& input, const FillResult& result,
                            const std::optional<CureSearch>& search) {
  return printable(result.injected > 0
                       ? course_text(input, result, search)
                       : no_flow_text(input, result) + advice_text(input.problem, result, search));
}

std::string verdict_text(const Case& input, const FillResult& result,
                         const std::optional<CureSearch>& search) {
  return printable(
      input.title + "\n\n" + course_in_words(input, result, search) + notes_text(input) +
      warnings_text(all_warnings(input, result)) +
      "\nFabrics of one kind commonly scatter by 30 to 45 % in permeability, and times "
      "and pressures follow.\n"
      "A prediction is no substitute for a trial shot. Never exceed the rating of "
      "mould, clamps, hoses and pump.\n");
}

} // namespace tidemark
