// The vents of a case: whether each is needed and how far it may move, as text and files.
#pragma once

#include "io/comparison.hpp"
#include "io/text_table.hpp"
#include "solver/vent_room.hpp"

#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// The filling without the vent.
struct WithoutVent {
  bool may_be;            // no more stays dry than may
  std::string reason;     // why it is short, as in summary.json; empty if it fills
  double filled_fraction; // of the pore volume
  double dry_volume;      // [m3]
};

/// A place a vent was moved to.
struct MovedPlace {
  Vector3 position;  // [m]
  double distance;   // from the vent along the surface [m]
  double dry_volume; // pore volume that stays dry with it there [m3]
  std::string text;  // where it is, for people
};

struct MovedVent {
  Vector3 direction;                 // unit vector
  std::optional<MovedPlace> fills;   // the farthest tried up to which no more stays dry than may
  std::optional<MovedPlace> shut_in; // the nearest tried beyond with which more does
};

struct VentRow {
  std::string name;
  std::optional<Vector3> position; // [m]; none of a vent along a group
  std::string text;                // where it is, for people
  std::string region;
  std::optional<double> reached_at;    // [s]
  std::vector<std::string> awaited_by; // gates that open or close when it is reached
  /// None: it is the only one, a gate waits for it, or the part is short with it.
  std::optional<WithoutVent> without;
  std::vector<MovedVent> ways;          // empty: it was not moved
  std::size_t directions_not_done = 0;  // cut off by Ctrl-C, or failed
  std::vector<std::string> errors = {}; // of trials that failed
};

/// How far a vent may move in every direction, as far as was tried.
struct VentRoom {
  double distance;                   // [m]
  std::optional<MovedPlace> shut_in; // the nearest place with which more stays dry than may
};

/// None of a vent that was not moved, or not yet in all directions.
std::optional<VentRoom> room_of(const VentRow& vent);

struct VentSurvey {
  std::string title;
  std::string case_file;       // as given
  bool is_sought = false;      // the vents were sought; else they are those of the case
  std::string skipped;         // why no vents were sought: what it is short by with all air let out
  bool was_cut_off = false;    // by Ctrl-C, before all vents were found
  std::size_t trials = 0;      // directions and omissions to be tried ...
  std::size_t trials_done = 0; // ... and tried: fewer if Ctrl-C came before
  bool has_case = false;       // a case file with the vents that were sought
  bool let_air_out = false;    // the case lets all air out; here it is shut in
  double allowed = 0;          // pore volume that may stay dry with a vent moved or left out [m3]
  double reach = 0;            // vents were moved up to so far [m]; 0: not at all
  bool fills = false;          // with all vents
  std::string reason;          // if not, as in summary.json
  double filled_fraction = 0;  // of the pore volume
  std::optional<double> fill_time; // [s]
  std::optional<NamedPlace> dry;   // of a short filling its largest dry place
  std::vector<VentRow> vents;
  std::vector<std::string> warnings; // of the filling with all vents
};

/// Whether Ctrl-C came before each vent was moved and left out.
bool trials_were_cut_off(const VentSurvey& survey);

/// A row of headings, then of each vent: when it is reached, what is without it, how far it may
/// move.
std::vector<TextRow> survey_table(const VentSurvey& survey);

/// Whether the part fills, in a line or two.
std::string survey_verdict(const VentSurvey& survey);

/// What can be spared, and how the vents were moved; a line each, perhaps none.
std::string survey_remarks(const VentSurvey& survey);

/// For the terminal.
std::string survey_text(const VentSurvey& survey);

/// vents.json: what does not exist is null.
std::string survey_json(const VentSurvey& survey);

/// vents.csv: a header and a row per vent. SI units.
std::string survey_csv(const VentSurvey& survey);

} // namespace tidemark
