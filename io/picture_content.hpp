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

/// The signs no font here has, and what title and names of regions, gates, vents and channels with
/// such signs are called in the pictures: "左; there \"左\" is \"gate 1\""; empty if all show.
std::string undrawable_names(const Case& input);

} // namespace tidemark
