// Where gates and vents lie on the mesh.
#pragma once

#include "io/mesh_context.hpp"
#include "solver/fill_problem.hpp"

namespace tidemark {

/// Puts the case's injector, gates and vents into the problem. Points off the part, unknown groups
/// and nodes that two of them have are added to the findings.
void put_ports(const MeshContext& context, FillProblem& problem);

} // namespace tidemark
