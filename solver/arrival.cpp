#include "solver/arrival.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {
constexpr double nearly_full = 1 - 1e-6;
}

void ArrivalTracker::record(const FlowSystem& system, std::span<const double> before,
                            std::span<const double> after, std::span<const double> u, double begin,
                            double duration) {
  std::vector<std::int32_t> reached; // filled in this step, or passed in it
  for (std::size_t i = 0; i < before.size(); ++i) {
    // Air that is pressed in the step lifts u of dry nodes too: full are those that have no room.
    const bool filled = before[i] < nearly_full && after[i] >= nearly_full && u[i] > 0;
    const bool passed = before[i] < 0.5 && after[i] >= 0.5;
    if (filled || passed) {
      reached.push_back(static_cast<std::int32_t>(i));
    }
  }
  const auto impulse = [&](std::int32_t i) { return u[static_cast<std::size_t>(i)]; };
  std::ranges::stable_sort(reached, std::ranges::greater{}, impulse); // downstream order
  for (const std::int32_t i : reached) {
    place(system, static_cast<std::size_t>(i), before, after, u, begin, duration);
  }
}

std::int32_t ArrivalTracker::origin_from(const FlowSystem& system, std::size_t giver,
                                         std::size_t taker) const {
  const bool is_gate = giver < system.gates && taker < gate_beside_.size();
  return is_gate && gate_beside_[taker] >= 0 ? gate_beside_[taker] : origin_[giver];
}

void ArrivalTracker::open_gate(std::size_t g, double time) {
  if (std::isnan(passed_[g])) {
    set(g, time);
    origin_[g] = static_cast<std::int32_t>(g);
  }
}

std::vector<double> ArrivalTracker::fill_times(const FlowSystem& system) const {
  std::vector<double> times = passed_;
  for (std::size_t i = 0; i < times.size(); ++i) {
    double goes_on = 0; // how long after the node the front reaches its latest neighbour
    for (std::int32_t k = system.matrix.first[i]; k < system.matrix.first[i + 1]; ++k) {
      const auto j = static_cast<std::size_t>(system.matrix.column[static_cast<std::size_t>(k)]);
      const double later = std::isnan(passed_[j]) ? std::numeric_limits<double>::infinity()
                                                  : passed_[j] - passed_[i];
      goes_on = std::max(goes_on, later);
    }
    if (const double latest = shut_[i] - goes_on; latest > times[i]) { // false if not shut
      times[i] = latest;
    }
  }
  return times;
}

void ArrivalTracker::place(const FlowSystem& system, std::size_t i, std::span<const double> before,
                           std::span<const double> after, std::span<const double> u, double begin,
                           double duration) {
  const double own = std::sqrt(std::max(u[i], 0.0));
  const bool is_full = u[i] > 0 && after[i] >= nearly_full;
  double weights = 0;
  double advance = 0; // how far the front went
  double cell = 0;    // size of this node's cell along the flow
  double most = 0;    // weight of the neighbour that gives most
  for (std::int32_t k = system.matrix.first[i]; k < system.matrix.first[i + 1]; ++k) {
    const auto j = static_cast<std::size_t>(system.matrix.column[static_cast<std::size_t>(k)]);
    if (!(u[j] > u[i])) {
      continue; // downstream
    }
    const double weight = system.matrix.link[static_cast<std::size_t>(k)] * (u[j] - u[i]);
    const double upstream = std::sqrt(u[j]);
    // In a cell not yet full the front stands past the node by F - 1/2 of the cell.
    const double size = is_full ? upstream - own : upstream / (after[i] + 0.5);
    const bool from_old_front = before[j] >= nearly_full;
    const double from_here =
        is_full ? 0.5 * (upstream + own) - before[i] * size : (after[i] - before[i]) * size;
    advance += weight * (from_old_front ? from_here : advance_[j]);
    cell += weight * size;
    weights += weight;
    if (origin_[i] < 0 || (weight > most && std::isnan(passed_[i]))) {
      origin_[i] = origin_from(system, j, i);
    }
    most = std::max(most, weight);
  }
  if (!(weights > 0)) { // fed by nothing seen: at the step's end
    advance_[i] = own;
    passed_[i] = std::isnan(passed_[i]) ? begin + duration : passed_[i];
    shut_[i] = is_full ? begin + duration : shut_[i];
    return;
  }
  advance_[i] = std::max(advance / weights, own);
  cell /= weights;
  const auto time_at = [&](double distance_to_go) {
    const double done = advance_[i] > 0 ? 1 - distance_to_go / advance_[i] : 1;
    return begin + duration * std::clamp(done, 0.0, 1.0);
  };
  if (std::isnan(passed_[i]) && after[i] >= 0.5) {
    passed_[i] = time_at(is_full ? own : (after[i] - 0.5) * cell);
  }
  if (is_full && std::isnan(shut_[i])) {
    shut_[i] = std::max(time_at(own - 0.5 * cell), std::isnan(passed_[i]) ? begin : passed_[i]);
  }
}

} // namespace tidemark
