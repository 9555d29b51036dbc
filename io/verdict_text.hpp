// The verdict of a filling in words.
#pragma once

#include "io/case_file.hpp"
#include "solver/filling.hpp"

#include <string>

namespace tidemark {

/// The verdict of a filling as sentences an engineer can read aloud, in shop units: whether it
/// fills, when and at what pressure, where the resin comes last or air stays, what to look at.
/// Precondition: result is a filling of input.problem.
std::string verdict_text(const Case& input, const FillResult& result);

} // namespace tidemark
