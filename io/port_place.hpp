// Where a gate is told and drawn to be, everywhere alike.
#pragma once

#include "solver/fill_problem.hpp"

namespace tidemark {

/// Of the nodes of a gate, the position of the one nearest to the centre of its round port, or to
/// their middle if it is none [m].
Vector3 place_of_gate(const ShellMesh& mesh, const Gate& gate);

} // namespace tidemark
