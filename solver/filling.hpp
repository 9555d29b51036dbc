// The filling of a mould: where the front goes and when, at what pressure.
#pragma once

#include "solver/fill_problem.hpp"

#include <cstdint>
#include <functional>
#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

struct FillOptions {
  int steps = 100; // steps of equal volume the filling is cut into (more near the gates)
  double fill_tolerance = 5e-10;         // largest error of a fill fraction left by a step [-]
  std::optional<double> time_limit = {}; // stop here at the latest [s]
  int age_parts = 4;           // of a step, in which the age of resin mixed inline is carried on
  bool finer_channels = false; // with finer cells beside channels, see refined_beside_channels
  std::optional<std::size_t> divided_from = {}; // nodes there were before elements were divided
};

enum class Verdict { filled, short_fill };
enum class ShortReason { none, pressure, gel, trapped_air, no_path, time_limit, interrupted };

struct GateSample {
  double flow_rate; // [m3/s]
  double pressure;  // gauge [Pa]
  /// While it can give: of its pump at the head, before what the hose takes, gauge [Pa].
  std::optional<double> head = {};
};

/// One line of the history: the state at the end of a step.
struct HistoryRow {
  double time;                              // [s]
  double filled_fraction;                   // of the pore volume [-]
  double flow_rate;                         // mean over the step [m3/s]
  double head_pressure;                     // gauge, at the end of the step [Pa]
  std::vector<GateSample> gates;            // as FillProblem::gates
  std::vector<double> vent_bleed;           // bled so far [m3], as FillProblem::vents
  double shut_in_air = 0;                   // volume of sealed dry places [m3]
  std::optional<double> opening_force = {}; // on the counter half: mean over the step, of the
                                            // one that ends the filling at its end [N]
  bool is_in_last_cells = false;            // at its end half of the last layer of cells was full
  double layer = 0;                         // volume of the cells along the front before that [m3]

  /// Of the pumps that gave resin in the step, at its end, gauge [Pa]; head_pressure if none did.
  [[nodiscard]] double highest_head() const;
};

/// When the last cells began to fill [s], and the flow before that [m3/s].
struct BeforeLastCells {
  double time = 0, flow_rate = 0;
  /// Whether the flow has fallen to a third by then [s], for more than a twentieth of the time so
  /// far (own choices): the head does stand at its cap then, which is not for the mesh to say.
  [[nodiscard]] bool is_held_back(double flow_now, double now) const {
    return 3 * flow_now < flow_rate && now - time > 0.05 * now;
  }
};

inline const PerNode<double> no_field;

/// What a watcher sees after each step. The references last for the call only.
struct StepReport {
  int step = 0;
  bool is_last = false;
  const HistoryRow& row;
  const PerNode<double>& fill_fraction; // [-]
  const PerNode<double>& pressure;      // gauge, mean over the step [Pa]
  const PerNode<double>& fill_time;     // [s], NaN where the front has not been
  /// Age [s], NaN where no resin is, and viscosity [Pa s]; empty if age does not count.
  const PerNode<double>& resin_age = no_field;
  const PerNode<double>& viscosity = no_field;
  /// [K], and of the cure [-], NaN where no resin is; empty without heat, or kinetics.
  const PerNode<double>& temperature = no_field;
  const PerNode<double>& conversion = no_field;
};

/// Called after each step; returns false to stop the filling there.
using FillWatcher = std::function<bool(const StepReport&)>;

/// When a pump stood at its cap; one without a flow rate does while it can give.
struct CapTime {
  double duration = 0;                // of the filling, without what bled after it [s]
  std::optional<double> reached = {}; // first [s]; none if it never was
};

struct GateResult {
  std::string name;
  double injected;                 // [m3]
  double peak_pressure;            // gauge [Pa]
  std::optional<double> opened_at; // [s]; none if it never opened
  std::optional<double> closed_at; // [s], the end of the run if it was open then; none as above
  CapTime at_cap = {};             // of its own pump; nothing of a gate without one
};

