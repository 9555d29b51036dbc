// Which way the elements of a mesh face: to where their normal points, by the order of corners.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <vector>

namespace tidemark {

/// The elements of a part that face the other way than most of those they are joined with,
/// ascending: two face alike if they pass their common edge in opposite senses. Over edges at which
/// not just two elements of the part meet, nothing is compared. Where as many face one way as the
/// other, the way of the first is right. On a surface with one side only (a Moebius strip) some way
/// round it is taken. O(n log n).
std::vector<ElementId> turned_over(const ShellMesh& mesh, const PerElement<bool>& is_part);

} // namespace tidemark
