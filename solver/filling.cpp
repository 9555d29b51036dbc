#include "solver/filling.hpp"

#include "mesh/triangulation.hpp"
#include "solver/arrival.hpp"
#include "solver/flow_network.hpp"
#include "solver/flow_system.hpp"
#include "solver/last_filled.hpp"
#include "solver/pressure_step.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <span>

namespace tidemark {

namespace {

constexpr auto head = static_cast<std::size_t>(FlowSystem::head);
constexpr double never = std::numeric_limits<double>::infinity();

/// A step that has been solved: what it does and what it leads to.
struct Step {
  double begin = 0;    // [s]
  double duration = 0; // [s]
  Drive drive;
  double volume = 0;     // injected [m3]
  double mean_drive = 0; // mean of head pressure above front pressure [Pa]
  bool at_cap = false;
  bool completes = false;      // everything reachable is full at its end
  std::vector<double> impulse; // u of each unknown [s]
};

/// A link of a gate to an unknown outside the head.
struct GateLink {
  std::size_t unknown;
  double conductance;
};

class Filling {
public:
  Filling(const FillProblem& problem, const FillOptions& options)
      : problem_(problem), options_(options), network_(flow_network(problem)),
        system_(flow_system(network_, problem.gates)),
        pressure_step_(system_, {.fill_tolerance = options.fill_tolerance}),
        arrivals_(system_.size()), fill_(system_.size(), 0.0) {
    result_.network = network_.quality;
    result_.pore_volume =
        std::accumulate(network_.pore_volume.begin(), network_.pore_volume.end(), 0.0);
    room_ = std::accumulate(system_.volume.begin(), system_.volume.end(), 0.0);
    reachable_volume_ = room_;
    if (problem.injector.pressure_cap) {
      cap_drive_ = *problem.injector.pressure_cap - front_pressure(problem);
    }
    collect_gates();
  }

  void open_gates();
  [[nodiscard]] bool goes_on() const { return !is_over_; }
  Step next_step();
  void advance(const Step& step);
  void record(const Step& step, const FillWatcher& watcher);
  FillResult finish();

private:
  /// Mean head pressure above front pressure over a step [Pa], at its middle [s], and the volume
  /// injected in it [m3].
  struct MeanDrive {
    double time, drive, volume;
  };
  struct Line {
    double time, drive, slope;
    [[nodiscard]] double at(double t) const { return drive + slope * (t - time); }
  };

  void collect_gates();
  [[nodiscard]] double time_left() const;
  [[nodiscard]] double planned_volume() const;
  [[nodiscard]] double planned_duration(double volume) const;
  Step solve_flow(double duration);
  Step solve_cap(double duration);
  Step fill_head_cells(double longest);
  std::optional<Step> completing_step(double longest);
  static Line drive_line(std::span<const MeanDrive> means);
  [[nodiscard]] Line drive_line_to(const Step& step, bool with_step) const;
  [[nodiscard]] double end_drive(const Step& step) const;
  [[nodiscard]] double duration_to_cap(const Step& step) const;
  void credit_gates(const Step& step);
  [[nodiscard]] PerNode<double> on_nodes(const std::vector<double>& values, double elsewhere) const;
  [[nodiscard]] PerNode<double> fill_times() const;
  void judge();
  void collect_regions();

