// The files of a process window.
#pragma once

#include "io/window_facts.hpp"

#include <nlohmann/json.hpp>

#include <string>

namespace tidemark {

/// Axes, grid, borders, contours, recommended setting and margins of each map, in SI.
nlohmann::ordered_json window_json(const WindowFacts& facts);

/// A row for each point tried, in the order they were.
std::string window_csv(const WindowFacts& facts);

} // namespace tidemark
