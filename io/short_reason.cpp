#include "io/short_reason.hpp"

#include "io/filling_course.hpp"
#include "io/gel_text.hpp"
#include "io/mesh_pieces.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <numeric>
#include <optional>

namespace tidemark {

namespace {

bool is_reached(const FillProblem& problem, const FillResult& result, const PortRef& port) {
  const auto& nodes = port.kind == PortRef::Kind::gate ? problem.gates[port.index].nodes
                                                       : problem.vents[port.index].nodes;
  constexpr double full = 1 - 1e-9;
  return std::ranges::all_of(nodes,
                             [&](const NodeId node) { return result.fill_fraction[node] >= full; });
}

/// The last moment at which a gate closed.
double last_closing(const FillResult& result) {
  double last = 0;
  for (const GateResult& gate : result.gates) {
    last = std::max(last, gate.closed_at.value_or(0));
  }
  return last;
}

/// "vent A", "vents A and B".
std::string names_text(const FillProblem& problem, const std::vector<std::size_t>& vents) {
  std::vector<std::string> names;
  for (const std::size_t vent : vents) {
    names.push_back(problem.vents[vent].name);
  }
  return (vents.size() == 1 ? "vent " : "vents ") + enumeration(names, " and ");
}

/// How long what is dry would take to fill with what stayed of the last step [s]; none where that
/// is nothing that could be told.
std::optional<double> time_to_full(const FillResult& result) {
  const HistoryRow& last = result.history.back();
  const HistoryRow& before = result.history[result.history.size() - 2];
  double stays = last.flow_rate * (last.time - before.time);
  for (std::size_t v = 0; v < last.vent_bleed.size(); ++v) {
    stays -= last.vent_bleed[v] - before.vent_bleed[v];
  }
  const double dry = result.pore_volume - result.resin_in_part;
  constexpr double longest = 1e8; // [s], three years: own choice
  const double time = dry / stays * (last.time - before.time);
  return stays > 0 && time < longest ? std::optional(time) : std::nullopt;
}

/// When all but a thousandth of what is filled at the end was [s]; none where the run did not come
/// to rest, or not much later.
std::optional<double> time_of_nearly_all(const FillResult& result) {
  constexpr double nearly_all = 0.999;
  constexpr double much_sooner = 0.98;
  const bool rests =
      result.reason == ShortReason::trapped_air || result.reason == ShortReason::pressure;
  const double filled = nearly_all * result.filled_fraction;
  const auto time = rests && filled > 0 ? time_of_share(result.history, filled) : std::nullopt;
  return time && *time < much_sooner * result.end_time ? time : std::nullopt;
}

} // namespace

bool has_closed(const FillProblem& problem, const FillResult& result, std::size_t gate) {
  const std::optional<double>& closed_at = result.gates[gate].closed_at;
  const Moment& moment = problem.gates[gate].closes;
  if (!closed_at || (!moment.time && !moment.reached)) {
    return false;
  }
  if (*closed_at < result.end_time) {
    return true;
  }
  if (moment.time) {
    return *closed_at >= (1 - 1e-9) * *moment.time; // to the tolerance of the steps
  }
  return moment.reached && is_reached(problem, result, *moment.reached);
}

bool stopped_by_gates(const FillProblem& problem, const FillResult& result) {
  if (result.reason != ShortReason::no_path) {
    return false;
  }
  bool any_closed = false;
  for (std::size_t g = 0; g < result.gates.size(); ++g) {
    const bool is_closed = has_closed(problem, result, g);
    if (result.gates[g].opened_at && !is_closed) {
      return false;
    }
    any_closed = any_closed || is_closed;
  }
  const std::vector<bool> have_gate = dry_spots_with_gate(problem, result);
  return any_closed && std::ranges::find(have_gate, true) != have_gate.end();
}

std::vector<std::size_t> vents_letting_all_out(const FillProblem& problem,
                                               const FillResult& result) {
  if (result.reason != ShortReason::pressure || result.history.size() < 2) {
    return {};
  }
  const HistoryRow& last = result.history.back();
  const HistoryRow& before = result.history[result.history.size() - 2];
  const double injected = last.flow_rate * (last.time - before.time);
  std::vector<std::size_t> vents;
  double out = 0;
  for (std::size_t v = 0; v < last.vent_bleed.size(); ++v) {
    const double bled = last.vent_bleed[v] - before.vent_bleed[v];
    if (bled > 0.01 * injected && problem.vents[v].bleed > 0) { // own choice: a share that counts
      vents.push_back(v);
      out += bled;
    }
  }
  constexpr double nearly_all = 0.95; // own choice
  return out > 0 && out >= nearly_all * injected ? vents : std::vector<std::size_t>{};
}

std::string short_reason_text(const Case& input, const FillResult& result) {
  const FillProblem& problem = input.problem;
  if (result.reason == ShortReason::gel) {
    return gel_reason_text(input, result);
  }
  if (stopped_by_gates(problem, result)) {
    const bool is_one = problem.gates.size() == 1;
    return (is_one ? "The gate is closed from " : "All gates are closed from ") +
           as_minutes(last_closing(result)) + " on, and no more resin comes.";
  }
  if (const auto vents = vents_letting_all_out(problem, result); !vents.empty()) {
    std::string names = names_text(problem, vents);
    names[0] = 'V';
    const std::string lets = names + (vents.size() == 1 ? " lets" : " let") + " out ";
    const auto to_full = time_to_full(result);
    return to_full ? lets +
                         "nearly all the resin that is injected: with the rest, what is dry "
                         "would take more than " +
                         as_minutes(*to_full) + " to fill."
                   : lets + "all the resin that is injected: none is left to drive the front any "
                            "further.";
  }
  return std::string(reason_sentence(result.reason));
}

std::string end_text(const FillResult& result) {
  const std::string text = "At the end, after " + as_minutes(result.end_time) + ", " +
                           as_percent(result.filled_fraction) + " of it is filled";
  const auto nearly_all = time_of_nearly_all(result);
  return text +
         (nearly_all ? ", all but a thousandth of that after " + as_minutes(*nearly_all)
                     : std::string()) +
         ".";
}

std::string port_advice_text(const FillProblem& problem, const FillResult& result) {
  if (stopped_by_gates(problem, result)) {
    return "What to look at: keep a gate open longer, or open another one before the last "
           "closes.\n";
  }
  if (const auto vents = vents_letting_all_out(problem, result); !vents.empty()) {
    return "What to look at: close " + names_text(problem, vents) +
           " when the resin arrives, or once it has bled a set volume.\n";
  }
  return "";
}

} // namespace tidemark
