// One filling in time: what it holds between steps, and its parts. Only solver/filling*.cpp know
// it.
#pragma once

#include "solver/air.hpp"
#include "solver/arrival.hpp"
#include "solver/filling.hpp"
#include "solver/flow_network.hpp"
#include "solver/flow_system.hpp"
#include "solver/gate_control.hpp"
#include "solver/mould_load.hpp"
#include "solver/pressure_step.hpp"
#include "solver/pump.hpp"
#include "solver/resin_age.hpp"
#include "solver/resin_heat.hpp"
#include "solver/shared_hose.hpp"

#include <cstddef>
#include <cstdint>
#include <limits>
#include <numeric>
#include <optional>
#include <span>
#include <utility>
#include <vector>

namespace tidemark {

/// A step that has been solved: what it does and what it leads to.
struct Step {
  Interval interval;
  std::vector<Stroke> strokes; // of each pump
  double volume = 0;           // injected [m3]
  std::vector<double> bled;    // out of each vent [m3]
  std::vector<double> impulse; // u of each unknown [-]; empty if nothing flows
  bool completes = false;      // everything reachable is full at its end
  bool is_unwanted = false;    // given up on the way: it takes the front to a port that switches
  double viscosity = 0;        // that u is taken at: mean over the step of a batch [Pa s]
  /// What left through the vents [m3].
  [[nodiscard]] double volume_bled() const {
    return std::accumulate(bled.begin(), bled.end(), 0.0);
  }
};

/// A port at a node of a vent that resin may leave by.
struct VentPort {
  std::size_t port; // its index among all
  std::size_t vent;
  std::size_t node; // its place in the vent
};

/// A link of a gate to a node outside it.
struct GateLink {
  NodeId node;
  double conductance;
};

/// The loop over time: open_gates, then next_step, advance and record while it goes on, then
/// finish.
class Filling {
public:
  /// network: that of the problem, which must outlive this.
  Filling(FlowNetwork network, const FillProblem& problem, const FillOptions& options);

  void open_gates();
  [[nodiscard]] bool goes_on() const { return !is_over_; }
  Step next_step();
  void advance(const Step& step);
  void record(const Step& step, const FillWatcher& watcher);
  FillResult finish();

private:
  static constexpr double never = std::numeric_limits<double>::infinity();
  static constexpr double rounding = 1e-12; // of a volume, as a fraction
  /// No pump goes beyond [Pa gauge]; one without a cap stops there when air keeps the resin out.
  static constexpr double beyond_any_pump = 1e8;

