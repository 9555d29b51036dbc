#include "solver/arrival.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {
constexpr double nearly_full = 1 - 1e-6;
}

/// Calls visit(j, flow) for each full neighbour j from which resin comes, with its volume over the
/// step [m3]. What is not full holds back what it has, even where it is above its neighbours.
template <class Visit>
void ArrivalTracker::each_giver(const FlowSystem& system, const FilledStep& step, std::size_t i,
                                Visit visit) {
  for (std::int32_t k = system.matrix.first[i]; k < system.matrix.first[i + 1]; ++k) {
    const auto j = static_cast<std::size_t>(system.matrix.column[static_cast<std::size_t>(k)]);
    const double flow =
        system.matrix.link[static_cast<std::size_t>(k)] * (step.impulse[j] - step.impulse[i]);
    if (flow > 0 && step.after[j] >= nearly_full) {
      visit(j, flow);
    }
  }
}

/// Full at the end of a step, not only nearly so ahead of the front, where pressed air lifts the
/// impulse of dry unknowns too: these have room.
bool ArrivalTracker::fills(const FilledStep& step, std::size_t unknown) {
  return step.after[unknown] >= nearly_full &&
         (step.above_air[unknown] > 0 || step.after[unknown] >= 1);
}

void ArrivalTracker::record(const FlowSystem& system, const FilledStep& step) {
  std::vector<std::int32_t> reached; // filled in this step, or passed in it
  for (std::size_t i = 0; i < step.before.size(); ++i) {
    const bool filled = step.before[i] < nearly_full && fills(step, i);
    const bool passed = step.before[i] < 0.5 && step.after[i] >= 0.5;
    if (filled || passed) {
      reached.push_back(static_cast<std::int32_t>(i));
    }
  }
  const auto impulse = [&](std::int32_t i) { return step.impulse[static_cast<std::size_t>(i)]; };
  std::ranges::stable_sort(reached, std::ranges::greater{}, impulse); // downstream order
  for (const std::int32_t i : reached) {
    place(system, step, static_cast<std::size_t>(i));
  }
}

std::int32_t ArrivalTracker::origin_from(const FlowSystem& system, std::size_t giver,
                                         std::size_t taker) const {
  const std::int32_t beside = taker < gate_beside_.size() ? gate_beside_[taker] : -1;
  const bool is_open =
      beside >= 0 && position(beside) < has_opened_.size() && has_opened_[position(beside)];
  return giver < system.seats.size() && is_open ? beside : origin_[giver];
}

void ArrivalTracker::open_gate(const FlowSystem& system, std::size_t gate, double time) {
  has_opened_.resize(std::max(has_opened_.size(), gate + 1), 0);
  has_opened_[gate] = 1;
  for (std::size_t s = 0; s < system.seats.size(); ++s) {
    if (system.seats[s].gate == gate && std::isnan(passed_[s])) {
      set(s, time);
      origin_[s] = static_cast<std::int32_t>(gate);
    }
  }
}

std::vector<double> ArrivalTracker::fill_times(const FlowSystem& system) const {
  std::vector<double> times = passed_;
  for (std::size_t i = 0; i < times.size(); ++i) {
    if (system.matrix.first[i] == system.matrix.first[i + 1]) {
      continue; // a seat tied to another: it knows its neighbours no more
    }
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

void ArrivalTracker::place(const FlowSystem& system, const FilledStep& step, std::size_t i) {
  bool tells_distance = step.above_air[i] >= 0;
  double most = 0; // what the neighbour that gives most gives
  each_giver(system, step, i, [&](std::size_t j, double flow) {
    tells_distance = tells_distance && step.above_air[j] > step.above_air[i];
    if (origin_[i] < 0 || (flow > most && std::isnan(passed_[i]))) {
      origin_[i] = origin_from(system, j, i);
    }
    most = std::max(most, flow);
  });
  if (!(most > 0)) { // fed by nothing seen: at the step's end
    const double end = step.begin + step.duration;
    advance_[i] = std::sqrt(std::max(step.above_air[i], 0.0));
    passed_[i] = std::isnan(passed_[i]) ? end : passed_[i];
    shut_[i] = fills(step, i) ? end : shut_[i];
  } else if (tells_distance) {
    place_by_distance(system, step, i);
  } else {
    place_by_volume(system, step, i);
  }
}

void ArrivalTracker::place_by_distance(const FlowSystem& system, const FilledStep& step,
                                       std::size_t i) {
  const double own = std::sqrt(step.above_air[i]);
  const bool is_full = fills(step, i);
  const double before = step.before[i];
  const double after = step.after[i];
  double weights = 0;
  double advance = 0; // how far the front went
  double cell = 0;    // size of this node's cell along the flow
  each_giver(system, step, i, [&](std::size_t j, double weight) {
    const double upstream = std::sqrt(step.above_air[j]);
    // In a cell not yet full the front stands past the node by F - 1/2 of the cell.
    const double size = is_full ? upstream - own : upstream / (after + 0.5);
    const bool from_old_front = step.before[j] >= nearly_full;
    const double from_here =
        is_full ? 0.5 * (upstream + own) - before * size : (after - before) * size;
    advance += weight * (from_old_front ? from_here : advance_[j]);
    cell += weight * size;
    weights += weight;
  });
  advance_[i] = std::max(advance / weights, own);
  cell /= weights;
  const auto time_at = [&](double distance_to_go) {
    const double done = advance_[i] > 0 ? 1 - distance_to_go / advance_[i] : 1;
    return step.begin + step.duration * std::clamp(done, 0.0, 1.0);
  };
  if (std::isnan(passed_[i]) && after >= 0.5) {
    passed_[i] = time_at(is_full ? own : (after - 0.5) * cell);
  }
  if (is_full && std::isnan(shut_[i])) {
    shut_[i] =
        std::max(time_at(own - 0.5 * cell), std::isnan(passed_[i]) ? step.begin : passed_[i]);
  }
}

void ArrivalTracker::place_by_volume(const FlowSystem& system, const FilledStep& step,
                                     std::size_t i) {
  double inflow = 0;
  double since = 0; // when those that give are full themselves
  each_giver(system, step, i, [&](std::size_t j, double flow) {
    inflow += flow;
    since += flow * std::max(step.begin, std::isnan(shut_[j]) ? step.begin : shut_[j]);
  });
  since /= inflow;
  const double stays = step.after[i] - step.before[i];
  const double end = step.begin + step.duration;
  const double takes = (end - since) * std::clamp(stays * system.volume[i] / inflow, 0.0, 1.0);
  advance_[i] = std::sqrt(std::max(step.above_air[i], 0.0));
  if (std::isnan(passed_[i]) && step.after[i] >= 0.5) {
    passed_[i] = since + takes * std::clamp((0.5 - step.before[i]) / stays, 0.0, 1.0);
  }
  if (fills(step, i) && std::isnan(shut_[i])) {
    shut_[i] = since + takes;
  }
}

} // namespace tidemark
