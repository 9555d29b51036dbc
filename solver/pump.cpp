#include "solver/pump.hpp"

#include "solver/channel_law.hpp"
#include "solver/tolerance.hpp"

#include <algorithm>
#include <limits>
#include <numbers>
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
    const bool is_due = stage.from_time ? time >= nearly * *stage.from_time
                                        : injected >= nearly * stage.from_volume.value_or(none);
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

MeanLine Pump::line_to(const Interval& step, const Stroke& stroke, double layer,
                       bool with_step) const {
  std::vector<StepMean> means;
  if (with_step) {
    means.push_back({step.middle(), stroke.mean_pressure, stroke.volume});
  }
  const auto before = last_means(means_, least_means - means.size(), 2 * layer);
  means.insert(means.end(), before.rbegin(), before.rend());
  return line_through(means);
}

double Pump::end_pressure(const Interval& step, const Stroke& stroke, double layer,
                          bool is_last) const {
  if (stroke.at_cap || means_.empty()) {
    return stroke.mean_pressure;
  }
  return line_to(step, stroke, layer, !is_last).at(step.end());
}

double Pump::duration_to_cap(const Interval& step, const Stroke& stroke, double layer) const {
  const MeanLine line = line_to(step, stroke, layer, true);
  if (means_.empty() || !(line.slope > 0)) {
    return 0;
  }
  return line.time + (cap - line.value) / line.slope - step.begin;
}

void Pump::record(const Interval& step, const Stroke& stroke) {
  injected += stroke.volume;
  if (stroke.at_cap) {
    forget();
  } else {
    means_.push_back({step.middle(), stroke.mean_pressure, stroke.volume});
  }
}

} // namespace tidemark
