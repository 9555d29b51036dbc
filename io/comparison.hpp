// Runs side by side: their figures, and which is best at what.
#pragma once

#include "io/case_file.hpp"
#include "io/materials.hpp"
#include "solver/filling.hpp"

#include <optional>
#include <string>
#include <vector>

namespace tidemark {

struct RegionFraction {
  std::string region;
  double fibre_volume_fraction; // of the fabrics, gaps and cores apart
};

/// The last place to fill, or of a short run its largest dry place.
struct NamedPlace {
  Vector3 position; // [m]
  std::string region;
  std::optional<double> time; // [s]; none for a dry place
  std::string text;           // "x 812 mm, y 310 mm, z 44.0 mm"
};

/// What a run that was computed tells.
struct RunFigures {
  std::optional<double> fill_time;     // [s]; none if short
  double end_time = 0;                 // [s]
  bool bleeding_stopped = false;       // in the full part, before the vents had let out all
  double filled_fraction = 0;          // of the pore volume
  double peak_head_pressure = 0;       // of all pumps the highest, gauge [Pa]
  std::string head;                    // "the pump of gate G2": whose; empty with a single pump
  bool push_climbs = false;            // how high in the last 1 % of the resin is not known
  double peak_till_near_end = 0;       // the same until 99 % of the resin is in [Pa]
  double time_at_cap = 0;              // of the same pump [s]
  std::optional<double> peak_force;    // that opens the mould [N]
  bool opens_mould = false;            // more than holds it shut
  double resin_in_part = 0;            // [m3]
  std::optional<double> resin_mass;    // [kg]
  double bled = 0;                     // [m3]
  std::vector<RegionFraction> regions; // those with fibres
  MaterialSum part_mass;               // [kg]
  MaterialSum cost;                    // [currency]
  std::optional<NamedPlace> place;
};

enum class RunState { filled, short_fill, failed, not_run };

struct ComparedRun {
  std::string name;      // "as it is", the label or text of a --try, or the case file
  std::string tried;     // the text of the --try; empty without one
  std::string title;     // of the case
  std::string case_file; // as it was given
  std::string currency;
  bool has_prices = false;
  RunState state = RunState::not_run;
  std::string reason; // why it is short, as in summary.json; empty if it is not
  std::string error;  // why it failed
  RunFigures figures; // of a run that filled or is short
  std::vector<std::string> warnings;
  std::string air_caution; // as in spoken; empty where air shut in is computed
};

/// Precondition: result is a filling of input.problem.
RunFigures figures_of(const Case& input, const FillResult& result);

/// A figure of which less is better.
struct Figure {
  const char* key; // in the files, with the unit
  /// None where the run has no such figure.
  std::optional<double> (*value)(const ComparedRun& run);
  std::string (*text)(const ComparedRun& run, double value); // as printed
  bool (*leaves_out)(const ComparedRun& run);                // whether it counts without cores
};

/// Fill time, peak head pressure, time at the cap, resin (volume and mass), part mass, cost.
const std::vector<Figure>& compared_figures();

/// Whether the part fills and the mould stays shut.
bool is_sound(const ComparedRun& run);

/// The runs, by position, that are best in a figure: of those that are sound the one with the
/// lowest value, and those that print alike, since a prediction cannot tell them apart. None if a
/// run that is sound lacks the figure or leaves out cores that another counts, or if all that are
/// sound print alike.
std::vector<std::size_t> best_runs(const std::vector<ComparedRun>& runs, const Figure& figure);

/// The value of a figure as printed, "-" where there is none.
std::string figure_text(const Figure& figure, const ComparedRun& run);

/// "filled", "short", "failed" or "not run".
const char* state_word(RunState state);

} // namespace tidemark
