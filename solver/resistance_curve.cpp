#include "solver/resistance_curve.hpp"

#include "solver/mean_line.hpp"
#include "solver/mould_load.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace tidemark {

namespace {

constexpr double never = std::numeric_limits<double>::infinity();
constexpr double trial_drive = 1e5; // above the air at the front [Pa]; the curve is the same at any

bool switches(const Gate& gate) {
  return gate.opens.time.value_or(0) > 0 || gate.opens.reached || gate.closes.time ||
         gate.closes.reached;
}

/// The one pump, of all gates.
const Injector& pump_of(const FillProblem& problem) {
  const auto& own = problem.gates.front().own_injector;
  return own ? *own : problem.injector;
}

/// At constant pressure, with resin that neither thickens nor gels.
FillProblem trial_of(FillProblem problem) {
  auto& own = problem.gates.front().own_injector;
  Injector& pump = own ? *own : problem.injector;
  pump.flow_rate.reset();
  pump.pressure_cap = front_pressure(problem) + trial_drive;
  problem.resin.gel_time.reset();
  problem.resin.thickening = std::monostate{};
  problem.heat.reset();
  return problem;
}

/// By a line through the steps before the last cells, as a pump's pressure is read: in them the
/// resin crowds into the few that are open, and the means tell of the mesh more than of the part.
double resistance_at_end(const ResistanceCurve& curve) {
  std::vector<StepMean> means;
  for (std::size_t i = 1; i < curve.volume.size(); ++i) {
    if (curve.is_in_last_cells[i - 1]) {
      continue;
    }
    means.push_back({0.5 * (curve.volume[i - 1] + curve.volume[i]), mean_resistance(curve, i),
                     curve.volume[i] - curve.volume[i - 1]});
  }
  if (means.empty()) {
    return mean_resistance(curve, 1);
  }
  constexpr std::size_t least_steps = 4;
  const auto last = last_means(means, least_steps, 2 * curve.layer);
  return std::max(curve_through(last).at(curve.volume.back()), means.back().value);
}

ResistanceCurve curve_of(const FillProblem& problem, const FillResult& result) {
  ResistanceCurve curve{};
  curve.front_pressure = front_pressure(problem);
  curve.pore_volume = result.pore_volume;
  curve.impulse.push_back(0);
  curve.fibre_force = result.mould_load ? result.mould_load->at_rest.fibres.force : 0;
  const double viscosity = problem.resin.viscosity;
  double time = 0;
  for (const HistoryRow& row : result.history) {
    const double duration = row.time - time;
    time = row.time;
    const double volume = row.filled_fraction * result.pore_volume;
    if (curve.volume.empty()) { // what the cells at the gates took at once
      curve.volume.push_back(std::max(0.0, volume - row.flow_rate * duration));
    }
    if (!(volume > curve.volume.back())) {
      continue;
    }
    curve.is_in_last_cells.push_back(row.is_in_last_cells ? 1 : 0);
    curve.layer = row.layer;
    curve.volume.push_back(volume);
    curve.impulse.push_back(curve.impulse.back() + trial_drive * duration / viscosity);
    if (row.opening_force && result.mould_load) {
      curve.projected_area = result.mould_load->at_rest.projected_area;
      curve.end_lever =
          (*row.opening_force - curve.fibre_force - curve.front_pressure * curve.projected_area) /
          trial_drive;
      curve.lever.push_back(curve.end_lever);
    }
  }
  curve.end_resistance = curve.volume.size() > 1 ? resistance_at_end(curve) : 0;
  return curve;
}

/// A filling by the curve on its way.
class CurveRun {
public:
  CurveRun(const ResistanceCurve& curve, const Resin& resin, const PumpSetting& setting,
           std::optional<double> time_limit)
      : curve_(curve), resin_(resin), setting_(setting),
        drive_(setting.pressure_cap - curve.front_pressure),
        gel_(standstill_age(resin) - age_at_start()), limit_(time_limit.value_or(never)) {
    figures_.peak_head_pressure = curve.front_pressure;
    take_force(0, curve.front_pressure);
  }

