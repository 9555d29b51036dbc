// A small case and its result made up by hand, for tests of what the user sees.
#pragma once

#include "io/case_file.hpp"
#include "solver/filling.hpp"

namespace tidemark {

/// A flat plate, 2 m x 1 m: a square in region "skin" (K1 = 3e-9 m2 along x) and, beside it, two
/// triangles in region "core" (K1 = 1e-9 m2 along y, K2 = 5e-10 m2). Viscosity 0.2 Pa s.
///     3---4---5
///     |   | / |
///     0---1---2
Case sample_case();

/// A filling of it in 600 s, the cap reached at 200 s; the pressure falls by 4e4 Pa per metre along
/// x from 1e5 Pa. Node 5 is the last.
FillResult sample_result();

/// The same stopped by gel at 400 s with node 5 dry.
FillResult short_result();

/// The same stopped by 0.65 L of air shut in at node 5, at 0.8 bar.
FillResult trapped_air_result();

/// Up to 3000 N after 300 s, 2500 N at the end, held shut by 4000 N.
MouldLoad sample_mould_load();

/// The same case with another reinforcement on each of the two triangles of the core: 1 mm and 3 mm
/// thick, fibre volume fraction 60 % and 40 %, the second sheared by -0.5 rad.
Case case_that_varies();

} // namespace tidemark
