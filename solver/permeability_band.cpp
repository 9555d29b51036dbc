#include "solver/permeability_band.hpp"

#include "mesh/error.hpp"
#include "solver/varied_problem.hpp"

#include <utility>

namespace tidemark {

namespace {

std::optional<FillResult> filled_with(const FillProblem& problem, double factor,
                                      const FillOptions& options,
                                      const std::function<bool()>& goes_on) {
  try {
    return fill(with_permeability_times(problem, factor), options,
                [&](const StepReport& /*report*/) { return !goes_on || goes_on(); });
  } catch (const SolveError&) {
    return std::nullopt; // the filling as expected stands all the same
  }
}

} // namespace

FillProblem with_permeability_times(FillProblem problem, double factor) {
  for (std::size_t region = 0; region < problem.regions.size(); ++region) {
    multiply_permeability(problem, RegionId(region), factor);
  }
  return problem;
}

PermeabilityBand permeability_band(const FillProblem& problem, const FillOptions& options,
                                   const std::function<bool()>& goes_on, double factor) {
  PermeabilityBand band;
  band.factor = factor;
  band.tighter = filled_with(problem, 1 / factor, options, goes_on);
  band.more_open = filled_with(problem, factor, options, goes_on);
  return band;
}

} // namespace tidemark
