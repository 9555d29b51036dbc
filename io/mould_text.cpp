#include "io/mould_text.hpp"

#include "io/closing_direction.hpp"
#include "io/filling_course.hpp"
#include "io/shop_units.hpp"
#include "solver/mould_load.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>

namespace tidemark {

namespace {

/// To rounding, all of an area.
bool is_all_of(double part, double area) {
  return part >= area * (1 - 1e-9);
}

} // namespace

bool opens_mould(const FillResult& result) {
  return result.mould_load && result.mould_load->lifts_at && result.mould_load->hold_down_force > 0;
}

std::string shares_of_force(const FibrePush& push, double force) {
  const double fibres = push.force;
  if (!(fibres > 0)) {
    return "";
  }
  const double resin = force - fibres;
  return resin >= 0
             ? as_kilonewtons(resin) + " by the resin, " + as_kilonewtons(fibres) + " by the fibres"
             : as_kilonewtons(fibres) + " by the fibres, less " + as_kilonewtons(-resin) +
                   " by which the vacuum in the cavity outweighs the resin";
}

std::string uncounted_fibres_text(const FibrePush& push) {
  const double area = push.counted_area + push.uncounted_area;
  if (!(push.uncounted_area > 0)) {
    return "";
  }
  return is_all_of(push.uncounted_area, area)
             ? std::string("The push of the fibres is not counted: the case has no compaction data")
             : "The push of the fibres is not counted on " + as_square_metres(push.uncounted_area) +
                   " of " + as_square_metres(area) + ": no compaction data there";
}

std::string hidden_faces_text(const RestingPush& push) {
  constexpr double noteworthy = 1.02; // own choice
  return push.faces > noteworthy * push.projected_area
             ? "Faces lie behind each other along the closing direction, " +
                   as_square_metres(push.faces) + " of which " +
                   as_square_metres(push.projected_area) +
                   " are seen: each half of the mould is taken to feel those it touches, and what "
                   "lies between, as a core, to bear on both halves alike."
             : "";
}

std::string mould_at_rest_text(const FillProblem& problem) {
  if (!problem.mould || !(problem.mould->hold_down_force > 0) || is_seen_edge_on(problem)) {
    return "";
  }
  const double held = problem.mould->hold_down_force;
  const RestingPush push = resting_push(problem);
  const double fibres = push.fibres.force;
  std::string text = "Mould: seen along its closing direction the part has " +
                     as_square_metres(push.projected_area) + "; it is held shut with " +
                     as_kilonewtons(held) + ".\n";
  if (const std::string hidden = hidden_faces_text(push); !hidden.empty()) {
    text += "  " + hidden + "\n";
  }
  if (fibres > 0) {
    text += "  The fibres push it open with " + as_kilonewtons(fibres) + ".\n";
  }
  const std::string missing = uncounted_fibres_text(push.fibres);
  if (!missing.empty()) {
    text += "  " + missing + ".\n";
  }
  const auto head = push.highest_head(held);
  if (!(held > fibres) || !head) {
    return text;
  }
  return text + "  That leaves " + as_kilonewtons(held - fibres) +
         (missing.empty() ? " for the resin: " : " for resin and fibres: ") +
         as_bar_at_most(*head) +
         (problem.gravity ? " at the head, with the weight of the resin in the full part.\n"
                          : " all over the part.\n");
}

namespace {

/// Whether the flow meets much more resistance while the last 2 % fill, as where the front closes
/// on a point.
bool closes_steeply(const FillProblem& problem, const FillResult& result) {
  constexpr double near_end_of_way = 0.98;
  constexpr double much = 1.25; // own choice: towards a straight end it is some 2 %
  const double front = front_pressure(problem);
  const auto resistance = [&](const HistoryRow& row) {
    return row.flow_rate > 0 ? (row.head_pressure - front) / row.flow_rate : 0.0;
  };
  const auto after = std::ranges::find_if(
      result.history, [&](const HistoryRow& row) { return row.filled_fraction > near_end_of_way; });
  const double full = result.fill_time.value_or(result.end_time); // rows of the bleeding follow
  const auto last =
      std::find_if(result.history.rbegin(), result.history.rend(),
                   [&](const HistoryRow& row) { return row.time <= full * (1 + 1e-12); });
  return after != result.history.begin() && after != result.history.end() &&
         last != result.history.rend() && resistance(*last) > much * resistance(*std::prev(after));
}

} // namespace

bool is_of_last_layer(const FillResult& result) {
  const auto near_full = opening_force_when(result.history, near_end);
  constexpr double much = 1.1;
  return near_full && result.mould_load->peak_force > much * *near_full;
}

bool is_full_at_peak(const FillResult& result) {
  const bool is_of_bleeding =
      result.bleeding && result.mould_load->peak_force_at > result.fill_time.value_or(0);
  return result.verdict == Verdict::filled && !is_of_bleeding;
}

std::optional<double> untold_push(const FillProblem& problem, const FillResult& result) {
  const MouldLoad& load = *result.mould_load;
  const double most = push_at_highest_head(problem, result);
  constexpr double much = 1.1;
  return is_full_at_peak(result) && !is_of_last_layer(result) && most > much * load.peak_force &&
                 closes_steeply(problem, result)
             ? std::optional(most)
             : std::nullopt;
}

std::string climbing_note() {
  return "?: the push climbs while the last 1 % fills, how far the mesh is too coarse to tell; "
         "fill says how far at most.";
}

std::string force_cell(const std::optional<double>& force, bool climbs) {
  return force ? as_kilonewtons(*force) + (climbs ? " ?" : "") : "-";
}

} // namespace tidemark
