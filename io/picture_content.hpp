// What the pictures of a run show.
#pragma once

#include "io/case_file.hpp"
#include "io/picture.hpp"
#include "solver/filling.hpp"

#include <string>
#include <vector>

namespace tidemark {

/// Four pictures: fill-time.png, pressure.png, last-places.png and layout.png. A run without any
/// resin has no pressure to show. Precondition: result is a filling of input.problem.
std::vector<Picture> pictures_of(const Case& input, const FillResult& result);

/// Title and names of regions, gates, vents and channels that do not show in full in a picture, in
/// quotes, for want of a font; empty if all do.
std::string undrawable_names(const Case& input);

} // namespace tidemark
