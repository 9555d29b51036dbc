// A comparison on the terminal, in shop units.
#pragma once

#include "io/comparison.hpp"

#include <string>
#include <vector>

namespace tidemark {

/// The list of runs, what each does and what each takes, the best marked with *, then what the
/// figures leave out and the warnings of the runs.
std::string comparison_text(const std::vector<ComparedRun>& runs);

} // namespace tidemark
