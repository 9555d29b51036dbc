// A pump or pressure pot through a filling: set points in force, what it gave, where its cap is
// met.
#pragma once

#include "solver/fill_problem.hpp"
#include "solver/mean_line.hpp"

#include <cmath>
#include <span>
#include <vector>

namespace tidemark {

/// What a pump did in a step.
struct Stroke {
  double volume = 0;        // let in [m3]
  double mean_pressure = 0; // gauge, at the head, over the step [Pa]
  bool at_cap = false;
};

/// A step in time.
struct Interval {
  double begin = 0, duration = 0; // [s]
  [[nodiscard]] double middle() const { return begin + 0.5 * duration; }
  [[nodiscard]] double end() const { return begin + duration; }
};

/// Flow rate and cap are complementary: Q <= Q_set, p <= cap, one of them with equality. The head
/// pressure within a step at set flow rate is read off a line by least squares through the mean
/// pressures of the last steps, each taken where half of the step's volume was in: cells fill one
/// by one, so that the mean of one step alone goes up and down a little. The line takes in as many
/// steps as the front needs for two layers of cells, and four at least. It is straight over the
/// volume let in, as from a gate along a side, or over its logarithm, as round a port,
///     p = mu Q / (4 pi K h) ln V + constant,
/// whichever fits better.
class Pump {
public:
  Pump(const Injector& injector, std::vector<std::size_t> gates);

  /// Puts the stages in force whose time [s] or injected volume has come. Returns whether any did.
  bool take_over_stages(double time);
  [[nodiscard]] double next_stage_time() const;   // [s], infinite if none waits for a time
  [[nodiscard]] double next_stage_volume() const; // injected so far, then [m3]; infinite as above

  /// Head pressure at the end of a step [Pa gauge], the one after those recorded. layer: pore
  /// volume of a layer of cells along the front [m3]. While the last cells fill (is_last) the flow
  /// crowds into the few that are open, and the mean pressure is that of the mesh more than of the
  /// part: there the line through the steps before is continued, at the cap too if that has only
  /// held since then.
  [[nodiscard]] double end_pressure(const Stroke& stroke, double layer, bool is_last) const;
  /// How long after the step's begin the head reaches the cap [s]; 0 if the line does not say.
  [[nodiscard]] double duration_to_cap(const Interval& step, const Stroke& stroke,
                                       double layer) const;
  void record(const Stroke& stroke);
  /// A step whose mean pressure says nothing: only its volume counts.
  void count(const Stroke& stroke) { injected += stroke.volume; }
  void forget() { means_.clear(); } // after a change that makes the pressure jump

  [[nodiscard]] bool has_flow_rate() const { return std::isfinite(flow_rate); }

  std::vector<std::size_t> gates; // indices in FillProblem::gates
  double flow_rate;               // set point in force [m3/s], infinite without one
  double cap;                     // in force, gauge [Pa], infinite without one
  double resistance;              // of the hose, pressure drop is mu R Q [1/m3]
  bool at_cap;
  double injected = 0; // [m3]

private:
  static constexpr std::size_t least_means = 4;
  [[nodiscard]] StepMean mean_of(const Stroke& stroke) const;
  [[nodiscard]] CurveOfMeans curve_to(const Stroke& stroke, double layer, bool with_step) const;

  std::vector<InjectorStage> stages_;
  std::size_t next_stage_ = 0;
  std::vector<StepMean> means_; // of the pressure, over the steps so far at set flow rate [Pa];
                                // their times are volumes let in [m3]
};

} // namespace tidemark
