// Steps of a system with one gate, which is given a volume or held at a pressure.
#pragma once

#include "solver/pressure_step.hpp"

#include <array>
#include <optional>
#include <span>
#include <vector>

namespace tidemark::test {

/// Exactly one is set.
struct Drive {
  std::optional<double> volume;           // injected in the step [m3]
  std::optional<double> pressure_impulse; // u at the gate [-]
};

class OneGate {
public:
  static constexpr std::size_t gate = 0; // its unknown

  explicit OneGate(const FlowSystem& system) : system_(system), step_(system) {}

  std::span<const double> solve(const Drive& drive, std::span<const double> fill,
                                double guess_scale = 1) {
    port_[0] = {
        .unknown = 0, .volume = drive.volume, .impulse = drive.pressure_impulse.value_or(0)};
    return step_.solve({.fill = fill, .ports = port_, .guess_scale = guess_scale});
  }

  /// w with A w = (1 - F) V and w = 0 at the gate.
  std::vector<double> completion(std::span<const double> fill) {
    std::vector<double> room(fill.size());
    for (std::size_t i = 0; i < room.size(); ++i) {
      room[i] = (1 - fill[i]) * system_.volume[i];
    }
    const Port held{};
    return step_.solve_all_wet(room, {&held, 1}).value();
  }

  PressureStep& step() { return step_; }

private:
  const FlowSystem& system_;
  PressureStep step_;
  std::array<Port, 1> port_;
};

} // namespace tidemark::test
