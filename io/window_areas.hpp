// The map of a process window as areas of one outcome each, to be painted.
#pragma once

#include "io/window_map.hpp"

#include <vector>

namespace tidemark {

/// A polygon without holes; corners in order, counter-clockwise with the flow to the right and the
/// cap upwards.
struct WindowArea {
  Outcome outcome;
  std::vector<WindowPlace> corners;
};

/// Covers the window without gap or overlap. Within a mesh of the grid areas meet at the straight
/// pieces of the borders, as map.borders has them; where a border was not sought (not_run) half-way
/// between the points. Meshes of one outcome side by side along the flow are one area.
std::vector<WindowArea> window_areas(const WindowMap& map);

} // namespace tidemark
