// What stands on the operator's sheet of the pump's settings, the resin and what to prepare.
#pragma once

#include "io/sheet_shot.hpp"

#include <vector>

namespace tidemark {

/// Pumps, resin and mould as they are to be set.
std::vector<SheetLine> settings_of(const Case& input);

/// Resin, catalyst and strokes of the shot.
std::vector<SheetLine> quantities_of(const Case& input, const FillResult& result);

} // namespace tidemark
