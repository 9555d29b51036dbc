// One time step of the moving front as a complementarity problem.
#pragma once

#include "solver/channel_forest.hpp"
#include "solver/flow_system.hpp"
#include "solver/multigrid.hpp"
#include "solver/step_input.hpp"

#include <cstdint>
#include <limits>
#include <numeric>
#include <optional>
#include <span>
#include <utility>
#include <vector>

namespace tidemark {

struct PressureStepOptions {
  double fill_tolerance = 5e-10; // largest error of a fill fraction [-]
  int most_set_changes = 400;
};

struct SolveCount {
  int solves = 0;
  long iterations = 0;
  double largest_residual = 0; // of a fill fraction, recomputed from the matrix [-]
};

/// Solves for u = integral over the step of (p - p_reference + rho g z) / mu dt  [-] at every
/// unknown. Resin flows through the link of i and j as c_ij (u_i - u_j), but out of full unknowns
/// only: ahead of the front u is the floor, that of the air there, and what flows in stays.
///     not full at the end :  u_i = floor_i,  0 <= I_i <= (1 - F_i) V_i
///     full at the end     :  I_i = (1 - F_i) V_i
/// with I_i the inflow over the step. The front never goes back: a link through which the air would
/// push resin back, or resin fall ahead of the front, carries nothing. With one air pressure and no
/// gravity u_i >= floor_i follows, the problem is a strictly convex quadratic one with bounds, and
/// summed over steps it is the obstacle problem of Elliott and Janovsky (1981, Proc. R. Soc.
/// Edinburgh 88A:93, from memory), which is why the front does not depend on the step size.
/// Method: primal-dual active set; a linear solve on the wet set, then overfull unknowns join it
/// and those that draw leave, until nothing changes. A pocket of air is one more unknown of the
/// linear solve, linked to all the wet unknowns round it, with the law of the gas linearised
/// (Newton).
class PressureStep {
public:
  explicit PressureStep(const FlowSystem& system, PressureStepOptions options = {});

  /// u of the step. Preconditions: what the ports let in by volume is less than the room left; a
  /// port by pressure is at a full unknown; a port that lets in is part of the input, or no port
  /// lets out. Throws SolveError.
  std::span<const double> solve(const StepInput& input);
  enum class Outcome : std::uint8_t { solved, not_found, unwanted };
  /// The same, but tells where no step so long was found, as can happen under gravity and round
  /// pockets of air (a shorter one may be), or where the input says that it is not wanted. From
  /// what the last step lets expect, at the cost of a few solves.
  Outcome try_quickly(const StepInput& input);
  /// The same from what was full at the start, adding only, at several times that cost: what is
  /// given then exceeds the room of the set, so that it does not draw on what is dry, unless the
  /// air pushes back the more it is pressed. Finds nothing with one air pressure and no gravity,
  /// where the quick way does.
  Outcome try_carefully(const StepInput& input);
  /// A step in which no unknown becomes full: flow on what is full at the start, a convex problem
  /// (links and ports that work one way, air that resists the more the less of it is left), which
  /// always has a solution. Returns the largest inflow into an unknown over its room left [-], or
  /// rounding over what may be lost in it; above 1 the step is too long to be used. Throws
  /// SolveError.
  double solve_on_full(const StepInput& input);
  /// u of the step last solved.
  [[nodiscard]] std::span<const double> impulse() const { return u_; }

  /// Solution x of A x = source [m3] with every unknown wet, at ports without hose x = impulse, at
  /// hoses an inflow conductance (impulse - x). At least one port by pressure is given. None if
  /// rounding does not let it come within the tolerance.
  std::optional<std::vector<double>> solve_all_wet(std::span<const double> source,
                                                   std::span<const Port> ports);

  /// Volume let in through port k of the step last solved [m3], negative if it lets out; of a port
  /// by pressure without hose: what goes on to the neighbours.
  [[nodiscard]] double inflow_of_port(std::size_t k) const;
  /// Volume from unknown i to j, joined by a conductance c, over the step last solved [m3].
  [[nodiscard]] double link_flow(std::int32_t i, std::int32_t j, double c) const;

  /// Part of a pocket that the step last solved fills, the largest of those that act with their
  /// mean pressure [-].
  [[nodiscard]] double largest_intake() const;
  /// Part of a pocket's air, by its index in the input, that resin has taken in the last step [-].
  [[nodiscard]] double intake(std::size_t pocket) const;

  /// Pore volume of the dry unknowns next to wet ones: one layer of cells along the front [m3].
  [[nodiscard]] double border_volume() const;

  /// Before the first step: resin will come in at a gate, so that the border is known.
  void expect_at(std::int32_t gate);

  /// Whether the step last solved fills an unknown, or finds it full.
  [[nodiscard]] bool fills(std::int32_t unknown) const {
    return state_[position(unknown)] != State::dry;
  }

