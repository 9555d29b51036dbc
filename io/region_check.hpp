// Which region each element belongs to.
#pragma once

#include "io/mesh_context.hpp"
#include "solver/fill_problem.hpp"

namespace tidemark {

/// Looks up the groups of all regions; unknown ones, regions without an element and elements
/// without a region are added to the findings.
PerElement<RegionId> assign_regions(const MeshContext& context);

/// Values that are not given are zero.
Region make_region(const RawCase& raw, const RawRegion& region);

/// An error for each region whose direction cannot be projected on all of its elements: within a
/// degree of their normal it says nothing of where K1 points.
void check_projections(const MeshContext& context, const FillProblem& problem);

} // namespace tidemark