struct VentResult {
  std::string name;
  std::optional<double> reached_at; // [s]; none if the resin never came
  double bled;                      // [m3]
};

struct LastFilled {
  NodeId node;
  double time = 0; // [s]
  RegionId region; // of the first element at the node
};

/// A connected dry place at the end of a short fill.
struct DrySpot {
  Vector3 position;    // a node of the place, the one nearest to its centre [m]
  double volume;       // unfilled pore volume [m3]
  double air_pressure; // gauge [Pa]
  RegionId region;
  bool is_sealed = false;      // its air has no way out
  double sealed_at = 0;        // if sealed: since when [s]
  double halving_pressure = 0; // gauge pressure of the resin that would halve it if sealed [Pa]
};

/// Air that was shut in and then closed up: under vacuum, or smaller than a cell of the mesh when
/// it was shut in, so that the computation cannot tell. A place to look at on the first part.
struct SuspectZone {
  Vector3 position;    // a node of the place [m]
  double volume;       // when it was shut in [m3]
  double air_pressure; // gauge, when it was shut in [Pa]
  double sealed_at;    // [s]
  RegionId region;
};

/// What the fibres of the closed cavity push on the mould along its closing direction.
struct FibrePush {
  double force = 0;          // [N]
  double counted_area = 0;   // seen along the direction, of reinforcement in it [m2]
  double uncounted_area = 0; // of reinforcement of which no compaction is known [m2]
};

/// What a full part at rest pushes on the mould, along its closing direction: under the pressure of
/// the head everywhere, but for the weight of the resin between there and each place.
struct RestingPush {
  /// What one half of the mould touches at a node, and how much more pressure than at the head the
  /// resin has there.
  struct Place {
    double area;   // [m2]
    double column; // rho g (z of the head - z) [Pa]
  };
  double projected_area = 0; // of the cavity [m2]
  double faces = 0;          // the same with those behind each other counted each [m2]
  FibrePush fibres = {};
  double air_pressure = 0;              // gauge: no place comes under less [Pa]
  std::vector<Place> upper, lower = {}; // of either half; empty without gravity

  /// Opening force with the head at this gauge pressure [N].
  [[nodiscard]] double at(double head_pressure) const;
  /// The highest head pressure that opens no mould held with this force, gauge [Pa]; none if the
  /// fibres and the air alone push harder, or no area is seen.
  [[nodiscard]] std::optional<double> highest_head(double hold_down_force) const;
};

/// What tries to part the mould halves; forces are along Mould::closing_direction.
struct MouldLoad {
  double peak_force;                           // [N]
  double peak_force_at;                        // [s]
  double end_force;                            // [N]
  double peak_pressure;                        // highest gauge pressure in the cavity [Pa]
  RestingPush at_rest;                         // of the full part
  double hold_down_force;                      // [N]
  std::optional<double> lifts_at;              // [s] when the opening force first exceeds it
  std::optional<double> head_pressure_at_lift; // of all pumps the highest, gauge [Pa]
};

/// How old the resin in the part is at the end.
struct AgeFacts {
  double mean;   // over its volume [s]
  double oldest; // at the front, which came in first; where vents bleed on, since all was full [s]
  /// Where and when resin mixed inline was first found gelled.
  struct Place {
    NodeId node;
    double time; // [s]
  };
  std::optional<Place> first_gel = {};
};

/// Heat relative to the mould's temperature, in J: carried_in + reaction = stored + to_mould +
/// carried_out + error.
struct HeatBalance {
  double carried_in = 0;  // by the resin injected
  double reaction = 0;    // given off by cure
  double stored = 0;      // in resin and wetted fibres at the end
  double to_mould = 0;    // negative if the mould warms the resin
  double carried_out = 0; // by what bled out of vents
};