  /// The same as a function, for as long as this lives.
  [[nodiscard]] auto filled() const {
    return [this](std::int32_t unknown) { return fills(unknown); };
  }

  /// Whether an unknown is full at the end of the step being solved, or as good as, while it is
  /// solved loosely; and the same as a function.
  [[nodiscard]] bool about_fills(std::int32_t unknown) const;
  [[nodiscard]] auto about_filled() const {
    return [this](std::int32_t unknown) { return about_fills(unknown); };
  }

  /// Advances fill by the step last solved. What a full unknown took in beyond its volume, or
  /// lacks, within the tolerance, is kept for the next step, so that nothing is lost.
  void advance(std::span<double> fill);
  /// How many times as long as the step last taken one may be, at least 1, before what rounding
  /// takes of it is no longer told from what is lost [-]. Infinite with one air pressure and no
  /// gravity.
  [[nodiscard]] double longest_stretch() const;
  /// What is kept so, over all unknowns [m3].
  [[nodiscard]] double surplus() const {
    return std::accumulate(surplus_.begin(), surplus_.end(), 0.0);
  }

  /// Connected body of the whole network each unknown belongs to, and how many there are; see
  /// connected_bodies.
  [[nodiscard]] const std::vector<std::int32_t>& body_of() const { return body_of_; }
  [[nodiscard]] std::size_t bodies() const { return bodies_; }

  /// To be called after the system was assembled anew.
  void network_changed();

  [[nodiscard]] const SolveCount& count() const { return count_; }

private:
  /// idle: full, but no open port lets resin into the body it belongs to
  enum class State : std::uint8_t { dry, wet, held, idle };
  struct DirectedLink {
    std::int32_t from, to; // a full unknown and one that is not
    double conductance;
    bool operator==(const DirectedLink&) const = default;
  };
  /// What a linear solve may leave: a fill fraction, or if that is more, a share of the residual
  /// that is left once the channels are solved [-].
  struct Goal {
    double least = 0;
    double share = 0;
  };
  struct PocketLink {
    std::int32_t wet;
    std::size_t pocket;
    double conductance;
  };
  struct PocketState {
    double cell = 0;                // largest volume of its unknowns [m3]
    double shift = 0;               // of the floor since the start of the step [-]
    double taken_at = 0;            // where the law is linearised [m3] ...
    double shift_at = 0, slope = 0; // ... its value [-] and slope [1/m3] there
    double residual = 0, correction = 0, direction = 0, product = 0, diagonal = 0;
  };

  void collect_bodies();
  void find_channels();
  [[nodiscard]] double share_of_two_links(std::size_t i) const;
  void start(const StepInput& input);
  void start_ports();
  void start_pockets();
  void mark_idle();
  void wake(std::int32_t unknown);
  [[nodiscard]] bool is_below_floor(std::int32_t unknown, double tolerance) const;
  template <class Accepts>
  [[nodiscard]] std::int32_t widest_channel_beside(std::int32_t unknown, Accepts accepts) const;
  void dry_up(std::int32_t unknown, double tolerance);
  bool change_set(double tolerance);
  void hand_on(std::int32_t unknown, double volume, int most);
  void run_on();
  void mark_fresh(std::int32_t unknown);
  void forget_fresh();
  void keep_runs(std::span<const double> fill);
  bool change_links();
  [[nodiscard]] static bool is_in(const std::vector<DirectedLink>& links, std::int32_t from,
                                  std::int32_t to);
  void look_for_way_out(std::int32_t start, const std::vector<DirectedLink>& closed,
                        std::vector<std::int32_t>& name_of,
                        std::vector<std::uint8_t>& is_free) const;
  void keep_ways_out(std::vector<DirectedLink>& closed) const;
  [[nodiscard]] bool is_misplaced(std::size_t k) const;
  [[nodiscard]] bool ports_work() const;
  bool change_ports();
  void apply_port(std::size_t k, bool open);
  void add_to_border(std::int32_t unknown);
  void make_wet(std::int32_t unknown);
  void make_dry(std::int32_t unknown);
  void collect_band(int layers);
  void relax_band();
  void stir_beside(std::int32_t unknown);
  void stir_pocket(const AirPocket& pocket);
  void level_band();
  [[nodiscard]] double level_with_one_way_links(std::int32_t unknown);
  double relax(std::int32_t unknown, std::vector<std::int32_t>& band);
  void keep_one_dry();
  void collect_active();
  void rebuild_border();
  [[nodiscard]] bool is_at_border(std::int32_t unknown) const;
  [[nodiscard]] bool carries(std::int32_t unknown) const {
    const State state = state_[position(unknown)];
    return state == State::wet || state == State::held;
  }
  [[nodiscard]] double floor_of(std::int32_t unknown) const {
    if (is_level_) {
      return 0;
    }
    const std::size_t i = position(unknown);
    const double shift = pocket_of_[i] < 0 ? 0 : pockets_[position(pocket_of_[i])].shift;
    return input_.floor[i] + shift;
  }
  [[nodiscard]] double inflow_when_dry(std::int32_t unknown) const;
  [[nodiscard]] double excess_when_dry(std::int32_t unknown) const;
  [[nodiscard]] bool feeds_lower_ones(std::int32_t unknown) const;
  [[nodiscard]] bool is_overpressed(std::size_t pocket) const;
  [[nodiscard]] bool is_pressed_out(std::int32_t unknown) const;
  [[nodiscard]] bool may_leave(std::int32_t unknown) const;
  double update_residual();
  double take_residual();
  void linearise_pockets();
  void put_floors(const AirPocket& pocket);
  void put_pocket_floors();
  void level_pocket(std::size_t k);
  void level_pockets(bool also_not_by_end);
  [[nodiscard]] std::optional<std::size_t> small_pocket_of(std::int32_t unknown) const;
  void prepare_multigrid();
  void settle_channels();
  void correct_channels();
  [[nodiscard]] std::vector<BorderLink> border_links() const;
  [[nodiscard]] Eigen::VectorXd border_diagonal() const;
  double precondition();
  double multiply();
  [[nodiscard]] double largest_residual() const;
  [[nodiscard]] Goal exact_goal() const;
  bool conjugate_gradients(double residual, Goal goal, int most_iterations);
  Outcome settle(int most_changes);
  Outcome try_to_settle(int most_changes);
  [[nodiscard]] bool is_sound() const;

