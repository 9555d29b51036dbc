// A first case file for a mesh: what the mesh tells is written down, the rest is asked for.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <string>

namespace tidemark {

/// The text of a case file in TOML. Every value that the user must still supply is "?", with a
/// comment that says what belongs there; the comments tell the groups of the mesh, its free edges
/// and its size. unit [m]: that the mesh was read with; the text gives all coordinates divided by
/// it, as they stand in the mesh file. mesh_name: the mesh as the case names it, in UTF-8. Throws
/// InputError if the mesh has no elements or no size.
std::string first_case_text(const ShellMesh& mesh, double unit, const std::string& title,
                            const std::string& mesh_name);

} // namespace tidemark
