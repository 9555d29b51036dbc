// What stands on the operator's sheet of what to watch for, when to stop and when to break off.
#pragma once

#include "io/resin_use.hpp"
#include "io/sheet_shot.hpp"

#include <string>
#include <vector>

namespace tidemark {

std::vector<std::string> watch_of(const Shot& shot);

std::vector<std::string> stop_of(const Shot& shot, const ResinUse& use);

std::vector<std::string> abort_of(const Shot& shot);

/// When mixer and hose must be flushed.
std::vector<std::string> flush_of(const Shot& shot);

} // namespace tidemark