  FillFigures run() {
    if (!(drive_ > 0)) {
      figures_.reason = ShortReason::pressure;
      return figures_;
    }
    bool goes_on = take(curve_.volume.front(), curve_.volume.front() / setting_.flow_rate, 0);
    for (std::size_t i = 1; goes_on && i < curve_.volume.size(); ++i) {
      goes_on = step(i);
    }
    if (goes_on) {
      figures_.fill_time = figures_.end_time;
      figures_.filled_fraction = 1;
      if (std::isfinite(gel_age(resin_))) {
        figures_.gel_share = (figures_.end_time + age_at_start()) / gel_age(resin_);
      }
      if (!curve_.lever.empty()) {
        figures_.force_left_on = curve_.fibre_force + setting_.pressure_cap * curve_.projected_area;
      }
    }
    return figures_;
  }

private:
  [[nodiscard]] double age_at_start() const {
    return resin_.mixing == Mixing::batch ? resin_.mixed_before : 0;
  }

  /// Lets a volume in over a time; false if gel or time limit come before. fraction: filled so far.
  bool take(double volume, double duration, double filled) {
    const double end = std::min(gel_, limit_);
    if (figures_.end_time + duration > end) {
      const double share = std::max(0.0, end - figures_.end_time) / duration;
      figures_.reason = gel_ <= limit_ ? ShortReason::gel : ShortReason::time_limit;
      figures_.filled_fraction =
          (filled + (std::isfinite(duration) ? share : 0) * volume) / curve_.pore_volume;
      figures_.end_time = end;
      return false;
    }
    figures_.end_time += duration;
    return true;
  }

  /// One step of the curve; in parts where it goes from set flow to cap on the way.
  bool step(std::size_t i) {
    constexpr int parts = 32;
    const bool is_mixed = is_at_flow(i, 0) && !is_at_flow(i, 1);
    for (int k = 0; k < (is_mixed ? parts : 1); ++k) {
      if (!part(i, k, is_mixed ? parts : 1)) {
        return false;
      }
    }
    return true;
  }

  /// R of the curve at a share of a step: a straight line that has the step's mean [1/m3].
  [[nodiscard]] double resistance(std::size_t i, double share) const {
    const std::size_t last = curve_.volume.size() - 1;
    const double mean = mean_resistance(curve_, i);
    const std::size_t before = i > 1 ? i - 1 : i;
    const std::size_t after = i < last ? i + 1 : i;
    const auto middle = [&](std::size_t k) {
      return 0.5 * (curve_.volume[k - 1] + curve_.volume[k]);
    };
    if (after == before) {
      return mean;
    }
    const double slope = (mean_resistance(curve_, after) - mean_resistance(curve_, before)) /
                         (middle(after) - middle(before));
    const double rise = std::max(0.0, slope) * (curve_.volume[i] - curve_.volume[i - 1]);
    return mean + std::min(rise, 2 * mean) * (share - 0.5);
  }

  /// Whether at a share of a step, come to at set flow, the head is below the cap.
  [[nodiscard]] bool is_at_flow(std::size_t i, double share) const {
    const double volume = curve_.volume[i] - curve_.volume[i - 1];
    const double age = figures_.end_time + age_at_start() + share * volume / setting_.flow_rate;
    return viscosity_at(resin_, age) * resistance(i, share) * setting_.flow_rate < drive_;
  }