  const FlowSystem& system_;
  PressureStepOptions options_;
  SolveCount count_;
  Stencil matrix_; // the system's, with hoses on the diagonal and closed links off it
  Multigrid multigrid_;
  ChannelForest channels_;
  std::vector<double> in_channels_; // values of its rows
  bool knows_network_ = false;      // multigrid and channels do

  double last_rounding_ = 0; // of the step last taken [-]
  double left_ = 0;          // of a fill fraction, that the last linear solve may have left [-]
  double rounding_ = 0;      // least residual that can be reached, as a fill fraction [-]
  bool is_level_ = true;     // all floors are zero
  bool is_cautious_ = false; // unknowns only join the wet set
  std::vector<std::uint8_t> is_channel_; // far more open than most, for the volume
  std::vector<std::uint8_t> is_handed_;  // made wet by hand_on in this step
  std::vector<std::uint8_t> is_fresh_;   // in a channel, another state than in the last solve
  std::vector<std::int32_t> fresh_;      // these
  /// Tips of the runs of channel cells that the last step taken filled, ascending, and room of the
  /// run, shared by its tips [m3].
  std::vector<std::pair<std::int32_t, double>> runs_;
  std::vector<std::int32_t> body_of_;
  std::size_t bodies_ = 0;
  StepInput input_;

  std::vector<State> state_;
  std::vector<std::int32_t> active_; // wet unknowns, ascending
  std::vector<std::int32_t> border_; // dry unknowns next to wet or held ones
  std::vector<std::uint8_t> in_border_;
  std::vector<std::int32_t> band_;
  std::vector<std::uint8_t> in_band_;
  std::vector<std::uint8_t> is_calm_; // of the band, in its sweeps: nothing beside has changed
  std::vector<std::uint8_t> at_air_;  // of the band, in its sweeps: an unknown beside is not wet
  std::vector<std::uint8_t> is_fed_;  // a port by volume is there
  std::vector<std::uint8_t> port_is_open_;
  std::vector<DirectedLink> closed_links_;
  std::vector<std::int32_t> reach_all_; // open inlets from which all that is full is reached
  std::vector<std::pair<double, double>> dry_beside_; // of one unknown: u, conductance
  std::vector<std::int32_t> pocket_of_;               // of each unknown, or -1
  std::vector<double> last_shift_;                    // of its pocket, in the last step taken [-]
  std::vector<PocketState> pockets_;
  std::vector<PocketLink> pocket_links_;
  std::vector<std::pair<double, double>> inlets_; // of a pocket: u above its floor, conductance
  std::vector<std::size_t> bordering_;            // pockets in the border of the multigrid's matrix
  // now, of the last step taken and of the one before it, and the guess's scale from that to this
  std::vector<double> u_, last_, before_;
  double last_scale_ = 1;
  std::vector<double> source_, r_, z_, d_, q_;
  std::vector<double> hose_;    // conductance of the open hoses at each unknown [m3]
  std::vector<double> surplus_; // of a full unknown, beyond its volume: what rounding left [m3]
};

} // namespace tidemark
