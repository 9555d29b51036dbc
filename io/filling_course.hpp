// What is read off the machine on the way: time, flow, pressure and volume against the fraction
// that is filled.
#pragma once

#include "solver/filling.hpp"

#include <cstddef>
#include <optional>
#include <vector>

namespace tidemark {

/// A pump of the case: that of the gates without one of their own, or that of one gate.
struct CoursePump {
  std::optional<std::size_t> gate; // none: the common pump
};

/// The common pump first, if any gate hangs on it; then those of single gates in their order.
std::vector<CoursePump> course_pumps(const FillProblem& problem);

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

/// The state at a filled fraction from 0 to 1, straight between the rows of the history; before its
/// first row with the flow and pressure of that row. None if the filling does not come that far.
/// For 1 the end of a filling that fills the part.
std::optional<CoursePoint> course_at(const FillProblem& problem, const FillResult& result,
                                     double filled_fraction);

/// Age at the end of the oldest resin in the hoses from heads to gates, counted from its passing of
/// the head [s]; what is there from the start counts from then.
double oldest_in_hoses(const FillProblem& problem, const FillResult& result);

} // namespace tidemark
