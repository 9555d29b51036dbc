// Lines through the means of the last steps.
#pragma once

#include <cstddef>
#include <span>

namespace tidemark {

/// Mean of a quantity over a step in which a volume [m3] came in; it stands at mid-step [s].
struct StepMean {
  double time, value, volume;
};

struct MeanLine {
  double time, value, slope;
  [[nodiscard]] double at(double t) const { return value + slope * (t - time); }
};

/// By least squares; level through a single mean. Precondition: not empty.
MeanLine line_through(std::span<const StepMean> means);

/// The last of the means, at least so many, and enough of them to hold the volume [m3]; all if
/// there are less. Cells fill one by one, so that one mean alone goes up and down a little.
std::span<const StepMean> last_means(std::span<const StepMean> means, std::size_t least,
                                     double volume);

/// Over the volume let in [m3], straight or over its logarithm.
struct CurveOfMeans {
  MeanLine line;
  bool is_logarithmic;
  [[nodiscard]] double at(double volume) const;
  [[nodiscard]] double volume_at(double value) const; // [m3]; precondition: it rises
};

/// Of means that stand at volumes let in [m3] in place of times: straight, as the pressure at set
/// flow from a gate along a side, or over the logarithm, as round a port, whichever fits better.
/// Precondition: not empty.
CurveOfMeans curve_through(std::span<const StepMean> means);

} // namespace tidemark
