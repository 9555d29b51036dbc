// What would fill a part that the resin gels in: more time, more flow or less catalyst.
#pragma once

#include "solver/filling.hpp"

#include <functional>
#include <optional>

namespace tidemark {

struct CureSearchOptions {
  FillOptions fill;
  int most_runs = 24;                 // fillings computed at most
  double precision = 0.05;            // of an answer found by trying [-]
  double most_flow = 8;               // times the set flow rates
  double most_slowness = 64;          // times the gel time
  std::function<bool()> goes_on = {}; // asked at each step; false ends the search
};

/// Levels of catalyst that may be tried, and the resin at each.
struct CatalystLevels {
  double present, lowest; // mass of catalyst over mass of resin [-]
  std::function<Resin(double)> resin_at;
};

/// Each is the least found that fills the part, all else as it is; none if nothing within the
/// bounds does, or if the runs were used up before.
struct CureSearch {
  /// Age at which it may gel at the earliest, the viscosity against age as it is; of a law that
  /// counts in parts of the gel time, with that [s].
  std::optional<double> gel_time;
  std::optional<double> slowness;    // of the whole ageing, gel and thickening alike [-]
  std::optional<double> flow_factor; // on all set flow rates, caps as they are [-]
  std::optional<double> catalyst;    // mass of catalyst over mass of resin [-]
  /// Largest age of a batch at the start of the injection [s]; and the fill time of a fresh one.
  std::optional<double> mixed_before;
  std::optional<double> fresh_fill_time;
  bool mixing_was_tried = false;
  /// Why the part stays short even if the resin never gels, where that was tried.
  ShortReason without_gel = ShortReason::none;
  bool flow_was_tried = false;
  bool catalyst_was_tried = false;
  bool is_complete = true; // false: the runs were used up, or it was stopped
  int runs = 0;
};

/// Fills again and again with one thing changed; each answer by bisection to the precision given,
/// on the safe side. Precondition: the filling of problem was short by gel.
CureSearch search_cure(const FillProblem& problem, const CureSearchOptions& options,
                       const std::optional<CatalystLevels>& catalyst = {});

} // namespace tidemark
