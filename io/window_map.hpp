// The map of a process window: what becomes of the part at each flow rate and pressure cap, where
// one outcome borders on another, and the setting in the middle of those that are safe.
#pragma once

#include "io/window_lines.hpp"

#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace tidemark {

enum class Outcome : std::uint8_t {
  fills,
  opens_mould,     // the opening force passes what holds the mould shut, less the margin
  near_gel,        // it fills, but less than resin.gel_safety before the gel
  short_gel,       // short, for the gel
  short_pressure,  // the flow comes to a stand at the cap
  short_time,      // not full at the time limit
  trapped_air,     // short, for air that is shut in
  short_otherwise, // no way for the resin
  beyond_machine,  // fills, but with more flow or pressure than the machine may be run at
  failed,          // the computation did
  not_run          // interrupted before
};

/// One axis: equal ratios of (value - zero).
struct WindowAxis {
  double low, high;                            // zero < low < high
  double zero = 0;                             // for caps the pressure of the air at the front
  [[nodiscard]] double at(double share) const; // exactly low and high at 0 and 1
  [[nodiscard]] double share_of(double value) const; // the other way round
  [[nodiscard]] double log_range() const;            // ln((high - zero) / (low - zero))
};

/// What a point was tried for.
enum class Purpose : std::uint8_t { grid, border, contour, margin, recommended, as_set };

struct TriedPoint {
  WindowPlace place;
  double flow_rate = 0;    // [m3/s]
  double pressure_cap = 0; // gauge [Pa]
  Outcome outcome = Outcome::not_run;
  std::string reason = {};                       // word of a short fill, as in summary.json
  std::optional<double> fill_time = {};          // [s], if the resin comes everywhere
  std::optional<double> filled_fraction = {};    // [-]
  std::optional<double> peak_head_pressure = {}; // gauge [Pa]
  std::optional<double> time_cap_reached = {};   // [s]
  std::optional<double> peak_force = {};         // that opens the mould [N]
  std::optional<double> force_left_on = {};      // of a full part, if the pump stays on [N]
  std::optional<double> gel_share = {};          // of the way to the gel [-]
  std::string error = {};                        // of a failed run
  Purpose purpose = Purpose::grid;
};

/// Tries some settings; what comes back has place and purpose as they were given.
using TryPoints = std::function<void(std::vector<TriedPoint>& points)>;

struct WindowShape {
  WindowAxis flow;          // [m3/s]
  WindowAxis cap;           // gauge [Pa]
  std::size_t points = 9;   // of each axis, 2 or more
  double tolerance = 0.005; // of a border, as a ratio of flow or of cap above the air [-]
};

/// Two points side by side of which one outcome ends and another begins between.
struct BorderPoint {
  std::size_t from = 0, to = 0; // indices in WindowMap::points
  WindowPlace place;            // half-way
};

/// A line between two outcomes, or of one fill time.
struct WindowLine {
  std::array<Outcome, 2> between{};     // of a border, in the order of the enumeration
  std::optional<double> fill_time = {}; // of a contour [s]
  std::vector<WindowPlace> places;
};

/// How far one thing may go from the recommended setting, all else as it is.
struct Margin {
  double limit = 0; // the last setting tried that is safe: flow rate or cap [m3/s or Pa]
  std::optional<Outcome> fault = {}; // what comes behind it; none: the end of the range
};

struct Recommendation {
  std::size_t point = 0; // index in WindowMap::points
  /// Distance to the nearest border or end of the range, as a ratio of flow or of cap above the
  /// air, > 1.
  double clearance = 1;
  Margin flow_down, flow_up, cap_down, cap_up;
};

/// The flow rate that fills the part in a time at one cap of the grid.
struct ContourFlow {
  std::size_t row;             // of the grid
  double fill_time, flow_rate; // [s], [m3/s]
  bool is_safe;                // the nearest points tried at this cap on both sides of it are
};

struct WindowMap {
  WindowShape shape;
  std::vector<TriedPoint> points; // the grid first, flow rising within cap rising
  std::vector<BorderPoint> border_points;
  std::vector<WindowLine> borders;
  std::vector<WindowLine> contours;
  std::vector<ContourFlow> contour_flows;
  std::optional<Recommendation> recommended; // none if no point is safe
  /// Whether the contours are where points were computed; else they lie between those of the grid.
  bool has_exact_contours = false;
  [[nodiscard]] const TriedPoint& grid(std::size_t flow, std::size_t cap) const {
    return points[cap * shape.points + flow];
  }
};

/// Whether a point of the row was not run: then it is not known what lies beside it.
bool has_gap(const WindowMap& map, std::size_t row);

/// Whether the resin comes everywhere, whatever else there is.
bool has_fill_time(const TriedPoint& point);

/// Tries the grid, halves the sides of its meshes on which the outcome changes until the borders
/// are known to the tolerance, and seeks the setting farthest from border and ends of the range: of
/// equal ones the middle. What lies within one mesh of the grid without changing its corners is not
/// seen. Contours are looked for with more points only if those cost nothing (exact_contours).
WindowMap mapped_window(const WindowShape& shape, const TryPoints& try_points, bool exact_contours);

} // namespace tidemark
