// What is read off the machine on the way: time, flow, pressure and volume against the fraction
// that is filled.
#pragma once

#include "solver/filling.hpp"

#include <cstddef>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// A pump of the case: that of the gates without one of their own, or that of one gate.
struct CoursePump {
  std::optional<std::size_t> gate; // none: the common pump
};

/// The common pump first, if any gate hangs on it; then those of single gates in their order.
std::vector<CoursePump> course_pumps(const FillProblem& problem);

/// Whether a gate is on the pump of [injector].
bool has_common_pump(const FillProblem& problem);
const Injector& injector_of(const FillProblem& problem, const CoursePump& pump);
CapTime cap_time_of(const FillResult& result, const CoursePump& pump);
/// "the mixing head", "the pump of gate G2": where its pressure is read.
std::string place_of_head(const FillProblem& problem, const CoursePump& pump);

struct PumpReading {
  double flow_rate; // [m3/s]
  double pressure;  // gauge, at the head of the common pump, else at the gate [Pa]
  double volume;    // let in so far [m3]
};

struct CoursePoint {
  double filled_fraction;         // of the pore volume [-]
  double time;                    // since the start of injection [s]
  std::vector<PumpReading> pumps; // as course_pumps
};

/// Flows and pressures are told from the moment on at which so much both of the time and of the
/// resin in the part is through, and until near_end of the resin is. At constant pressure the flow
/// of the first moment has no limit and is that of the first cells, or of a runner that fills in
/// no time; that of the last moment is one of single cells. (The time till near_end counts: what
/// comes to rest may take hours over the rest.)
inline constexpr double near_start = 0.01;
inline constexpr double near_end = 0.99;

/// Flow [m3/s] when so much is filled, from 0 to 1, taken between near_start and near_end of what
/// the history comes to. The mean of each step (of several, where they are short) counts for its
/// middle; between two middles 1 / q goes straight, as it does with the volume behind a straight
/// front: there it is exact whatever the steps. flow_of: mean flow over the step of a row [m3/s]. 0
/// without rows.
double flow_when(const std::vector<HistoryRow>& history, double filled_fraction,
                 const std::function<double(const HistoryRow&)>& flow_of);

/// A flow at the end of a row.
struct ToldFlow {
  std::size_t row;  // of the history
  double flow_rate; // [m3/s]
};

/// The flow of each row, and that of the next besides where a gate or a stage of a pump switches
/// between the two: it jumps there. Of a filling that fills the part the flows of the first and
/// last per cent are those of near_start and near_end: of the steps between the same two switches
/// only, and where resin flows and fills something. Of another filling all are those of the rows,
/// since it may come to rest after hours.
std::vector<ToldFlow> told_flows(const FillProblem& problem, const FillResult& result,
                                 const std::function<double(const HistoryRow&)>& flow_of);

/// Force that opens the mould when so much is filled, straight between the means of the steps, each
/// at its middle [N]; none without a mould, or beyond the last middle.
std::optional<double> opening_force_when(const std::vector<HistoryRow>& history,
                                         double filled_fraction);

/// Of all gates together near the start and near the end [m3/s].
struct FlowEnds {
  double start, end;
};

FlowEnds flow_ends(const std::vector<HistoryRow>& history);

/// The state at the start and after each row of the history, flow the mean of the step: one more
/// than there are rows; none without rows.
std::vector<CoursePoint> course_points(const FillProblem& problem, const FillResult& result);

/// Highest gauge pressures at a gate [Pa].
struct GatePressures {
  std::optional<double> giving; // while it lets resin in; none if it never does
  std::optional<double> shut;   // open, but pushed shut by the resin in the part: only if higher
};

/// Of gate number g. A pump that is weaker than another one's resin is not what brings its
/// pressure.
GatePressures gate_pressures(const FillProblem& problem, const FillResult& result, std::size_t g);

/// Highest pressure at the mixing head of the common pump while it gives resin [Pa gauge]; where
/// no gate hangs on it, the highest of all pumps.
double peak_at_head(const FillProblem& problem, const FillResult& result);

/// The same until near_end of the resin is in, if what comes after is higher: in the last places
/// the front becomes ever shorter, so that a set flow asks for a pressure that grows beyond all
/// bounds, and how far it comes is as rough as the mesh. Where vents bleed on, or none of several
/// pumps is a common one: peak_at_head.
double peak_till_near_end(const FillProblem& problem, const FillResult& result);

/// Time at which a share of the volume was full, read between the rows of a history; none if it
/// never was.
std::optional<double> time_of_share(const std::vector<HistoryRow>& history, double share);

/// What the head of a pump comes to while it gives resin [Pa gauge].
struct HeadPeak {
  CoursePump pump;
  double pressure;
  double till_near_end; // the same until near_end of the resin is in, as peak_till_near_end
};

/// Of the mixing head. Precondition: a gate hangs on it, or there is one pump only.
HeadPeak mixing_head(const FillProblem& problem, const FillResult& result);
/// Of all pumps the highest.
HeadPeak highest_head(const FillProblem& problem, const FillResult& result);

/// Whether the last of the resin brings so much more that it has to be told apart.
bool peaks_at_the_last(double peak, double till_near_end);

/// The state at a filled fraction from 0 to 1, time and volume straight between the rows of the
/// history, flow as flow_when, pressure straight between near_start and near_end. None if the
/// filling does not come that far. For 1 the moment at which the part is full.
std::optional<CoursePoint> course_at(const FillProblem& problem, const FillResult& result,
                                     double filled_fraction);

/// The state at the end of the last step, flow the mean of that step, whether the part is full or
/// not. None without steps.
std::optional<CoursePoint> course_end(const FillProblem& problem, const FillResult& result);

/// Age at the end of the oldest resin in the hoses from heads to gates, counted from its passing of
/// the head [s]; what is there from the start counts from then.
double oldest_in_hoses(const FillProblem& problem, const FillResult& result);

} // namespace tidemark
