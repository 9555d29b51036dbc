// When the front passes each node, finer than the time steps.
#pragma once

#include "solver/flow_system.hpp"

#include <limits>
#include <span>
#include <utility>
#include <vector>

namespace tidemark {

/// What a step did to the unknowns.
struct FilledStep {
  std::span<const double> before, after; // fill fractions [-]
  std::span<const double> impulse;       // falls along the flow [-]
  std::span<const double> above_air;     // impulse above that of the air ahead of the front [-]
  double begin, duration;                // [s]
};

/// Behind a front the impulse u = integral (p - p_front) / mu dt [-] grows as the square of the
/// distance d from the front, u = (phi / 2K) d^2, so sqrt(u) measures distance. A node is passed
/// when its fill fraction reaches 1/2 (the front is then at the node itself) and shut when it
/// reaches 1; both are placed within the step by that distance against the distance the front
/// went in the step, taken as run at even speed. Where resin runs downhill it may be at less than
/// the pressure of the air, or at the same everywhere, and u tells nothing of d: there a cell fills
/// evenly by the volume that comes in, from when the cells that give it are full.
class ArrivalTracker {
public:
  /// gate_beside: the gate an unknown has the strongest link to, -1 if none; it tells gates tied to
  /// one unknown apart. Empty: the unknown's own number.
  explicit ArrivalTracker(std::size_t unknowns, std::vector<std::int32_t> gate_beside = {})
      : gate_beside_(std::move(gate_beside)), passed_(unknowns, none), shut_(unknowns, none),
        advance_(unknowns, 0.0), origin_(unknowns, -1) {}

  /// A gate opens: at each of its seats resin is there from now on, if it was not before.
  void open_gate(const FlowSystem& system, std::size_t gate, double time);

  void record(const FlowSystem& system, const FilledStep& step);

  /// Sets both times of an unknown, such as the head at the start or the last one at the end.
  void set(std::size_t unknown, double time) { passed_[unknown] = shut_[unknown] = time; }

  /// Fill time of each unknown [s], NaN where the front has not been: when the front passed it; but
  /// where fronts meet or a wall ends the way the resin has still to fill the rest of the cell, so
  /// there the time when it is full. In between, where the front reaches the latest neighbour only
  /// little after the node, it is by as much earlier.
  [[nodiscard]] std::vector<double> fill_times(const FlowSystem& system) const;
  /// The gate whose resin passed each unknown first, that is the gate of the neighbour which gave
  /// it most; -1 where the front has not been.
  [[nodiscard]] const std::vector<std::int32_t>& origin() const { return origin_; }
  /// Time the front passed each unknown [s], NaN where it has not been.
  [[nodiscard]] const std::vector<double>& passed() const { return passed_; }
  /// Time each unknown was full [s], NaN where it is not.
  [[nodiscard]] const std::vector<double>& shut() const { return shut_; }

private:
  static constexpr double none = std::numeric_limits<double>::quiet_NaN();
  template <class Visit>
  static void each_giver(const FlowSystem& system, const FilledStep& step, std::size_t unknown,
                         Visit visit);
  [[nodiscard]] static bool fills(const FilledStep& step, std::size_t unknown);
  void place(const FlowSystem& system, const FilledStep& step, std::size_t unknown);
  void place_by_distance(const FlowSystem& system, const FilledStep& step, std::size_t unknown);
  void place_by_volume(const FlowSystem& system, const FilledStep& step, std::size_t unknown);

  [[nodiscard]] std::int32_t origin_from(const FlowSystem& system, std::size_t giver,
                                         std::size_t taker) const;

  std::vector<std::int32_t> gate_beside_;
  std::vector<std::uint8_t> has_opened_; // of each gate, as far as one has
  std::vector<double> passed_, shut_;
  std::vector<double> advance_; // distance the front went in the step, as sqrt(u) [-]
  std::vector<std::int32_t> origin_;
};

} // namespace tidemark