  // set-up
  void collect_pumps();
  void collect_gates();
  void collect_heights();
  // the state between steps
  /// Unknowns that are joined, full or not.
  struct Body {
    double room = 0; // [m3]
    bool bleeds = false;
  };
  [[nodiscard]] Body& body_of(std::size_t unknown);
  [[nodiscard]] const Body& body_of(const Pump& pump) const;
  [[nodiscard]] std::vector<double> air_in_gates() const;
  void share_air_of_gates(const std::vector<double>& amount);
  void switch_gates();
  [[nodiscard]] bool fills_own_cells(const Pump& pump) const;
  void fill_cells_at_cap();
  [[nodiscard]] bool has_bled(std::size_t vent) const;
  void collect_bodies();
  [[nodiscard]] bool is_active(const Pump& pump) const;
  [[nodiscard]] double lowest_air_pressure() const; // of what is dry, gauge [Pa]
  [[nodiscard]] double pressure_at_rest(const AirPiece& piece, double height) const; // gauge [Pa]
  [[nodiscard]] double pressure_at_rest(const AirPiece& piece) const;
  /// Least and largest height of a piece's places, as pressure [Pa].
  [[nodiscard]] std::pair<double, double> heights_of(const AirPiece& piece) const;
  [[nodiscard]] bool has_active_pump() const;
  [[nodiscard]] bool is_level() const;
  [[nodiscard]] double time_left() const;
  [[nodiscard]] double time_to_next_switch() const;
  [[nodiscard]] double set_flow() const;
  [[nodiscard]] bool any_at_cap() const;
  // the resin's age
  [[nodiscard]] bool is_batch_that_thickens() const;
  [[nodiscard]] double batch_age() const;
  [[nodiscard]] std::optional<double> oldest_moving() const;
  [[nodiscard]] double viscosity(double duration) const;
  [[nodiscard]] double viscosity_ratio(std::int32_t unknown) const;
  [[nodiscard]] double longest_for_age() const;
  [[nodiscard]] bool is_thick() const;
  /// What the gates' cells hold before gates are tied or untied.
  struct GateResin {
    std::vector<ResinAge::Share> ages;
    std::vector<ResinHeat::GateContent> heat;
  };
  [[nodiscard]] GateResin resin_in_gates() const;
  void regroup_resin(GateResin resin);
  void carry_resin(const Step& step, std::span<const double> before);
  [[nodiscard]] double mixed_at_head(double time) const;
  [[nodiscard]] double time_to_front_gel() const;
  void judge_ages();
  void note_oldest(bool with_front);
  void put_ages();
  void check_progress();
  // how long a step may be
  [[nodiscard]] double planned_volume() const;
  [[nodiscard]] double drive_at_cap(const Pump& pump) const;
  [[nodiscard]] double planned_duration(double volume) const;
  [[nodiscard]] double rate_into_cells(const Pump& pump) const;
  [[nodiscard]] double longest_for_bodies() const;
  [[nodiscard]] double longest_for_cells() const;
  [[nodiscard]] bool flows_on() const;
  [[nodiscard]] double longest_for_pockets() const;
  [[nodiscard]] bool is_large(const AirPiece& piece) const;
  [[nodiscard]] double room_till_rest(const AirPiece& piece) const;
  [[nodiscard]] double time_to_rest(const AirPiece& piece, double room) const;
  [[nodiscard]] double weight_of_end(const AirPiece& piece, double duration) const;
  // one step
  void collect_ports(double duration);
  [[nodiscard]] std::vector<std::size_t> full_nodes(const Vent& vent) const;
  double fit_vent_hoses();
  void collect_air(double duration);
  [[nodiscard]] StepInput step_input(double duration);
  PressureStep::Outcome try_quickly(double& duration, bool may_be_part);
  PressureStep::Outcome solve_pressures(double& duration);
  double solve_to_next_full_cell(double duration);
  [[nodiscard]] double head_pressure(const Pump& pump, double volume, std::size_t root,
                                     double impulse, double duration) const;
  Step trial(double duration);
  Step complementary_step(double duration);
  [[nodiscard]] Pump* pump_over_set_flow(const Step& step, std::vector<std::uint8_t>& keeps_flow);
  Step step_to_switch(Step step, double planned);
  [[nodiscard]] double share_until_bled(const Step& step, std::size_t vent, double volume) const;
  [[nodiscard]] double share_until_volume(const Step& step) const;
  [[nodiscard]] bool presses_too_hard() const;
  [[nodiscard]] bool is_long(double volume) const;
  template <class IsFull> [[nodiscard]] bool reaches_awaited(IsFull is_full) const;
  [[nodiscard]] bool is_beyond_awaited() const;
  [[nodiscard]] bool goes_beyond_awaited(const Step& step) const;
  double arrival_at_awaited(const Step& step);
  bool is_unwanted(bool set_is_known);
  [[nodiscard]] double longest_to_volumes() const;
  Step idle_step(double duration) const;
  [[nodiscard]] std::vector<double> rooms() const;
  std::optional<Step> completing_step(double longest);
  std::optional<Step> completion_of_one_pump();
  std::optional<Step> completion_of_several();
  /// When all is full [s from now], and u of each unknown till then [-].
  struct End {
    double duration;
    std::vector<double> impulse;
  };
  std::optional<End> end_by_flow(const std::vector<double>& room, std::vector<double> given);
  std::optional<End> end_by_pressure(const std::vector<double>& room,
                                     const std::vector<double>& given, std::vector<Port> anchors);
  [[nodiscard]] std::optional<Step> step_to_end(End end, const std::vector<double>& room) const;
  [[nodiscard]] bool is_anchored(std::span<const Port> ports) const;
  [[nodiscard]] double floor_rate(std::size_t i) const;
  [[nodiscard]] bool has_room(std::size_t i) const;
  [[nodiscard]] double net_outflow(std::span<const double> u, std::int32_t unknown) const;
  // what vents let out once all is full
  [[nodiscard]] bool has_to_bleed(std::size_t vent) const;
  void begin_bleeding();
  [[nodiscard]] double longest_to_bleed() const;
  [[nodiscard]] double longest_for_change() const;
  [[nodiscard]] double share_to_bleed(const Step& step) const;
  Step bleeding_step();
  void look_for_end_of_bleeding(const Step& step);
  void stop_bleeding(ShortReason reason);
  // bookkeeping
  void end_within_rounding();
  void note_cap(std::size_t pump, const Step& step);
  void look_for_crowding(const Step& step);
  void look_for_new_course(const Step& step);
  [[nodiscard]] double opening_force(const Step& step, const HistoryRow& row);
  void mark_last_cell(const Step& step, std::span<const double> before);
  void credit_gates(const Step& step, HistoryRow& row);
  void put_pressures(const Step& step);
  [[nodiscard]] std::vector<double> rise_to_end(const Step& step);
  void bring_to_end(std::vector<double>& pressures, const Step& step);
  [[nodiscard]] double end_pressure(const Pump& pump, const Step& step) const;
  void look_for_stall(const Step& step, double stayed, double rate_before);
  [[nodiscard]] bool runs_through(const Step& step, double rate_before) const;
  [[nodiscard]] bool will_close(const Step& step) const;
  void stop(ShortReason reason);
  [[nodiscard]] bool bears_up(const AirPiece& piece) const;
  [[nodiscard]] ShortReason reason_to_stall() const;
  template <class T> PerNode<T> on_nodes(const std::vector<T>& values, T elsewhere) const;
  [[nodiscard]] PerNode<double> pressures_on_nodes(const Step& step,
                                                   const std::vector<double>& pressures,
                                                   double elsewhere) const;
  [[nodiscard]] double depth_of_gate(std::size_t gate, std::int32_t root) const;
  template <class T> PerNode<T> each_on_nodes(const std::vector<T>& values, T elsewhere) const;
  [[nodiscard]] PerNode<double> fill_times() const;
  void judge();
  void collect_cap_times();
  void collect_regions();
  void collect_places();
  void collect_age_facts();
  void put_heat();
  void collect_heat_facts();

