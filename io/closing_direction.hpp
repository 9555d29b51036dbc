// How much of a part is seen along the direction in which its mould parts.
#pragma once

#include "solver/filling.hpp"

#include <string>

namespace tidemark {

/// Of x, y and z the axis along which most of the part's area is seen, as a vector of length 1; of
/// those alike z before y before x.
Vector3 widest_axis(const ShellMesh& mesh);

/// "[0, 0, 1]".
std::string axis_text(const Vector3& axis);

/// Whether less than 2 % of the part's area is seen along the closing direction, so that no opening
/// force can be told (own choice; a closed box shows more than that from any side). Without a
/// mould it is not so.
bool is_seen_edge_on(const FillProblem& problem);

inline constexpr const char* edge_on_text =
    "along mould.closing_direction the part shows the resin next to no area";

/// Why no force opens the mould: "the vacuum in the cavity outweighs the resin", or what else is
/// so. Precondition: a filling with no opening force above 0, and the part not seen edge on.
std::string why_not_opened(const FillProblem& problem, const FibrePush& fibres);

} // namespace tidemark