/// What the temperatures did.
struct HeatFacts {
  NodeId hottest_node;
  double highest;                      // temperature of the resin over the filling [K] ...
  double highest_at;                   // ... there and at this time [s]
  double mean;                         // of the resin in the part at the end, over its volume [K]
  std::optional<double> at_last_place; // at the end [K]; none if nothing was reached
  std::optional<double> highest_conversion; // at the end [-]; none without kinetics
  double gel_share; // the largest share of its way to the gel that any resin has gone [-]
  HeatBalance balance;
};

struct RegionFacts {
  std::string name;
  double area;        // [m2]
  double pore_volume; // [m3]
};

/// How much of the flow network had to be limited; see flow_network.
struct NetworkQuality {
  std::size_t edges = 0;
  std::size_t flipped = 0; // edges exchanged to make the triangulation Delaunay in the flow metric
  std::size_t limited = 0; // wrong-signed conductances set to zero
  double limited_fraction = 0; // sum of |limited| / sum of |all conductances| [-]
};

/// What happened after the part was full, where a vent had then not yet let out all it should.
struct Bleeding {
  std::optional<double> ended_at = {}; // when the last such vent closed [s]; none if one did not
  /// Why not: the resin gelled or became too thick, nothing drives it, time limit, interrupted.
  ShortReason reason = ShortReason::none;
};

struct WorkFacts {
  int steps = 0;
  int linear_solves = 0;
  long linear_iterations = 0;
  double largest_residual = 0; // of a fill fraction, recomputed from the network [-]
};

struct FillResult {
  Verdict verdict = Verdict::short_fill;
  ShortReason reason = ShortReason::none;
  std::optional<double> fill_time;       // when the last reachable node filled [s]; none if short
  double end_time = 0;                   // of the run, with what bled after that [s]
  std::optional<Bleeding> bleeding = {}; // none if no vent had to bleed on in the full part
  double filled_fraction = 0;            // of the pore volume [-]
  double pore_volume = 0;                // [m3]
  double injected = 0;                   // through the gates [m3]
  double bled = 0;                       // out of the vents [m3]
  double resin_in_part = 0;              // [m3]
  double mass_balance_error = 0;         // (injected - resident - bled) / injected [-]
  double peak_head_pressure = 0;         // gauge [Pa]
  /// As CapTime, of the pump of [injector]; where each gate has its own, of the one that stood at
  /// its cap the longest, of those with a flow rate if there are any.
  double time_at_cap = 0;                 // [s]
  std::optional<double> time_cap_reached; // [s]
  std::vector<GateResult> gates;
  std::vector<VentResult> vents;
  std::vector<LastFilled> last_filled;    // local maxima of the fill time, latest first
  std::vector<DrySpot> dry_spots;         // largest first
  std::vector<SuspectZone> suspect_zones; // in the order they were shut in
  std::optional<MouldLoad> mould_load;    // if the problem names a mould
  std::vector<RegionFacts> regions;
  double area = 0; // [m2]
  std::vector<HistoryRow> history;
  PerNode<double> fill_time_field;  // [s], NaN where the front has not been
  PerNode<double> pressure;         // gauge; if short the mean over the last step [Pa]
  PerNode<double> fill_fraction;    // [-]
  std::optional<AgeFacts> age;      // if the age of the resin counts and there is any
  PerNode<double> resin_age;        // [s], NaN where no resin is; empty if age does not count
  PerNode<double> viscosity;        // at the end [Pa s], as above
  std::optional<HeatFacts> heat;    // if the problem has heat and any resin came
  PerNode<double> temperature;      // at the end [K], NaN where no resin is; empty without heat
  PerNode<double> conversion;       // [-]; empty without kinetics besides
  PerNode<std::int32_t> gate_index; // gate whose resin came here first, -1 where none did
  NetworkQuality network;
  WorkFacts work;
};

/// Fills the part. Throws SolveError if a step does not converge, InputError if a region's
/// direction is perpendicular to one of its elements.
FillResult fill(const FillProblem& problem, const FillOptions& options = {},
                const FillWatcher& watcher = {});

} // namespace tidemark
