// Ranges of [heat], what it needs of the rest of the case, and the heat made of it.
#pragma once

#include "io/raw_case.hpp"
#include "solver/fill_problem.hpp"

#include <optional>

namespace tidemark {

/// All that can be said of [heat] without the mesh; nothing if there is none.
void check_heat(const RawCase& raw, Findings& findings);

/// None without [heat].
std::optional<Heat> make_heat(const RawCase& raw);

} // namespace tidemark
