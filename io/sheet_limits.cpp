#include "io/sheet_limits.hpp"

#include "io/bleeding_text.hpp"
#include "io/closing_direction.hpp"
#include "io/filling_course.hpp"
#include "io/heat_text.hpp"
#include "io/mould_text.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/vent_arrival.hpp"
#include "io/wording.hpp"
#include "solver/mould_load.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {

std::string name_of_head(const FillProblem& problem, const CoursePump& pump) {
  return pump.gate ? "the pump of gate " + name_of(problem.gates[*pump.gate].name)
                   : "the mixing head";
}

/// Of a pump with a flow rate that comes to its cap; empty of another.
std::string cap_text(const Shot& shot, const CoursePump& pump) {
  const Injector& injector = injector_of(shot.problem(), pump);
  const auto reached = [&](const FillResult& r) { return cap_time_of(r, pump).reached; };
  const auto at = reached(shot.result);
  const bool may_change = stages_set_cap(injector);
  if (!at || (!injector.pressure_cap && !may_change) || !injector.flow_rate) {
    return "";
  }
  const bool is_one = course_pumps(shot.problem()).size() < 2;
  const std::string whose =
      pump.gate ? "The pump of gate " + name_of(shot.problem().gates[*pump.gate].name)
      : is_one  ? "The head"
                : "The mixing head";
  return whose + " reaches its cap of " +
         (may_change ? "the moment" : as_bar(*injector.pressure_cap)) + " at about " +
         as_minutes(*at) + in_brackets(band_or_never(shot, reached, as_minutes)) +
         "; from then on " +
         (pump.gate ? "it"
          : is_one  ? "the pump"
                    : "its pump") +
         " slows down by itself.";
}

/// One line for each of these pumps, as many as the page has room for.
std::vector<std::string> cap_lines(const Shot& shot) {
  std::vector<std::string> lines;
  for (const CoursePump& pump : course_pumps(shot.problem())) {
    if (const std::string text = cap_text(shot, pump); !text.empty()) {
      lines.push_back(text);
    }
  }
  if (lines.size() > most_pumps) {
    const std::size_t rest = lines.size() - most_pumps;
    lines.resize(most_pumps);
    lines.push_back("And " + counted(rest, "more pump reaches its", "more pumps reach their") +
                    " cap: tidemark fill lists them.");
  }
  return lines;
}

std::string last_vent_text(const Shot& shot) {
  std::string text;
  double latest = -1;
  for (std::size_t v = 0; v < shot.result.vents.size(); ++v) {
    const VentArrival arrival = vent_arrival(shot.problem(), shot.result, v);
    if (arrival.all && *arrival.all >= latest) {
      latest = *arrival.all;
      text = std::string(", resin has come to ") + (comes_bit_by_bit(arrival) ? "all of " : "") +
             "the last vent, " + name_of(shot.result.vents[v].name);
    }
  }
  return text;
}

/// What to wait for at the vents of a full part, after a comma; empty where they do not bleed then.
std::string end_of_bleeding_text(const Shot& shot) {
  const std::optional<Bleeding>& bleeding = shot.result.bleeding;
  if (!bleeding) {
    return "";
  }
  if (const auto gels_at = gels_while_bleeding(shot.problem(), shot.result)) {
    return ", and the vents have bled, but before " + as_minutes(*gels_at) +
           " at the latest: then the resin gels or is too thick, though they have not let out what "
           "they should";
  }
  const auto bled = [](const FillResult& r) {
    return r.bleeding ? r.bleeding->ended_at : std::nullopt;
  };
  if (bleeding->ended_at) {
    return ", and the vents have let out what they should, expected at " +
           as_minutes(*bleeding->ended_at) +
           in_brackets(band_of(full_results(shot), bled, as_minutes));
  }
  return bleeding->reason == ShortReason::time_limit
             ? ", and the vents have let out what they should: later than " +
                   as_minutes(shot.result.end_time) + ", up to where that was computed"
             : ", and no more comes out of the vents: it will be less than they should let out";
}

/// What the weight of the resin does when the pump is off, a sentence with a blank before it.
std::string weight_text(const Shot& shot) {
  const auto force = push_of_weight(shot.problem(), shot.result);
  if (!force) {
    return "";
  }
  const double held = shot.result.mould_load->hold_down_force;
  const bool has_fibres = shot.result.mould_load->at_rest.fibres.force > 0;
  return " With the pump off, the weight of the resin " +
         std::string(has_fibres ? "and the fibres push with " : "alone pushes with ") +
         as_kilonewtons(*force) +
         (held > 0 && *force > held
              ? ", which opens the mould: " + as_kilonewtons(held) + " hold it shut."
              : ".");
}

