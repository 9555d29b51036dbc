// Mesh files in, ShellMesh out. The format is told by the file's extension.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <filesystem>
#include <string>
#include <vector>

namespace tidemark {

struct MeshFile {
  ShellMesh mesh;
  std::vector<std::string> notes; // what was dropped or merged, one sentence each
};

/// Reads .msh (Gmsh 2.2 and 4.1, ASCII and binary), .vtk .vtu .vtp (VTK legacy and XML), .stl,
/// .obj and .ply. Coordinates are multiplied by unit [m per mesh unit]. Second-order elements
/// lose their mid-side nodes, vertices of STL, OBJ and PLY files at the same place are merged,
/// and nodes no element uses are dropped: each said in the notes. Throws FileError if the file
/// cannot be opened, InputError (file, line or byte where known) if its content is not a mesh.
MeshFile read_mesh(const std::filesystem::path& file, double unit);

/// Whether the extension, in letters of either size, is one that read_mesh takes.
bool has_mesh_extension(const std::filesystem::path& file);

} // namespace tidemark
