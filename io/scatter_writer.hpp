// The files of a scatter: scatter.json, scatter.csv, and what is said on the terminal.
#pragma once

#include "io/scatter_summary.hpp"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// What was asked for and what came.
struct ScatterOutcome {
  std::size_t wanted = 0; // samples
  std::uint64_t seed = 1;
  std::optional<ScatterSample> as_it_is; // the case itself; none if it is not done
  std::vector<ScatterSample> samples;    // that are done, in the order of their numbers
  ScatterSummary summary;                // of those
  double allowed = 0;                    // pore volume that may stay dry in one that fills [m3]
};

/// scatter.json: inputs, probabilities, distributions, importance, places, every sample; SI.
std::string scatter_json(const Case& input, const ScatterOutcome& outcome);

/// scatter.csv: a row for each sample that is done, by RFC 4180.
std::string scatter_csv(const Case& input, const ScatterOutcome& outcome);

/// What is read aloud.
std::string scatter_text(const Case& input, const ScatterOutcome& outcome);

} // namespace tidemark