std::string left_on_text(const Shot& shot) {
  const auto rest = left_on(shot.problem(), shot.result);
  if (!rest || !(rest->cap > 0)) {
    return "Do not leave the pump on: the pressure in a full part goes on rising.";
  }
  std::string text =
      "Left on, the pump" +
      (rest->gate ? " of gate " + name_of(shot.problem().gates[*rest->gate].name) : "") +
      " may bring the whole cavity to its cap of " + as_bar(rest->cap);
  if (!shot.result.mould_load) {
    return text + ".";
  }
  const MouldLoad& load = *shot.result.mould_load;
  if (load.hold_down_force > 0 && rest->force > load.hold_down_force) {
    return text + ", which pushes the mould open: with " + as_kilonewtons(rest->force) + ", and " +
           as_kilonewtons(load.hold_down_force) + " hold it shut.";
  }
  text += ", and the push on the mould to " + as_kilonewtons(rest->force);
  return text + (load.hold_down_force > 0
                     ? "; " + as_kilonewtons(load.hold_down_force) + " hold it shut."
                     : "; what holds it shut is not in the case.");
}

std::string push_text(const Shot& shot) {
  return left_on_text(shot) + weight_text(shot);
}

/// What a batch has to spare when the vents have bled, or that it gels before.
std::string spare_after_bleeding(const Shot& shot, double gels_at_time) {
  if (gels_while_bleeding(shot.problem(), shot.result)) {
    return "; it gels before the vents have let out what they should";
  }
  const auto spare = [&](const FillResult& r) {
    const auto end = r.bleeding ? r.bleeding->ended_at : std::nullopt;
    return end ? std::optional(gels_at_time - *end) : std::nullopt;
  };
  const auto expected = spare(shot.result);
  return expected ? ", " + as_minutes(*expected) +
                        in_brackets(band_of(full_results(shot), spare, as_minutes)) +
                        " when the vents have bled"
                  : "";
}

/// What is left to the gel. Of a batch when the part is full, and when the vents have bled; mixed
/// inline of the oldest resin that is in the full part at any time.
std::string time_to_spare_text(const Shot& shot) {
  const Resin& resin = shot.problem().resin;
  const double gel = gel_age(resin);
  const bool is_inline = resin.mixing == Mixing::inline_head;
  if (const auto gels_at = gels_while_bleeding(shot.problem(), shot.result); gels_at && is_inline) {
    return "It gels at " + as_minutes(*gels_at) +
           ", before the vents have let out what they should";
  }
  const auto& age = shot.result.age;
  if (is_inline && age && age->first_gel) {
    return "Expected: some of the resin gels at " + as_minutes(age->first_gel->time) +
           ", behind the front, before the part is full";
  }
  const auto left = [&](const FillResult& r) {
    const double batch_age = resin.mixed_before + r.fill_time.value_or(r.end_time);
    return gel - (is_inline && r.age ? r.age->oldest : batch_age);
  };
  const auto spare = [&](const FillResult& r) {
    return r.verdict == Verdict::filled ? std::optional(left(r)) : std::nullopt;
  };
  return "Expected to spare: " + as_minutes(left(shot.result)) +
         in_brackets(band_or_never(shot, spare, as_minutes, "or never full")) +
         (shot.result.bleeding && !is_inline
              ? " when the part is full" + spare_after_bleeding(shot, gel - resin.mixed_before)
              : "");
}

/// "at 6:14 min (mixed 2:00 min before), less the reserve of resin.gel_safety": when resin gels.
std::string reserve_text(const Shot& shot, double gels_at) {
  const double mixed_before = shot.problem().resin.mixed_before;
  const std::string before =
      mixed_before > 0 ? " (mixed " + as_minutes(mixed_before) + " before)" : "";
  return shot.input.resin.gel_safety.value_or(1) > 1
             ? "at " + as_minutes(gels_at) + before + ", less the reserve of resin.gel_safety"
             : "then" + before + "; no reserve is set (resin.gel_safety)";
}

