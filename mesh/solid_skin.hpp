// The skin of a solid, which is no mid-surface.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <optional>

namespace tidemark {

/// Of a surface without any free edge that lies in two layers facing each other, the distance of
/// the layers [m]: the median of 400 places spread evenly over the area, if the nearest layer
/// across 3/4 of them is less than a tenth of the part's extent away and within 30 degrees of
/// parallel. A plate's skin has that, a bottle, a ball or a closed cone has not. Both bounds are
/// our own choice. Elements in `left_out` count for nothing. O(n log n). Precondition: finite
/// positions.
std::optional<double> solid_skin(const ShellMesh& mesh, const PerElement<bool>& left_out);

} // namespace tidemark
