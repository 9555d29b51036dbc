#include "io/bleeding_text.hpp"

#include "io/shop_units.hpp"
#include "io/short_reason.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {

bool lacks(const Vent& vent, double bled) {
  return std::isfinite(vent.bleed) && bled < 0.999 * vent.bleed;
}

/// The last moment at which a gate closed [s]; none while one is open.
std::optional<double> all_shut_at(const FillProblem& problem, const FillResult& result) {
  std::optional<double> last;
  for (std::size_t g = 0; g < result.gates.size(); ++g) {
    const GateResult& gate = result.gates[g];
    if (gate.opened_at && !has_closed(problem, result, g)) {
      return std::nullopt;
    }
    last = gate.closed_at ? std::max(last.value_or(0), *gate.closed_at) : last;
  }
  return last;
}

/// Why a vent that resin has come to lets none out, with a colon before it; empty if that is not
/// known.
std::string why_nothing_runs_out(const FillProblem& problem, const FillResult& result,
                                 std::size_t v) {
  const Vent& vent = problem.vents[v];
  if (result.peak_head_pressure <= vent.pressure) {
    return ": the " + as_bar(vent.pressure) + " behind it are no less than the head comes to";
  }
  if (const auto shut = all_shut_at(problem, result)) {
    return ": the gates are shut from " + as_minutes(*shut) + " on";
  }
  double highest = result.pressure[vent.nodes.front()];
  for (const NodeId node : vent.nodes) {
    highest = std::max(highest, result.pressure[node]);
  }
  constexpr double much = 1; // [Pa]
  return highest < vent.pressure - much ? ": the resin there is at " + as_bar(highest) +
                                              " at the end, and behind the vent "
                                              "are " +
                                              as_bar(vent.pressure)
                                        : "";
}

/// Out of a vent by a time [m3], straight between the rows of the history.
double bled_by(const std::vector<HistoryRow>& history, std::size_t vent, double time) {
  double time_before = 0;
  double bled_before = 0;
  for (const HistoryRow& row : history) {
    const double bled = row.vent_bleed[vent];
    if (row.time >= time) {
      const double span = row.time - time_before;
      return bled_before + (span > 0 ? (time - time_before) / span : 1) * (bled - bled_before);
    }
    time_before = row.time;
    bled_before = bled;
  }
  return bled_before;
}

/// When a batch gels past which its bleeding was followed [s]; none if it does not.
std::optional<double> gel_followed_on(const FillProblem& problem, const FillResult& result) {
  const double gels_at = gel_age(problem.resin) - problem.resin.mixed_before;
  const bool is_batch = problem.resin.mixing == Mixing::batch;
  return result.bleeding && is_batch && !has_unequal_temperatures(problem) &&
                 gels_at < result.end_time * (1 - 1e-9)
             ? std::optional(gels_at)
             : std::nullopt;
}

} // namespace

std::optional<double> gels_while_bleeding(const FillProblem& problem, const FillResult& result) {
  if (!result.bleeding) {
    return std::nullopt;
  }
  if (result.age && result.age->first_gel) {
    return result.age->first_gel->time;
  }
  if (result.bleeding->reason == ShortReason::gel) {
    return result.end_time;
  }
  return gel_followed_on(problem, result);
}

std::string bleeding_text(const FillProblem& problem, const FillResult& result) {
  if (!result.bleeding) {
    return "";
  }
  const double full = result.fill_time.value_or(result.end_time);
  if (const auto& end = result.bleeding->ended_at) {
    const bool is_late = gel_followed_on(problem, result).has_value();
    return std::string("The bleeding ") + (is_late ? "would end at " : "ends at ") +
           as_minutes(*end) + ", " + as_minutes(*end - full) + " after the part is full" +
           (is_late ? ", but for the gel." : ".");
  }
  const std::string at = as_minutes(result.end_time);
  switch (result.bleeding->reason) {
  case ShortReason::gel:
    return "The bleeding does not come to its end: at " + at +
           " the resin has gelled or is too thick to run out.";
  case ShortReason::time_limit:
    return "The bleeding was followed only to the time limit of this run, " + at + ".";
  case ShortReason::interrupted:
    return "The run was interrupted at " + at + ", while the vents bled.";
  default:
    break;
  }
  const auto shut = all_shut_at(problem, result);
  return shut ? "The bleeding does not come to its end: the gates are shut from " +
                    as_minutes(*shut) + " on, and nothing drives resin out of the vents."
              : "The bleeding does not come to its end: after " + at +
                    " nothing drives resin out of the vents.";
}

std::string bled_of_wanted(const Vent& vent, double bled) {
  return as_litres(bled) +
         (lacks(vent, bled) ? " of the " + as_litres(vent.bleed) + " it should" : "");
}

double bled_before_gel(const FillProblem& problem, const FillResult& result, std::size_t vent) {
  const auto gels_at = gel_followed_on(problem, result);
  return gels_at ? bled_by(result.history, vent, *gels_at) : result.vents[vent].bled;
}

std::string bled_text(const FillProblem& problem, const FillResult& result, std::size_t v) {
  const Vent& vent = problem.vents[v];
  const double bled = bled_before_gel(problem, result, v);
  const bool is_reached = result.vents[v].reached_at.has_value();
  const std::string why = bled > 0 || !is_reached ? "" : why_nothing_runs_out(problem, result, v);
  if (bled > 0) {
    const std::string of_resin = !lacks(vent, bled)                     ? " of resin"
                                 : gels_while_bleeding(problem, result) ? " before the resin gels"
                                                                        : "";
    const std::string text = " It bleeds " + bled_of_wanted(vent, bled) + of_resin + ".";
    return std::isinf(vent.bleed) && result.verdict == Verdict::filled
               ? text + " It never closes: what runs out " +
                     (result.bleeding ? "after the end told here" : "once the part is full") +
                     " is not counted."
               : text;
  }
  if (lacks(vent, bled)) {
    return " It lets out nothing of the " + as_litres(vent.bleed) + " it should" + why + ".";
  }
  if (!std::isinf(vent.bleed)) {
    return "";
  }
  if (!why.empty()) {
    return " It never closes, but lets out no resin" + why + ".";
  }
  return result.verdict == Verdict::filled
             ? std::string(" It never closes: what runs out ") +
                   (result.bleeding ? "after the end told here" : "once the part is full") +
                   " is not counted."
             : "";
}

} // namespace tidemark
