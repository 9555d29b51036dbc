// One time step of the moving front as a complementarity problem.
#pragma once

#include "solver/flow_system.hpp"
#include "solver/multigrid.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace tidemark {

/// What the head does over the step: give a volume, or hold a pressure. Exactly one is set.
struct Drive {
  std::optional<double> volume;           // injected in the step [m3]
  std::optional<double> pressure_impulse; // u at the head [s]
};

struct PressureStepOptions {
  double fill_tolerance = 5e-10; // largest error of a fill fraction [-]
  int most_set_changes = 400;
};

struct SolveCount {
  int solves = 0;
  long iterations = 0;
  double largest_residual = 0; // of a fill fraction, recomputed from the matrix [-]
};

/// Solves, with u = integral over the step of (p - p_front) / mu  [s] for every unknown,
///     u_i = 0 :  0 <= I_i <= (1 - F_i) V_i     (takes what flows in)
///     u_i > 0 :  I_i = (1 - F_i) V_i           (full, no room left)
/// I_i the inflow over the step from the neighbours and the drive. The matrix has no wrong-signed
/// link, so the problem is a strictly convex quadratic one with bounds and its solution unique;
/// summed over steps it is the obstacle problem of Elliott and Janovsky (1981, Proc. R. Soc.
/// Edinburgh 88A:93, from memory), which is why the front does not depend on the step size. Method:
/// primal-dual active set; a linear solve on the wet set, then overfull unknowns join it and
/// negative ones leave, until nothing changes.
class PressureStep {
public:
  PressureStep(const FlowSystem& system, PressureStepOptions options = {});

  /// u of the step, which starts at fill fractions fill; the guess is the last step's u scaled by
  /// guess_scale. Precondition: a given volume is less than the room left, and fills the head if
  /// that is not full yet. Throws SolveError.
  std::span<const double> solve(const Drive& drive, std::span<const double> fill,
                                double guess_scale);

  /// w with A w = (1 - F) V and w = 0 at the head. All will be full once the head's u reaches
  /// max w, and not before; the last to fill is where w is largest.
  std::vector<double> completion(std::span<const double> fill);

  /// Volume the head gives off over the step last solved [m3] (what fills the head itself apart).
  [[nodiscard]] double outflow_of_head() const;

  /// Pore volume of the dry unknowns next to wet ones: one layer of cells along the front [m3].
  [[nodiscard]] double border_volume() const;

  /// Advances fill by the step last solved, keeping what each unknown took in, to the last bit.
  void advance(const Drive& drive, std::span<double> fill);

  [[nodiscard]] const SolveCount& count() const { return count_; }

private:
  enum class State : std::uint8_t { dry, wet, held };

  void start(const Drive& drive, std::span<const double> fill, double guess_scale);
  bool change_set(std::span<const double> fill, double tolerance);
  void make_wet(std::int32_t unknown);
  void make_dry(std::int32_t unknown);
  void collect_band();
  void relax_band();
  void keep_one_dry();
  void collect_active();
  void rebuild_border();
  [[nodiscard]] bool is_at_border(std::int32_t unknown) const;
  double update_residual();
  void prepare_multigrid(double tolerance);
  void conjugate_gradients(double tolerance);

  const FlowSystem& system_;
  PressureStepOptions options_;
  SolveCount count_;
  Multigrid multigrid_;
  std::size_t multigrid_size_ = 0; // active unknowns when it was set up
  bool multigrid_with_head_ = false;

  double rounding_ = 0; // least residual that can be reached, as a fill fraction [-]

  std::vector<State> state_;
  std::vector<std::int32_t> active_; // wet unknowns, ascending
  std::vector<std::int32_t> border_; // dry unknowns next to wet or held ones
  std::vector<std::uint8_t> in_border_;
  std::vector<std::int32_t> band_;
  std::vector<std::uint8_t> in_band_;
  double last_scale_ = 1;
  std::vector<double> u_, before_, source_, r_, z_, d_, q_;
};

} // namespace tidemark
