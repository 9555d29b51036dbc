// Mesh files that VTK reads for us: .vtk .vtu .vtp .stl .ply.
#pragma once

#include "io/mesh_content.hpp"

#include <filesystem>
#include <string>

namespace tidemark {

/// True for an extension (lower case, with its dot) that read_vtk_mesh takes.
bool is_vtk_extension(const std::string& extension);

/// Reads the file by VTK, in a child process with limits on time and memory: VTK's readers can
/// crash or hang on a damaged file, and that must be an error of the file, not of the program.
/// Groups: see vtk_content; for STL "solid 1" and so on if
/// there are several. Throws InputError naming the file.
MeshContent read_vtk_mesh(const std::filesystem::path& file, const std::string& extension);

} // namespace tidemark
