#include "solver/pump.hpp"

#include "solver/channel_law.hpp"
#include "solver/tolerance.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace tidemark {

namespace {

constexpr double none = std::numeric_limits<double>::infinity();

} // namespace

Pump::Pump(const Injector& injector, std::vector<std::size_t> gate_indices)
    : gates(std::move(gate_indices)), flow_rate(injector.flow_rate.value_or(none)),
      cap(injector.pressure_cap.value_or(none)), resistance(hose_resistance(injector.line)),
      at_cap(!injector.flow_rate), stages_(injector.stages) {}

bool Pump::take_over_stages(double time) {
  bool changed = false;
  for (; next_stage_ < stages_.size(); ++next_stage_) {
    const InjectorStage& stage = stages_[next_stage_];
    const bool is_due = stage.from_time
                            ? time >= nearly * *stage.from_time
                            : injected >= nearly_all_let * stage.from_volume.value_or(none);
    if (!is_due) {
      break;
    }
    flow_rate = stage.flow_rate.value_or(flow_rate);
    cap = stage.pressure_cap.value_or(cap);
    at_cap = flow_rate == none;
    changed = true;
  }
  return changed;
}

double Pump::next_stage_time() const {
  return next_stage_ < stages_.size() ? stages_[next_stage_].from_time.value_or(none) : none;
}

double Pump::next_stage_volume() const {
  return next_stage_ < stages_.size() ? stages_[next_stage_].from_volume.value_or(none) : none;
}

/// At what has been let in by its middle, instead of a time.
StepMean Pump::mean_of(const Stroke& stroke) const {
  return {injected + stroke.volume / 2, stroke.mean_pressure, stroke.volume};
}

CurveOfMeans Pump::curve_to(const Stroke& stroke, double layer, bool with_step) const {
  const std::size_t own = with_step ? 1 : 0;
  const auto before = last_means(means_, least_means - own, 2 * layer);
  std::vector<StepMean> means(before.begin(), before.end());
  if (with_step) {
    means.push_back(mean_of(stroke));
  }
  return curve_through(means);
}

double Pump::end_pressure(const Stroke& stroke, double layer, bool is_last) const {
  if (means_.empty() || (stroke.at_cap && !is_last)) {
    return stroke.mean_pressure;
  }
  return curve_to(stroke, layer, !is_last).at(injected + stroke.volume);
}

double Pump::duration_to_cap(const Interval& step, const Stroke& stroke, double layer) const {
  const CurveOfMeans curve = curve_to(stroke, layer, true);
  if (means_.empty() || !(curve.line.slope > 0)) {
    return 0;
  }
  return (curve.volume_at(cap) - injected) / stroke.volume * step.duration;
}

void Pump::record(const Stroke& stroke) {
  if (stroke.at_cap) {
    forget();
  } else {
    means_.push_back(mean_of(stroke));
  }
  count(stroke);
}

} // namespace tidemark