  /// Part k of a step.
  bool part(std::size_t i, int k, int parts) {
    const double share = 1.0 / parts;
    const double volume = share * (curve_.volume[i] - curve_.volume[i - 1]);
    const double impulse = volume * resistance(i, (k + 0.5) * share);
    const double before = curve_.volume[i - 1] + k * volume;
    const double age = figures_.end_time + age_at_start();
    const double by_flow = volume / setting_.flow_rate;
    const auto by_cap = duration_of_fluidity(resin_, age, impulse / drive_);
    if (!by_cap && !std::isfinite(std::min(gel_, limit_))) {
      figures_.reason = ShortReason::pressure; // it never gets there
      figures_.filled_fraction = before / curve_.pore_volume;
      return false;
    }
    const double begin = figures_.end_time;
    if (!take(volume, std::max(by_flow, by_cap.value_or(never)), before)) {
      return false;
    }
    const double flow = volume / std::max(by_flow, *by_cap);
    const bool is_in_last_cells = curve_.is_in_last_cells[i - 1] != 0;
    if (!is_in_last_cells) {
      before_last_cells_ = {figures_.end_time, flow};
    }
    if (!is_in_last_cells || before_last_cells_.is_held_back(flow, figures_.end_time)) {
      judge_pressure(i, begin, Part{by_flow, *by_cap, impulse});
    } else if (i + 1 == curve_.volume.size() && k + 1 == parts) {
      judge_pressure(i, begin, std::nullopt);
    }
    return true;
  }

  struct Part {
    double by_flow, by_cap; // how long it takes at set flow and at the cap [s]
    double impulse;         // of W [-]
  };

  /// Head pressure and force over a part of a step; without one at the end of the last, in which
  /// the pressure is that of the last cells more than of the part: there the curve's end stands for
  /// it.
  void judge_pressure(std::size_t i, double begin, const std::optional<Part>& part) {
    const double cap = setting_.pressure_cap;
    double at_flow = viscosity_at(resin_, figures_.end_time + age_at_start()) *
                     curve_.end_resistance * setting_.flow_rate;
    double middle = figures_.end_time;
    bool is_at_cap = at_flow >= drive_;
    if (part) {
      at_flow =
          part->impulse / mean_fluidity(begin + age_at_start(), part->by_flow) / part->by_flow;
      middle = begin + 0.5 * part->by_flow;
      is_at_cap = part->by_cap >= part->by_flow;
    }
    const double at_head = curve_.front_pressure + at_flow;
    if (is_at_cap && !figures_.time_cap_reached) {
      figures_.time_cap_reached = cap_met(begin, middle, at_head);
    }
    middle_ = middle;
    at_middle_ = at_head;
    const double head = is_at_cap ? cap : std::min(at_head, cap);
    figures_.peak_head_pressure = std::max(figures_.peak_head_pressure, head);
    if (!curve_.lever.empty()) {
      take_force(part ? curve_.lever[i - 1] : curve_.end_lever, head);
    }
  }

  /// Mean of 1 / mu from an age on [1/(Pa s)].
  [[nodiscard]] double mean_fluidity(double age, double duration) const {
    return thickens(resin_) ? fluidity_time(resin_, age, age + duration) / duration
                            : 1 / resin_.viscosity;
  }

  /// Where the straight line through the pressures at mid-step passes the cap, if it does on the
  /// way to this step's middle.
  [[nodiscard]] double cap_met(double begin, double middle, double at_head) const {
    if (!middle_ || !(at_head > at_middle_)) {
      return begin;
    }
    const double share = (setting_.pressure_cap - at_middle_) / (at_head - at_middle_);
    return std::clamp(*middle_ + share * (middle - *middle_), *middle_, middle);
  }

  void take_force(double lever, double head) {
    if (!curve_.lever.empty()) {
      const double force = curve_.fibre_force + curve_.front_pressure * curve_.projected_area +
                           lever * (head - curve_.front_pressure);
      figures_.peak_force = std::max(figures_.peak_force.value_or(force), force);
    }
  }

  const ResistanceCurve& curve_;
  const Resin& resin_;
  const PumpSetting& setting_;
  double drive_; // [Pa]
  double gel_;   // since the start of the injection [s]
  double limit_; // [s]
  FillFigures figures_;
  std::optional<double> middle_; // of the step before, at set flow [s], and the head there [Pa]
  double at_middle_ = 0;
  BeforeLastCells before_last_cells_;
};

} // namespace

