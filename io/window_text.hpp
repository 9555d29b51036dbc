// A process window on the terminal.
#pragma once

#include "io/window_facts.hpp"

#include <string>

namespace tidemark {

/// The map, how it was computed, the setting in the middle with its margins, the caps for some fill
/// times, and cautions, in shop units.
std::string window_text(const WindowFacts& facts);

} // namespace tidemark
