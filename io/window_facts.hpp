// What a process window comes to, as it is told and written.
#pragma once

#include "io/window_map.hpp"
#include "solver/resistance_curve.hpp"

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// Of each axis where none are given.
inline constexpr std::size_t points_by_curve = 33;
inline constexpr std::size_t points_by_full_runs = 9;

/// A filling in full beside the same by the resistance curve.
struct CurveCheck {
  std::size_t point = 0; // index in WindowMap::points
  FillFigures run;
};

/// The window at one value of the third axis, or the only one.
struct WindowOfValue {
  std::string value;                   // as it was given; empty without a third axis
  double viscosity;                    // of the fresh resin [Pa s]
  std::optional<double> gel_time = {}; // age [s]; none if it does not gel
  WindowMap map = {};
  std::optional<std::size_t> as_set = {}; // index in map.points of the case as it is
  std::optional<CurveCheck> check = {};
};

/// What makes a setting unsafe besides a short fill.
struct WindowLimits {
  std::optional<double> hold_down_force = {}; // of the mould, less the margin [N]
  double mould_margin = 0;                    // of the hold-down force, kept in hand [-]
  double projected_area = 0;                  // of the cavity [m2], with a mould
  bool is_seen_edge_on = false;               // along the mould's direction: no force is told
  double fibre_force = 0;                     // that the fibres push it open with [N]
  bool has_one_cap = true;                    // one pump, whose cap no stage changes
  std::optional<double> safe_cap = {};      // no lower one opens the mould; none if each does [Pa]
  std::string uncounted_fibres;             // as in mould_text; empty where all is counted
  std::optional<double> gel_safety = {};    // least gel time over age of the oldest resin [-]
  std::optional<double> max_flow_rate = {}; // of the machine [m3/s]
  std::optional<double> max_pressure = {};  // of the machine, gauge [Pa]
  std::optional<double> time_limit = {};    // [s]
};

struct WindowFacts {
  std::string title, case_file;
  std::string air_caution; // as in spoken; empty where air shut in is computed
  std::string third_axis;  // "temperature", "catalyst" or nothing
  WindowShape shape;
  bool is_flow_given = false, is_cap_given = false; // else the ranges lie round the case's values
  WindowLimits limits;
  bool full_runs_wanted = false;
  std::optional<CurveObstacle> obstacle; // that asked for full runs
  std::optional<ResistanceCurve> curve;  // none: all points are full runs
  std::vector<WindowOfValue> maps;
  std::vector<std::string> warnings;
  std::size_t runs = 0; // fillings computed in full, those of a start that was cut off included
  bool was_interrupted = false;
};

/// "fills", "opens the mould", "short: gel", ...: as in window.json.
std::string outcome_words(Outcome outcome);

/// As in the map, one word: "gel"; and what that means there: "short: the resin gels first".
const char* map_word(Outcome outcome);
const char* outcome_meaning(Outcome outcome);

/// All outcomes but that the part fills, as they are listed below a map.
inline constexpr std::array faults_in_order{
    Outcome::opens_mould, Outcome::near_gel,    Outcome::short_gel,       Outcome::short_pressure,
    Outcome::short_time,  Outcome::trapped_air, Outcome::short_otherwise, Outcome::beyond_machine,
    Outcome::failed,      Outcome::not_run};

/// Why the wet shapes depend on more than the volume: "gravity acts on the resin".
std::string obstacle_words(CurveObstacle obstacle);

} // namespace tidemark