/// Where temperatures differ the clock does not tell the gel: resin that has the temperature of
/// what is hotter, resin or mould, from the start on is the earliest, but for what its cure gives
/// off.
std::string gel_limit_with_heat(const Shot& shot) {
  const Resin& resin = shot.problem().resin;
  const Heat& heat = *shot.problem().heat;
  const double hotter = std::max(heat.mould_temperature, heat.inlet_temperature);
  const double gel = gel_time_at(resin, hotter).value_or(gel_age(resin));
  const double gone = resin.mixed_before / gel_age(resin); // of the way, before the injection
  const double safety = shot.input.resin.gel_safety.value_or(1);
  const double gels_at = (1 - gone) * gel;
  const double limit = std::max(0.0, (1 / safety - gone) * gel);
  const double full = shot.result.fill_time.value_or(shot.result.end_time);
  const std::string kept = "resin kept at " + as_celsius(hotter) + " gels ";
  const std::string text = limit >= full
                               ? "The part is not full at " + as_minutes(limit) + ": " + kept +
                                     reserve_text(shot, gels_at)
                               : "The part is not full when it should be, at " + as_minutes(full) +
                                     ": " + kept + "at " + as_minutes(gels_at);
  const auto& age = shot.result.age;
  if (resin.mixing == Mixing::inline_head && age && age->first_gel) {
    return text + ". " + time_to_spare_text(shot) + ".";
  }
  const auto share = [](const FillResult& r) {
    return r.heat && r.verdict == Verdict::filled ? std::optional(r.heat->gel_share) : std::nullopt;
  };
  const std::string expected =
      share(shot.result)
          ? ". Expected: the resin nearest to the gel has gone " + as_percent(*share(shot.result)) +
                in_brackets(band_or_never(shot, share, as_percent, "or never full")) +
                " of its way when the part is full"
          : "";
  return text + expected + ". Warmer resin, and what its cure gives off, gel it earlier.";
}

std::string gel_limit_text(const Shot& shot) {
  if (has_unequal_temperatures(shot.problem()) && shot.result.heat) {
    return gel_limit_with_heat(shot);
  }
  const Resin& resin = shot.problem().resin;
  const double gel = gel_age(resin);
  const double safety = shot.input.resin.gel_safety.value_or(1);
  return "The part is not full at " + as_minutes(gel / safety - resin.mixed_before) +
         ": the first resin gels " + reserve_text(shot, gel - resin.mixed_before) + ". " +
         time_to_spare_text(shot) + ". Warmer resin gels earlier.";
}

/// "0.30 bar at the mixing head, 0.60 bar at the pump of gate P1": the caps of all pumps; empty
/// where one has none, or one that changes.
std::string caps_text(const FillProblem& problem) {
  const std::vector<CoursePump> pumps = course_pumps(problem);
  std::string text;
  for (std::size_t p = 0; p < pumps.size(); ++p) {
    const Injector& injector = injector_of(problem, pumps[p]);
    if (!injector.pressure_cap || stages_set_cap(injector)) {
      return "";
    }
    if (p <= most_pumps) {
      text += (text.empty() ? "" : ", ") + as_bar(*injector.pressure_cap) + " at " +
              name_of_head(problem, pumps[p]);
    }
  }
  const std::size_t most = most_pumps + 1;
  return text + (pumps.size() > most
                     ? ", and that of " + counted(pumps.size() - most, "more pump", "more pumps") +
                           " in the case file"
                     : "");
}

std::string pressure_limit_text(const Shot& shot) {
  const auto peak = [&](const FillResult& r) {
    return std::optional(highest_head(shot.problem(), r).pressure);
  };
  const std::string caps = caps_text(shot.problem());
  const bool is_one = course_pumps(shot.problem()).size() < 2;
  if (is_one && has_common_pump(shot.problem()) && !caps.empty()) {
    return "The head is above " + as_bar(*shot.problem().injector.pressure_cap) +
           ": the cap does not hold.";
  }
  if (!caps.empty()) {
    return std::string(is_one ? "The head" : "A head") + " is above its cap, " + caps +
           ": that does not hold.";
  }
  const HeadPeak highest = highest_head(shot.problem(), shot.result);
  return std::string(is_one ? "The head" : "A head") +
         " is above what machine, hoses and mould may bear. Highest expected: " +
         as_bar(highest.pressure) + in_brackets(band_of(fillings_of(shot), peak, as_bar)) +
         (is_one ? "" : ", at " + name_of_head(shot.problem(), highest.pump)) + ".";
}

/// How high the push may climb, to a height that is not known, as the last of the resin comes in,
/// in any of the fillings [N]; none where it is known in all.
std::optional<double> most_untold(const Shot& shot) {
  std::optional<double> most;
  for (const FillResult* result : fillings_of(shot)) {
    const auto untold = result->mould_load ? untold_push(shot.problem(), *result) : std::nullopt;
    most = untold ? std::max(*untold, most.value_or(0)) : most;
  }
  return most;
}

