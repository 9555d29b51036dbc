// Wavefront OBJ files.
#pragma once

#include "io/mesh_content.hpp"

#include <string>
#include <string_view>

namespace tidemark {

/// Reads the lines v, f, g and usemtl of an OBJ file, with or without a byte order mark; whatever
/// else a line begins with is passed over. Labels are the numbers of the vertices and of the faces
/// in the file, from 1. A face is in each of its groups and in its material, in order of first use
/// of the name; faces before any of these lines are in no set. Throws InputError "file: line 12:
/// text" for a coordinate that is no finite number, and for a face that is no triangle or
/// quadrilateral of vertices in the file. The file's name is for messages only.
MeshContent parse_obj(std::string_view content, const std::string& file_name);

} // namespace tidemark
