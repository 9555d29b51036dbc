// What a filling at any flow rate, cap and viscosity takes, from one filling of the part.
//
// With one viscosity at a time, one head, one air pressure and nothing that switches on the way,
// the wet shape depends on the injected volume V alone (Elliott and Janovsky 1981, Proc. R. Soc.
// Edinburgh A 88:93, from memory), and so does the resistance
//     R(V) = (p_head - p_front) / (mu Q),
// hose, runners and gaps included. One filling at constant head pressure gives its integral
//     W(V) = integral of R dV = integral of (p_head - p_front) / mu dt,
// exactly at the ends of the steps, and any other filling is
//     dt = dV / Q,   Q = min(Q_set, (p_cap - p_front) / (mu R(V))).
#pragma once

#include "solver/filling.hpp"

#include <cstdint>
#include <optional>
#include <vector>

namespace tidemark {

/// What makes the wet shape depend on more than the injected volume.
enum class CurveObstacle : std::uint8_t {
  heat,
  inline_ageing, // viscosity differs from place to place
  gravity,
  several_pumps,
  schedule,       // of the pump
  switched_gates, // that open or close on the way
  vent_pressures, // that differ
  bleeding,       // vents
  shut_in_air,
  out_of_reach, // the part does not fill, whatever the pump does
};

/// The first obstacle that the problem itself shows; none: a filling may follow from a curve.
std::optional<CurveObstacle> obstacle_in(const FillProblem& problem);

struct ResistanceCurve {
  double front_pressure;       // gauge [Pa]
  double pore_volume;          // [m3]
  std::vector<double> volume;  // V: of the cells at the gates, then at the end of each step [m3]
  std::vector<double> impulse; // W there [-], from 0 on
  double end_resistance;       // R while the last of the part fills [1/m3]
  double layer = 0;            // volume of the cells along the front before that [m3]
  std::vector<std::uint8_t> is_in_last_cells; // of each step: half of the last layer is full
  /// Of each step: what (p - p_front) adds up to over the projected area, over (p_head - p_front)
  /// [m2]; empty without a mould.
  std::vector<double> lever;
  double end_lever = 0;      // while the last of the part fills [m2]
  double projected_area = 0; // of the cavity [m2]
  double fibre_force = 0;    // that the fibres add to that of the pressure [N]
};

/// R at the end of a step of the curve, from 1 on, as the mean over it [1/m3].
double mean_resistance(const ResistanceCurve& curve, std::size_t step);

struct CurveAttempt {
  std::optional<ResistanceCurve> curve;
  std::optional<CurveObstacle> obstacle; // none with a curve, and none if it was interrupted
};

/// Fills once at constant pressure, unless there is an obstacle; what the pump is set to, gel and
/// ageing are not looked at. Throws as fill.
CurveAttempt resistance_curve(const FillProblem& problem, const FillOptions& options,
                              const FillWatcher& watcher = {});

/// What a pump is set to.
struct PumpSetting {
  double flow_rate;    // [m3/s], > 0
  double pressure_cap; // gauge, at the head [Pa]
};

/// What a filling comes to, as far as it is needed to judge a setting.
struct FillFigures {
  ShortReason reason = ShortReason::none;      // none: it fills
  std::optional<double> fill_time = {};        // [s]
  double end_time = 0;                         // [s]
  double filled_fraction = 0;                  // [-]
  double peak_head_pressure = 0;               // gauge [Pa]
  std::optional<double> time_cap_reached = {}; // [s]
  std::optional<double> peak_force = {};       // that opens the mould [N]
  std::optional<double> force_left_on = {};    // of a full part, if the pump stays on [N]
  /// Largest share of its way to the gel that any resin of a full part has gone [-], if it gels.
  std::optional<double> gel_share = {};
};

/// The same of a filling that was computed.
FillFigures fill_figures(const FillProblem& problem, const FillResult& result);

/// The filling of the curve's part with a resin, which may thicken if it is a batch. A step of the
/// curve takes the longer of the times the flow rate and the cap ask for; the error where it goes
/// from one to the other is of second order in the steps.
FillFigures fill_by_curve(const ResistanceCurve& curve, const Resin& resin,
                          const PumpSetting& setting, std::optional<double> time_limit = {});

} // namespace tidemark