std::optional<CurveObstacle> obstacle_in(const FillProblem& problem) {
  const auto owns = [](const Gate& gate) { return gate.own_injector.has_value(); };
  const auto& vents = problem.vents;
  if (has_unequal_temperatures(problem)) {
    return CurveObstacle::heat;
  }
  if (problem.resin.mixing == Mixing::inline_head && thickens(problem.resin)) {
    return CurveObstacle::inline_ageing;
  }
  if (problem.gravity) {
    return CurveObstacle::gravity;
  }
  if (problem.gates.size() > 1 && std::ranges::any_of(problem.gates, owns)) {
    return CurveObstacle::several_pumps;
  }
  if (!pump_of(problem).stages.empty()) {
    return CurveObstacle::schedule;
  }
  if (std::ranges::any_of(problem.gates, switches)) {
    return CurveObstacle::switched_gates;
  }
  if (std::ranges::any_of(vents, [](const Vent& vent) { return vent.bleed > 0; })) {
    return CurveObstacle::bleeding;
  }
  if (std::ranges::any_of(
          vents, [&](const Vent& vent) { return vent.pressure != vents.front().pressure; })) {
    return CurveObstacle::vent_pressures;
  }
  return std::nullopt;
}

double mean_resistance(const ResistanceCurve& curve, std::size_t step) {
  return (curve.impulse[step] - curve.impulse[step - 1]) /
         (curve.volume[step] - curve.volume[step - 1]);
}

CurveAttempt resistance_curve(const FillProblem& problem, const FillOptions& options,
                              const FillWatcher& watcher) {
  if (const auto obstacle = obstacle_in(problem)) {
    return {std::nullopt, obstacle};
  }
  const FillProblem trial = trial_of(problem);
  FillOptions free = options;
  free.time_limit.reset();
  bool has_shut_in_air = false;
  const FillResult result = fill(trial, free, [&](const StepReport& report) {
    has_shut_in_air = has_shut_in_air || report.row.shut_in_air > 0;
    return !has_shut_in_air && (!watcher || watcher(report));
  });
  if (has_shut_in_air || result.reason == ShortReason::trapped_air) {
    return {std::nullopt, CurveObstacle::shut_in_air};
  }
  if (result.reason == ShortReason::interrupted) {
    return {};
  }
  if (result.verdict != Verdict::filled || result.filled_fraction < 1 - 1e-6) {
    return {std::nullopt, CurveObstacle::out_of_reach};
  }
  ResistanceCurve curve = curve_of(trial, result);
  if (curve.volume.size() < 2) { // the gates' cells are all there is
    return {std::nullopt, CurveObstacle::out_of_reach};
  }
  return {std::move(curve), std::nullopt};
}

FillFigures fill_figures(const FillProblem& problem, const FillResult& result) {
  FillFigures figures;
  figures.reason = result.reason;
  figures.fill_time = result.verdict == Verdict::filled ? result.fill_time : std::nullopt;
  figures.end_time = result.end_time;
  figures.filled_fraction = result.filled_fraction;
  figures.peak_head_pressure = result.peak_head_pressure;
  figures.time_cap_reached = result.time_cap_reached;
  if (result.mould_load) {
    figures.peak_force = result.mould_load->peak_force;
  }
  if (result.verdict != Verdict::filled) {
    return figures;
  }
  if (const auto rest = left_on(problem, result); rest && result.mould_load) {
    figures.force_left_on = rest->force;
  }
  if (result.heat && has_unequal_temperatures(problem)) {
    figures.gel_share = result.heat->gel_share;
  } else if (result.age && std::isfinite(gel_age(problem.resin))) {
    figures.gel_share = result.age->oldest / gel_age(problem.resin);
  } else if (std::isfinite(gel_age(problem.resin))) { // the first resin is in the part to the end
    const Resin& resin = problem.resin;
    const double before = resin.mixing == Mixing::batch ? resin.mixed_before : 0;
    figures.gel_share = (result.end_time + before) / gel_age(resin);
  }
  return figures;
}

FillFigures fill_by_curve(const ResistanceCurve& curve, const Resin& resin,
                          const PumpSetting& setting, std::optional<double> time_limit) {
  return CurveRun(curve, resin, setting, time_limit).run();
}

} // namespace tidemark
