// Layouts of gates side by side: what the ranking and a full run say of each.
#pragma once

#include "io/comparison.hpp"
#include "io/text_table.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// A gate of a layout.
struct GateSpot {
  std::string name;
  std::optional<Vector3> position; // [m]; none of a gate along a group
  std::string text;                // where it is, for people
};

/// Where air was shut in and closed up, under vacuum or too small for the mesh to tell.
struct ClosedAir {
  NamedPlace place;    // its time: when it was shut in
  double volume;       // then [m3]
  double air_pressure; // then, gauge [Pa]
};

struct LayoutRow {
  std::string name; // "as it is", "layout 1"
  std::vector<GateSpot> gates;
  std::optional<double> ranked_time; // by the ranking, [s]
  RunState state = RunState::not_run;
  std::string reason;                // why it is short, as in summary.json
  std::string error;                 // why the run failed
  std::optional<double> fill_time;   // [s]
  double filled_fraction = 0;        // of the pore volume
  double peak_head_pressure = 0;     // gauge [Pa]
  double peak_till_near_end = 0;     // the same until 99 % of the resin is in [Pa]
  std::optional<double> peak_force;  // that opens the mould [N]
  bool opens_mould = false;          // more than holds it shut
  bool push_climbs = false;          // how high in the last 1 % of the resin is not known
  std::optional<double> gel_share;   // largest, of its way to the gel that any resin has gone [-]
  std::optional<double> gel_margin;  // until then [s]; none where age alone does not tell
  double longest_way = 0;            // from the nearest gate along the surface [m]
  std::vector<NamedPlace> last;      // latest first; of a short run its dry places
  std::vector<ClosedAir> closed_air; // to be looked at on the first part
  std::optional<std::size_t> vents;  // so many vents of the layout's own, if they were sought
  std::string case_file;             // name of the one written for it; empty if none was
  std::vector<std::string> warnings; // of the run
};

/// A piece of the part that nothing joins to the others.
struct SearchedPiece {
  bool is_searched = false;
  double share = 1;                 // of the pore volume
  Vector3 position;                 // a node near its middle [m]
  std::string text;                 // that, for people
  std::vector<std::string> regions; // that have nodes there
};

/// What the whole search was.
struct GateSearchFacts {
  std::string title;
  std::string case_file;
  std::size_t places = 0;                 // tried
  std::size_t ranked = 0;                 // of these: fewer when interrupted
  std::size_t at_vents = 0;               // left out since a vent is there
  std::size_t gates = 1;                  // of a layout
  double radius = 0;                      // [m]
  double ranked_pressure = 0;             // gauge, at the head [Pa]
  bool has_cap = true;                    // whether that is the pump's cap
  bool seeks_vents = false;               // of each layout
  std::optional<NamedPlace> best_place;   // by the ranking, where no layout is wanted
  std::vector<SearchedPiece> pieces = {}; // the one that is searched first
};

/// Whether the part fills and the mould stays shut.
bool is_sound(const LayoutRow& row);

/// Rows that are sound and to which no other such is preferable: faster at no more pressure, or as
/// fast at less. To three digits, which is more than a prediction keeps.
std::vector<bool> preferable_rows(const std::vector<LayoutRow>& rows);

/// "The fastest: about 3:20 min at x 500 mm, ..." and where all places stand; empty where layouts
/// were wanted, which tell their own.
std::string best_place_text(const GateSearchFacts& facts);

/// What is to be said of a search on a part in pieces: which is searched and which not. Empty if it
/// is in one.
std::vector<std::string> search_warnings(const GateSearchFacts& facts);

/// The warnings of the runs, each once, with the layouts it comes with where it is not all that
/// were run: "layout 1, layout 2: The mould is ...".
std::vector<std::string> layout_warnings(const std::vector<LayoutRow>& rows);

/// What the verdict "opens" means; empty where no row has it.
std::string opening_note(const std::vector<LayoutRow>& rows);

/// A row for each layout below the headings.
std::vector<TextRow> layouts_table(const std::vector<LayoutRow>& rows);

/// The tables for the terminal; the first row is the case as it is.
std::string layouts_text(const GateSearchFacts& facts, const std::vector<LayoutRow>& rows);

/// gates.csv: a header and a row per layout; several gates or places with ; between. SI units.
std::string layouts_csv(const std::vector<LayoutRow>& rows);

/// gates.json: what does not exist is null.
std::string layouts_json(const GateSearchFacts& facts, const std::vector<LayoutRow>& rows);

} // namespace tidemark
