// Angles count about the normals of the elements: whether these face one way, and which.
#pragma once

#include "io/mesh_context.hpp"
#include "solver/fill_problem.hpp"

#include <string>
#include <vector>

namespace tidemark {

/// A warning for each region in which K1's angle bears on the flow and neighbours face opposite
/// ways, so that it turns to opposite sides. A drape carries its own side along, and is left out.
void warn_of_turned_elements(const MeshContext& context, const FillProblem& problem);

/// For each region in which K1's angle bears on the flow and whose elements face one way on the
/// whole, from where the angle is seen to count counter-clockwise: one sentence.
std::vector<std::string> facing_notes(const RawCase& raw, const FillProblem& problem);

} // namespace tidemark
