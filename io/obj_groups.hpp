// The named groups and materials of a Wavefront OBJ file, which VTK's reader does not hand on.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <string_view>
#include <vector>

namespace tidemark {

struct ObjGroups {
  std::size_t faces = 0;
  std::vector<ElementSet> sets; // faces by number, in order of first use of the name
};

/// Reads the lines g, usemtl and f of an OBJ file. A face is in each of its groups and in its
/// material; faces before any of these lines are in no set.
ObjGroups obj_groups(std::string_view content);

} // namespace tidemark
