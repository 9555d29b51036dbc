// What one time step starts from, and what drives it.
#pragma once

#include <cstdint>
#include <functional>
#include <limits>
#include <optional>
#include <span>
#include <vector>

namespace tidemark {

/// A way in or out at one unknown during a step: resin at a given volume, or beyond a hose at a
/// given pressure. It works one way only, like a check valve. u: see PressureStep.
struct Port {
  std::int32_t unknown = 0;
  std::optional<double> volume = {}; // let in over the step [m3], >= 0; none: by pressure
  double impulse = 0;                // u beyond the hose [-]
  double conductance = std::numeric_limits<double>::infinity(); // of the hose at unit viscosity
                                                                // [m3]; infinite: no hose
  bool lets_out = false;
};

/// Air that has no way out. Its pressure times its volume is constant.
struct AirPocket {
  std::vector<std::int32_t> unknowns; // none of them full
  double volume = 0;                  // at the start of the step [m3], > 0
  double impulse = 0;                 // absolute pressure at the start, times duration / mu [-]
  /// What it acts with: 0 its mean pressure over the step (taken as filled at an even rate), which
  /// is exact to second order but asks for steps that leave most of it and do not come near to its
  /// balance; 1 its pressure at the step's end; between, a weighted mean of both [-].
  double weight_of_end = 0;
  [[nodiscard]] bool acts_by_end() const { return weight_of_end >= 1; }
};

struct StepInput {
  std::span<const double> fill; // fill fraction of each unknown at the start [-]
  std::span<const Port> ports;
  /// u of the air at each unknown (and of its height, under gravity); empty: zero everywhere.
  std::span<const double> floor = {};
  std::span<const AirPocket> pockets = {};
  double guess_scale = 1; // the guess is the last step's u times this
  /// Asked with true when the wet set is about known, with false while it only grows; where the
  /// answer is true the step is given up.
  std::function<bool(bool)> is_unwanted = {};
};

} // namespace tidemark
