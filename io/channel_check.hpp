// Where runners and race tracks run on the mesh.
#pragma once

#include "io/mesh_context.hpp"
#include "solver/fill_problem.hpp"

namespace tidemark {

/// Adds the case's runners and race tracks to the problem, whose regions must be there. Lines that
/// are unknown, lie off the part's edges or have no edge are added to the findings; the channels
/// themselves are made only if no error is left anywhere.
void put_channels(const MeshContext& context, FillProblem& problem);

} // namespace tidemark
