// Gmsh MSH files, versions 2.2 and 4.1, ASCII and binary.
#pragma once

#include "io/mesh_content.hpp"

#include <string>
#include <string_view>

namespace tidemark {

/// Reads the content of an MSH file; the file's name is for messages only. Physical groups of
/// points, lines and surfaces become node, line and element sets under their names; a group
/// without a name is called "group 7" (surfaces), "line group 7" or "point group 7" after its
/// number. Surface elements in no group are kept. Version 2.2 writes an element of several groups
/// once for each: such repeats become one element in several sets. Volume elements are ignored
/// (noted). Triangles and quadrilaterals of order 1 and 2 are read. $ElementData become
/// element arrays, NaN for elements they leave out. Throws InputError naming line
/// (ASCII) or byte (binary) at the first thing that is wrong.
MeshContent parse_msh(std::string_view content, const std::string& file_name);

} // namespace tidemark
