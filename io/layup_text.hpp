// The layups of a case as tables for the terminal.
#pragma once

#include "io/case_file.hpp"

#include <string>

namespace tidemark {

/// A table for each region with a layup: its layers from one face to the other, then the whole
/// stack, and what closes it. Empty if no region has one.
std::string layups_text(const Case& input);

} // namespace tidemark
