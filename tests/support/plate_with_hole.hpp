// A part of any number of triangles, plain or with all that the shop adds.
#pragma once

#include "solver/fill_problem.hpp"

namespace tidemark::test {

/// A unit square with a hole of radius 0.15 m in its middle, nodes shifted and diagonals drawn at
/// random, filled from a point gate near a corner; about the given number of triangles.
FillProblem plate_with_hole(int triangles);

/// The same with a hose, a second gate that opens on arrival, a vent that closes and one that
/// bleeds a while, air shut in, a runner, race tracks along all free edges, gravity and a mould.
FillProblem with_everything(FillProblem problem);

} // namespace tidemark::test
