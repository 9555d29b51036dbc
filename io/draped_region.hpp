// The cloth of a region laid over its part of the mesh.
#pragma once

#include "io/mesh_context.hpp"
#include "mesh/drape.hpp"

#include <optional>
#include <vector>

namespace tidemark {

/// A region and its elements.
struct RegionPart {
  const RawRegion& raw;
  RegionId id;
  std::vector<ElementId> elements; // ascending
};

/// The yarns on the elements of the region (in their order) of cloth whose warp is laid at an angle
/// [rad] from the direction of the drape. Where the net does not reach, they go on from beside,
/// without shear. Seams and places not reached are warnings; nothing is returned after an error.
/// Precondition: the region has a drape with start and direction.
std::optional<std::vector<Yarns>> draped_yarns(const MeshContext& context, const RegionPart& part,
                                               double angle);

} // namespace tidemark
