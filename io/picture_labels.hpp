// Where the names of marks go on a picture, so that they do not lie on each other.
#pragma once

#include "io/picture_view.hpp"

#include <vector>

namespace tidemark {

struct LabelSize {
  double width;  // [pixels]
  double height; // [pixels]
};

/// A box for each label near its anchor, the earlier labels first: of places round the anchor,
/// nearer ones first, the first that lies within the bounds, on nothing taken and on no label; if
/// there is none, the one with the least on it. Precondition: as many sizes as anchors.
std::vector<PixelBox> place_labels(const std::vector<Pixel>& anchors,
                                   const std::vector<LabelSize>& sizes, const PixelBox& bounds,
                                   const std::vector<PixelBox>& taken);

/// The area that two boxes share.
double shared_area(const PixelBox& one, const PixelBox& other);

} // namespace tidemark