  const FillProblem& problem_;
  const FillOptions& options_;
  FlowNetwork network_;
  FlowSystem system_;
  PressureStep pressure_step_;
  ArrivalTracker arrivals_;
  std::vector<double> fill_;                      // F of each unknown
  std::vector<std::vector<GateLink>> gate_links_; // of each gate
  std::vector<double> gate_volumes_;              // pore volume at the nodes of each gate [m3]
  double cap_drive_ = never;                      // cap above front pressure [Pa]
  double reachable_volume_ = 0;                   // [m3]
  double room_ = 0;                               // still empty and reachable [m3]
  double time_ = 0;                               // [s]
  bool head_is_full_ = false;
  bool at_cap_ = false;
  bool is_over_ = false;
  Step last_;                    // the step before
  std::vector<MeanDrive> means_; // of the steps so far at set flow rate
  PerNode<double> pressure_;     // gauge, mean over the last step [Pa]
  FillResult result_;
};

void Filling::collect_gates() {
  for (const Gate& gate : problem_.gates) {
    std::vector<GateLink> links;
    double volume = 0;
    for (const NodeId node : gate.nodes) {
      volume += network_.pore_volume[node];
      for (std::size_t k = network_.first[node.position()]; k < network_.first[node.position() + 1];
           ++k) {
        const std::int32_t unknown = system_.unknown[network_.neighbour[k]];
        if (unknown != FlowSystem::head) {
          links.push_back({static_cast<std::size_t>(unknown), network_.conductance[k]});
        }
      }
    }
    gate_links_.push_back(std::move(links));
    gate_volumes_.push_back(volume);
    result_.gates.push_back({gate.name, 0, front_pressure(problem_), 0, 0});
  }
}

/// At a held pressure the cells at the gates fill at once; at a flow rate they fill first.
void Filling::open_gates() {
  arrivals_.set(head, 0);
  pressure_ = PerNode<double>(network_.pore_volume.size(), front_pressure(problem_));
  result_.peak_head_pressure = front_pressure(problem_);
  if (!(cap_drive_ > 0)) {
    is_over_ = true;
    result_.reason = ShortReason::pressure;
    return;
  }
  if (!problem_.injector.flow_rate) {
    at_cap_ = true;
    result_.time_cap_reached = 0;
    fill_[head] = 1;
    head_is_full_ = true;
    room_ -= system_.volume[head];
    result_.injected = system_.volume[head];
    for (std::size_t g = 0; g < gate_volumes_.size(); ++g) {
      result_.gates[g].injected = gate_volumes_[g];
      result_.gates[g].peak_pressure = *problem_.injector.pressure_cap;
    }
    result_.peak_head_pressure = *problem_.injector.pressure_cap;
  }
}

double Filling::time_left() const {
  return std::min(options_.time_limit.value_or(never), problem_.resin.gel_time.value_or(never)) -
         time_;
}

/// An even share of the pore volume, less while the wet part is small or the front short, so that
/// the front crosses a few cells a step at most.
double Filling::planned_volume() const {
  const double share = reachable_volume_ / options_.steps;
  const double layer = pressure_step_.border_volume();
  const double most_layers = std::max(3.0, 300.0 / options_.steps);
  const double filled = reachable_volume_ - room_;
  return std::min(share, std::max(layer, std::min(most_layers * layer, 0.3 * filled)));
}

double Filling::planned_duration(double volume) const {
  if (!at_cap_) {
    return volume / *problem_.injector.flow_rate;
  }
  if (last_.volume > 0) {
    return volume * last_.duration / last_.volume;
  }
  // All of the head's neighbours still dry: the flow can only become less.
  return volume * problem_.resin.viscosity / (cap_drive_ * system_.matrix.diagonal[head]);
}

Step Filling::solve_flow(double duration) {
  Step step;
  step.begin = time_;
  step.duration = duration;
  step.volume = *problem_.injector.flow_rate * duration;
  step.drive.volume = step.volume;
  const double scale = last_.volume > 0 ? step.volume / last_.volume : 1;
  const auto u = pressure_step_.solve(step.drive, fill_, scale);
  step.impulse.assign(u.begin(), u.end());
  step.mean_drive = problem_.resin.viscosity * step.impulse[head] / duration;
  return step;
}

Step Filling::solve_cap(double duration) {
  Step step;
  step.begin = time_;
  step.duration = duration;
  step.at_cap = true;
  step.drive.pressure_impulse = cap_drive_ * duration / problem_.resin.viscosity;
  const double before = last_.impulse.empty() ? 0 : last_.impulse[head];
  const double scale = before > 0 ? *step.drive.pressure_impulse / before : 1;
  const auto u = pressure_step_.solve(step.drive, fill_, scale);
  step.impulse.assign(u.begin(), u.end());
  step.volume = pressure_step_.outflow_of_head();
  step.mean_drive = cap_drive_;
  return step;
}

/// The pump fills the cells at the gates before anything flows on.
Step Filling::fill_head_cells(double longest) {
  Step step;
  step.begin = time_;
  const double empty = (1 - fill_[head]) * system_.volume[head];
  const double duration = empty / *problem_.injector.flow_rate;
  step.duration = std::min(duration, longest);
  step.volume = duration <= longest ? empty : *problem_.injector.flow_rate * longest;
  step.impulse.assign(system_.size(), 0.0);
  step.drive.volume = step.volume;
  step.completes = system_.size() == 1 && duration <= longest;
  return step;
}

/// The step that fills all that is left, if it ends in time: by the completion theorem it is over
/// when the head's impulse reaches the largest w, or when the pump has given what is missing.
std::optional<Step> Filling::completing_step(double longest) {
  const std::vector<double> w = pressure_step_.completion(fill_);
  const double largest = std::ranges::max(w);
  const double by_flow = problem_.injector.flow_rate ? room_ / *problem_.injector.flow_rate : 0;
  const double by_cap = problem_.resin.viscosity * largest / cap_drive_;
  Step step;
  step.begin = time_;
  step.duration = std::max(by_flow, by_cap);
  if (step.duration > longest) {
    return std::nullopt;
  }
  step.volume = room_;
  step.at_cap = by_cap >= by_flow;
  step.completes = true;
  step.mean_drive = problem_.resin.viscosity * largest / step.duration;
  step.impulse.resize(w.size());
  std::ranges::transform(w, step.impulse.begin(), [&](double wi) { return largest - wi; });
  return step;
}

/// Straight line by least squares through the mean head pressures of some steps, each taken at
/// mid-step. Cells fill one by one, so that the mean of one step alone goes up and down a little.
Filling::Line Filling::drive_line(std::span<const MeanDrive> means) {
  double time = 0;
  double drive = 0;
  for (const MeanDrive& mean : means) {
    time += mean.time / static_cast<double>(means.size());
    drive += mean.drive / static_cast<double>(means.size());
  }
  double square = 0;
  double product = 0;
  for (const MeanDrive& mean : means) {
    square += (mean.time - time) * (mean.time - time);
    product += (mean.time - time) * (mean.drive - drive);
  }
  return {time, drive, square > 0 ? product / square : 0};
}

/// The line through the last steps, with the given one or without: so many that the front crossed
/// two layers of cells, and four at least.
Filling::Line Filling::drive_line_to(const Step& step, bool with_step) const {
  std::vector<MeanDrive> means;
  if (with_step) {
    means.push_back({step.begin + 0.5 * step.duration, step.mean_drive, step.volume});
  }
  const double enough = 2 * pressure_step_.border_volume();
  double volume = 0;
  for (auto mean = means_.rbegin(); mean != means_.rend(); ++mean) {
    if (means.size() >= 4 && volume >= enough) {
      break;
    }
    means.push_back(*mean);
    volume += mean->volume;
  }
  return drive_line(means);
}

/// Head pressure above the front's at the end of a step, on the line through the last steps. In
/// the last step of all the flow crowds into the few cells still open, and the mean pressure is
/// that of the mesh more than of the part: there the line through the steps before is continued.
double Filling::end_drive(const Step& step) const {
  if (means_.empty() || step.at_cap) {
    return step.mean_drive;
  }
  return std::max(0.0, drive_line_to(step, !step.completes).at(step.begin + step.duration));
}

/// When in a step at set flow rate the head reaches the cap, by the same line.
double Filling::duration_to_cap(const Step& step) const {
  const Line line = drive_line_to(step, true);
  if (means_.empty() || !(line.slope > 0)) {
    return 0;
  }
  return line.time + (cap_drive_ - line.drive) / line.slope - step.begin;
}

/// Flow rate and cap are complementary: Q <= Q_set, p <= cap, one of them with equality.
Step Filling::next_step() {
  const double longest = time_left();
  if (!head_is_full_) {
    return fill_head_cells(longest);
  }
  const double share = reachable_volume_ / options_.steps;
  if (room_ <= 1.2 * share) {
    if (auto step = completing_step(longest)) {
      return *step;
    }
  }
  const double volume = std::min(planned_volume(), 0.9 * room_);
  const double duration = std::min(planned_duration(volume), longest);
  if (at_cap_) {
    Step step = solve_cap(duration);
    const double set_flow = problem_.injector.flow_rate.value_or(never);
    if (step.volume <= set_flow * duration * (1 + 1e-9)) {
      return step;
    }
    at_cap_ = false;
    return solve_flow(duration);
  }
  Step step = solve_flow(duration);
  if (std::max(step.mean_drive, end_drive(step)) <= cap_drive_) {
    return step;
  }
  if (const double until_cap = duration_to_cap(step); until_cap > 0.02 * duration) {
    step = solve_flow(std::min(until_cap, duration));
    if (step.mean_drive <= cap_drive_) {
      at_cap_ = true; // from its end on
      return step;
    }
  }
  step = solve_cap(duration);
  if (step.volume <= *problem_.injector.flow_rate * duration * (1 + 1e-9)) {
    at_cap_ = true;
    result_.time_cap_reached = result_.time_cap_reached.value_or(time_);
    return step;
  }
  return solve_flow(duration); // the line saw the cap too early
}

void Filling::advance(const Step& step) {
  const std::vector<double> before = fill_;
  if (step.completes) {
    std::ranges::fill(fill_, 1.0);
  } else if (step.mean_drive > 0) {
    pressure_step_.advance(step.drive, fill_);
  } else {
    head_is_full_ = step.duration < time_left();
    fill_[head] = head_is_full_ ? 1.0 : fill_[head] + step.volume / system_.volume[head];
  }
  arrivals_.record(system_, before, fill_, step.impulse, time_, step.duration);
  time_ += step.duration;
  room_ = step.completes ? 0 : room_ - step.volume;
  result_.injected += step.volume;
  if (step.completes) {
    const auto last = std::ranges::min_element(step.impulse) - step.impulse.begin();
    if (static_cast<std::size_t>(last) != head) {
      arrivals_.set(static_cast<std::size_t>(last), time_);
    }
  }
}

void Filling::credit_gates(const Step& step) {
  const double into_head = step.mean_drive > 0 ? 0 : step.volume / system_.volume[head];
  for (std::size_t g = 0; g < gate_links_.size(); ++g) {
    double volume = into_head * gate_volumes_[g];
    for (const GateLink& link : gate_links_[g]) {
      volume += link.conductance * (step.impulse[head] - step.impulse[link.unknown]);
    }
    result_.gates[g].injected += volume;
    HistoryRow& row = result_.history.back();
    row.gates.push_back({volume / step.duration, row.head_pressure});
    result_.gates[g].peak_pressure = std::max(result_.gates[g].peak_pressure, row.head_pressure);
  }
}

void Filling::record(const Step& step, const FillWatcher& watcher) {
  const double end = std::min(end_drive(step), cap_drive_);
  const double head_pressure = front_pressure(problem_) + end;
  const double filled = reachable_volume_ - room_;
  result_.history.push_back({time_,
                             filled / result_.pore_volume,
                             step.volume / step.duration,
                             head_pressure,
                             {},
                             std::vector<double>(problem_.vents.size(), 0.0)});
  credit_gates(step);
  result_.peak_head_pressure = std::max(result_.peak_head_pressure, head_pressure);
  result_.time_at_cap += step.at_cap ? step.duration : 0;
  if (at_cap_ && !result_.time_cap_reached) {
    result_.time_cap_reached = time_;
  }
  std::vector<double> pressures(step.impulse.size());
  std::ranges::transform(step.impulse, pressures.begin(), [&](double u) {
    return front_pressure(problem_) + problem_.resin.viscosity * u / step.duration;
  });
  pressure_ = on_nodes(pressures, front_pressure(problem_));
  ++result_.work.steps;
  const bool is_out_of_time = !step.completes && time_left() <= 1e-12 * time_;
  if (is_out_of_time) {
    const bool has_gelled = problem_.resin.gel_time.value_or(never) <= time_ * (1 + 1e-12);
    result_.reason = has_gelled ? ShortReason::gel : ShortReason::time_limit;
  }
  is_over_ = step.completes || is_out_of_time;
  if (watcher) {
    const PerNode<double> fill_fraction = on_nodes(fill_, 0);
    const PerNode<double> times = fill_times();
    if (!watcher({result_.work.steps, is_over_, result_.history.back(), fill_fraction, pressure_,
                  times}) &&
        !is_over_) {
      result_.reason = ShortReason::interrupted;
      is_over_ = true;
    }
  }
  if (step.at_cap) {
    means_.clear();
  } else if (step.mean_drive > 0) {
    means_.push_back({step.begin + 0.5 * step.duration, step.mean_drive, step.volume});
  }
  last_ = step;
}

PerNode<double> Filling::on_nodes(const std::vector<double>& values, double elsewhere) const {
  PerNode<double> result(system_.unknown.size(), elsewhere);
  for (const NodeId node : result.ids()) {
    if (const std::int32_t unknown = system_.unknown[node]; unknown >= 0) {
      result[node] = values[static_cast<std::size_t>(unknown)];
    }
  }
  return result;
}

PerNode<double> Filling::fill_times() const {
  return on_nodes(arrivals_.fill_times(system_), std::numeric_limits<double>::quiet_NaN());
}

void Filling::judge() {
  const bool is_filled = room_ == 0;
  if (result_.reason == ShortReason::none &&
      reachable_volume_ < result_.pore_volume * (1 - 1e-12)) {
    result_.reason = ShortReason::no_path;
  }
  const bool is_all = is_filled && result_.reason == ShortReason::none;
  result_.verdict = is_all ? Verdict::filled : Verdict::short_fill;
  if (is_all) {
    result_.fill_time = time_;
  }
}

void Filling::collect_regions() {
  for (const Region& region : problem_.regions) {
    result_.regions.push_back({region.name, 0, 0});
  }
  for (const ElementId id : problem_.mesh.elements.ids()) {
    const std::size_t r = problem_.element_region[id].position();
    const double area = element_area(problem_.mesh, id);
    result_.area += area;
    result_.regions[r].area += area;
    result_.regions[r].pore_volume +=
        area * problem_.regions[r].thickness * problem_.regions[r].porosity;
  }
}

FillResult Filling::finish() {
  judge();
  collect_regions();
  result_.end_time = time_;
  result_.fill_fraction = on_nodes(fill_, 0);
  result_.pressure = pressure_;
  result_.fill_time_field = fill_times();
  for (std::size_t i = 0; i < fill_.size(); ++i) {
    result_.resin_in_part += fill_[i] * system_.volume[i];
  }
  result_.filled_fraction = result_.resin_in_part / result_.pore_volume;
  if (result_.injected > 0) {
    result_.mass_balance_error =
        (result_.injected - result_.resin_in_part - result_.bled) / result_.injected;
  }
  for (GateResult& gate : result_.gates) {
    gate.closed_at = time_;
  }
  for (const Vent& vent : problem_.vents) {
    double first = never;
    for (const NodeId node : vent.nodes) {
      const double time = result_.fill_time_field[node];
      first = std::isnan(time) ? first : std::min(first, time);
    }
    result_.vents.push_back(
        {vent.name, std::isfinite(first) ? std::optional(first) : std::nullopt, 0});
  }
  result_.last_filled =
      last_filled_places(problem_, network_, result_.fill_time_field, 0.005 * time_);
  if (result_.verdict == Verdict::short_fill) {
    result_.dry_spots = dry_places(problem_, network_, result_.fill_fraction);
  }
  const SolveCount& count = pressure_step_.count();
  result_.work.linear_solves = count.solves;
  result_.work.linear_iterations = count.iterations;
  result_.work.largest_residual = count.largest_residual;
  return std::move(result_);
}

} // namespace

FillResult fill(const FillProblem& problem, const FillOptions& options,
                const FillWatcher& watcher) {
  Filling filling(problem, options);
  filling.open_gates();
  while (filling.goes_on()) {
    const Step step = filling.next_step();
    filling.advance(step);
    filling.record(step, watcher);
  }
  return filling.finish();
}

} // namespace tidemark