  const FillProblem& problem_;
  const FillOptions& options_;
  FlowNetwork network_;
  FlowSystem system_;
  PressureStep pressure_step_;
  ArrivalTracker arrivals_;
  GateControl gate_control_;
  Air air_;
  std::vector<Pump> pumps_;
  std::vector<CapTime> at_cap_;                   // of each pump
  std::vector<double> fill_;                      // F of each unknown
  std::vector<double> height_;                    // rho g z of each unknown [Pa]
  std::vector<std::vector<GateLink>> gate_links_; // of each gate
  std::vector<Body> bodies_;
  std::vector<double> bled_;    // out of each vent so far [m3]
  double reference_ = 0;        // gauge pressure at which u is zero [Pa]
  double reachable_volume_ = 0; // [m3]
  double room_ = 0;             // still empty and reachable [m3]
  double time_ = 0;             // [s]
  int slow_steps_ = 0;          // in a row
  double time_then_ = 0;        // [s] and room [m3] some hundred steps ago, see check_progress
  double room_then_ = std::numeric_limits<double>::infinity();
  double longest_sound_ = never; // duration up to which a step may be found after one was not [s]
  bool was_cut_ = false;         // the step was shortened to end where something switches
  bool was_held_back_ = false;   // or because no sound one as long was found
  bool quick_failed_ = false;    // the last trial found no step by the quick way
  bool fills_suddenly_ = false;  // a pocket takes most of what it will in a part of the step
  /// Where the solution of a step ends before its time: where it goes well beyond an awaited
  /// arrival, where its wet set is about known, or not.
  enum class TrialEnd : std::uint8_t { beyond_awaited, set_known, solved };
  TrialEnd trial_end_ = TrialEnd::beyond_awaited;
  bool trial_reaches_ = false; // an awaited port, by the wet set where it ended
  bool rests_ = false;         // nothing moves until something switches
  bool is_over_ = false;
  double filled_at_ = 0;               // [s]
  bool is_bleeding_ = false;           // all is full, and a vent has not let out all it should
  double first_bleeding_ = 0;          // flow out of such vents in the first step of that [m3/s]
  double passed_ = 0;                  // through the full part since something switched [m3]
  double oldest_ = 0;                  // age of the oldest resin in the full part so far [s]
  double gel_share_ = 0;               // the largest of its way to the gel, likewise, with heat [-]
  int undriven_steps_ = 0;             // one after the other, while vents bleed
  bool rate_is_known_ = false;         // the last step's flow says what to expect of the next
  Interval last_interval_;             // of the step before
  double last_volume_ = 0;             // injected in it [m3]
  double last_stay_ = 0;               // of that, what did not leave through vents [m3]
  double whole_duration_ = 0;          // of the last step that was not cut short by a switch [s]
  std::vector<double> last_bled_;      // in it out of each vent [m3]
  std::vector<SharedHose> vent_hoses_; // of each vent
  std::vector<double> vent_height_;    // of each vent's nodes in the mean, as height_ [Pa]
  // of the step being solved
  std::vector<Port> ports_;
  std::vector<std::int32_t> port_of_pump_; // index in ports_, or -1
  std::vector<VentPort> vent_ports_;
  std::vector<double> floor_;
  std::vector<AirPocket> pockets_;
  PerNode<double> pressure_;        // gauge, mean over the last step [Pa]
  PerNode<double> end_pressure_;    // the same, of the step that fills the part at its end [Pa]
  double standstill_age_;           // of the resin [s]
  std::optional<ResinHeat> heat_;   // if temperatures differ
  std::optional<ResinAge> ages_;    // if parcels of different age must be told apart
  std::vector<HoseContents> hoses_; // of each pump, if so
  PerNode<double> age_field_, viscosity_field_, temperature_field_, conversion_field_;
  std::optional<MouldLoadMeter> mould_load_;
  BeforeLastCells before_last_cells_;
  double layer_ = 0;              // volume of the cells along the front then [m3]
  bool is_in_last_cells_ = false; // half of the last layer of cells is full
  bool has_switched_ = false;     // gates or stages, since the last step
  bool course_is_known_ = false;  // by a step since anything switched
  bool crowds_ = false;           // so that the flow crowded into what is left in the last step
  FillResult result_;
};

template <class T> PerNode<T> Filling::on_nodes(const std::vector<T>& values, T elsewhere) const {
  PerNode<T> result(system_.unknown.size(), elsewhere);
  for (const NodeId node : result.ids()) {
    if (const std::int32_t unknown = system_.unknown[node]; unknown >= 0) {
      result[node] = values[position(unknown)];
    }
  }
  return result;
}

/// Of values that seats tied to one pump have each for itself.
template <class T>
PerNode<T> Filling::each_on_nodes(const std::vector<T>& values, T elsewhere) const {
  PerNode<T> result = on_nodes(values, elsewhere);
  for (std::size_t s = 0; s < system_.seats.size(); ++s) {
    for (const NodeId node : system_.seats[s].nodes) {
      result[node] = values[s];
    }
  }
  return result;
}

} // namespace tidemark
