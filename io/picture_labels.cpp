#include "io/picture_labels.hpp"

#include <algorithm>
#include <array>
#include <limits>

namespace tidemark {

namespace {

/// The box whose nearest side or corner is a distance away from the anchor, in a direction of steps
/// -1, 0 and 1.
PixelBox box_beside(const Pixel& anchor, const LabelSize& size, double distance, int x, int y) {
  const Pixel middle{anchor.x + x * (distance + size.width / 2),
                     anchor.y + y * (distance + size.height / 2)};
  return {middle.x - size.width / 2, middle.y - size.height / 2, middle.x + size.width / 2,
          middle.y + size.height / 2};
}

double area(const PixelBox& box) {
  return (box.right - box.left) * (box.top - box.bottom);
}

} // namespace

double shared_area(const PixelBox& one, const PixelBox& other) {
  const double width = std::min(one.right, other.right) - std::max(one.left, other.left);
  const double height = std::min(one.top, other.top) - std::max(one.bottom, other.bottom);
  return std::max(0.0, width) * std::max(0.0, height);
}

std::vector<PixelBox> place_labels(const std::vector<Pixel>& anchors,
                                   const std::vector<LabelSize>& sizes, const PixelBox& bounds,
                                   const std::vector<PixelBox>& taken) {
  constexpr std::array<double, 6> distances = {18, 36, 60, 90, 130, 180}; // [pixels]
  constexpr std::array<std::array<int, 2>, 8> directions = {
      {{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {-1, 1}, {1, -1}, {-1, -1}}};
  std::vector<PixelBox> occupied = taken;
  std::vector<PixelBox> boxes;
  for (std::size_t i = 0; i < anchors.size(); ++i) {
    PixelBox best = box_beside(anchors[i], sizes[i], distances[0], 1, 0);
    double least = std::numeric_limits<double>::infinity();
    for (const double distance : distances) {
      for (const auto& [x, y] : directions) {
        const PixelBox box = box_beside(anchors[i], sizes[i], distance, x, y);
        double covered = area(box) - shared_area(box, bounds);
        for (const PixelBox& other : occupied) {
          covered += shared_area(box, other);
        }
        if (covered < least) {
          best = box;
          least = covered;
        }
      }
    }
    occupied.push_back(best);
    boxes.push_back(best);
  }
  return boxes;
}

} // namespace tidemark
