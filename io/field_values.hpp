// Arrays of the mesh file in place of values of a region: looked up, checked, in SI.
#pragma once

#include "io/mesh_context.hpp"
#include "io/value_range.hpp"

#include <optional>
#include <vector>

namespace tidemark {

/// One number for each of the elements, in SI. What is wrong is added to the findings, of numbers
/// out of range the first and their count, and nothing is returned.
std::optional<std::vector<double>> field_numbers(const MeshContext& context, const RawArray& given,
                                                 const std::vector<ElementId>& elements,
                                                 const Limits& limits);

/// One vector for each of the elements, of length 1; none of them may be zero.
std::optional<std::vector<Vector3>> field_directions(const MeshContext& context,
                                                     const RawArray& given,
                                                     const std::vector<ElementId>& elements);

} // namespace tidemark
