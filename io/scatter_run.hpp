// One sample of a scatter: what was drawn, the filling with it, and what is kept of that.
#pragma once

#include "io/case_file.hpp"
#include "solver/filling.hpp"

#include <nlohmann/json_fwd.hpp>

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// The samples of a case; number 0 is the case as it is, 1 to samples are drawn.
struct ScatterPlan {
  std::size_t samples = 0;
  std::uint64_t seed = 1;
  std::vector<std::vector<double>> probabilities; // by input, then by sample from 0
};

/// Latin hypercube over the inputs of the case.
ScatterPlan plan_scatter(const Case& input, std::size_t samples, std::uint64_t seed);

/// A problem with what was drawn for it.
struct DrawnProblem {
  FillProblem problem;
  /// By input: the factor, or the temperature [K]; of a permeability that differs from place to
  /// place the mean factor over the area.
  std::vector<double> values;
};

/// Sample `number` of the plan. Throws SolveError if fibres find no room.
DrawnProblem drawn_problem(const Case& input, const ScatterPlan& plan, std::size_t number);

enum class SampleState : std::uint8_t { filled, short_fill, failed };

/// Neighbouring numbers, from first on.
struct NodeRange {
  std::int32_t first;
  std::int32_t count;
};

struct ScatterSample {
  std::size_t number = 0;
  SampleState state = SampleState::failed;
  std::string reason;              // why it is short, as in summary.json; empty if it is not
  std::string error;               // why it failed
  std::vector<double> values;      // as DrawnProblem::values; empty if it failed on the way to them
  std::optional<double> fill_time; // [s]; none if short
  double end_time = 0;             // [s]
  double filled_fraction = 0;      // of the pore volume
  double peak_head_pressure = 0;   // gauge [Pa]
  double end_head_pressure = 0;    // gauge, at the end [Pa]
  std::optional<double> peak_force; // that opens the mould [N]
  std::size_t dry_spots = 0;        // places that stay dry with their air shut in
  double left_dry = 0;        // pore volume that may stay dry and does, if it counts as filled [m3]
  std::vector<NodeRange> dry; // nodes that are not full at the end
  std::vector<NodeRange> late; // nodes that filled after the first 95 % of the volume, or never
};

/// Share of the volume after which a place counts as late.
inline constexpr double late_share = 0.95;

/// Draws and fills a sample; what goes wrong is kept in it. None if it was cut off. A part that is
/// short by shut-in air alone counts as filled if no more than `allowed` [m3] of its pores stay
/// dry, once the resin has come to the last place it comes to.
std::optional<ScatterSample> computed_sample(const Case& input, const ScatterPlan& plan,
                                             std::size_t number, const FillOptions& options,
                                             const std::function<bool()>& goes_on,
                                             double allowed = 0);

/// As kept in the record of runs: all but the number.
nlohmann::ordered_json to_record(const ScatterSample& sample);
/// Throws InputError or an error of nlohmann::json if it is no sample of the case.
ScatterSample from_record(std::size_t number, const nlohmann::ordered_json& record,
                          const Case& input);

/// Whether a sample as it stands in the record may be computed all the same another time, since
/// only memory was lacking.
bool may_be_tried_again(const nlohmann::ordered_json& record);

/// "filled", "short", "failed".
const char* state_word(SampleState state);

} // namespace tidemark
