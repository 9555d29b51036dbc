// What stands on the operator's sheet of the shot as it goes: gates and vents in the order things
// happen, and time, flow and pressure on the way.
#pragma once

#include "io/sheet_shot.hpp"

#include <string>
#include <vector>

namespace tidemark {

std::vector<SheetEvent> order_of(const Shot& shot);

SheetTable course_of(const Shot& shot);

/// How the bands in brackets came about.
std::string band_text(const Shot& shot);

} // namespace tidemark