std::string mould_limit_text(const Shot& shot) {
  const std::string start = "The mould opens, or the flange loses its vacuum. ";
  if (!shot.result.mould_load) {
    return start + "The case has no [mould]: no margin is known.";
  }
  if (is_seen_edge_on(shot.problem())) {
    return start + "The push cannot be told: " + edge_on_text + ".";
  }
  const MouldLoad& load = *shot.result.mould_load;
  const auto force = [](const FillResult& r) {
    return r.mould_load ? std::optional(r.mould_load->peak_force) : std::nullopt;
  };
  const std::string shares = shares_of_force(load.at_rest.fibres, load.peak_force);
  const std::string missing = uncounted_fibres_text(load.at_rest.fibres);
  const std::optional<double> untold = most_untold(shot);
  const std::string push =
      (load.peak_force > 0
           ? "Expected push: up to " + as_kilonewtons(load.peak_force) +
                 in_brackets(band_of(fillings_of(shot), force, as_kilonewtons))
           : "No push is expected: " + why_not_opened(shot.problem(), load.at_rest.fibres)) +
      (shares.empty() || !(load.peak_force > 0) ? "" : ", of that " + shares) +
      (untold ? ", climbing while the last 1 % fills, at most to " + as_kilonewtons(*untold) : "") +
      (missing.empty() ? "" : ". " + missing);
  if (!(load.hold_down_force > 0)) {
    return start + push + ". What holds the mould shut is not in the case.";
  }
  double highest = load.peak_force;
  for (const FillResult* result : fillings_of(shot)) {
    highest = std::max(highest, force(*result).value_or(highest));
  }
  const double spare = load.hold_down_force - highest;
  const bool is_band_of_pushes = load.peak_force > 0 && highest > load.peak_force;
  if (spare >= 0 && untold.value_or(0) > load.hold_down_force) {
    return start + push + "; " + as_kilonewtons(load.hold_down_force) +
           " hold it shut: whether it opens as the last 1 % fills is not known.";
  }
  return start + push + "; " + as_kilonewtons(load.hold_down_force) + " hold it shut, " +
         as_kilonewtons(std::abs(spare)) +
         (spare < 0           ? " less than the highest of these."
          : is_band_of_pushes ? " to spare at the highest of these."
                              : " to spare.");
}

} // namespace

std::vector<std::string> watch_of(const Shot& shot) {
  std::vector<std::string> lines = cap_lines(shot);
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
  if (const std::string air = air_caution(shot.problem()); !air.empty()) {
    lines.push_back(air);
  }
  return lines;
}

std::vector<std::string> stop_of(const Shot& shot, const ResinUse& use) {
  const auto full = [](const FillResult& r) { return r.fill_time; };
  std::string text = "When the part is full, expected at " +
                     as_minutes(shot.result.fill_time.value_or(shot.result.end_time)) +
                     in_brackets(band_or_never(shot, full, as_minutes)) + last_vent_text(shot) +
                     end_of_bleeding_text(shot);
  if (use.strokes) {
    text += ", and the pump has made " +
            counted(static_cast<std::size_t>(use.strokes->shot), "stroke", "strokes") +
            ", those for the hose apart";
  }
  return {text + ".", push_text(shot),
          "Keep the mould shut and its vacuum on until the part has cured."};
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
  if (gels_while_bleeding(shot.problem(), shot.result)) {
    return {"Flush mixer and hose before " + as_minutes(gel - resin.mixed_before) +
            " by the clock, also if the vents have not let out what they should: what was mixed "
            "at once gels then."};
  }
  const double left = gel - resin.mixed_before - shot.result.end_time;
  return {"Flush mixer and hose as soon as the pump stops: what was mixed at once gels at " +
          as_minutes(gel - resin.mixed_before) + " by the clock, " + as_minutes(std::abs(left)) +
          (left < 0 ? " before" : " after") + " the expected end."};
}

std::vector<std::string> abort_of(const Shot& shot) {
  const bool gels = std::isfinite(gel_age(shot.problem().resin));
  return {gels ? gel_limit_text(shot)
               : "The part is not full at ________ min: no gel time in the case, take it from the "
                 "data sheet.",
          pressure_limit_text(shot), mould_limit_text(shot)};
}

} // namespace tidemark
