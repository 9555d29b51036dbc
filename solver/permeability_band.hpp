// What scatter of the permeability does to a filling: the same one filled again with less and more.
#pragma once

#include "solver/filling.hpp"

#include <functional>
#include <optional>

namespace tidemark {

/// Fabrics of one kind commonly scatter by 30 to 45 % in permeability (common practice, no source):
/// 1 / 1.4 is 29 % less, 1.4 is 40 % more.
inline constexpr double usual_permeability_factor = 1.4;

struct PermeabilityBand {
  double factor = usual_permeability_factor; // > 1 [-]
  std::optional<FillResult> tighter;         // K / factor; none if it could not be computed
  std::optional<FillResult> more_open;       // K factor; none as above
};

/// The problem with K1 and K2 of all regions times a factor > 0. Runners and gaps beside the
/// reinforcement hold no fibres and stay as they are.
FillProblem with_permeability_times(FillProblem problem, double factor);

/// Fills twice. goes_on, if given, is asked after each step; once it says no, a filling ends as
/// interrupted.
PermeabilityBand permeability_band(const FillProblem& problem, const FillOptions& options,
                                   const std::function<bool()>& goes_on = {},
                                   double factor = usual_permeability_factor);

} // namespace tidemark
