#include "io/picture_labels.hpp"

#include <doctest/doctest.h>

using namespace tidemark;

namespace {

const PixelBox whole = {0, 0, 1000, 600};

bool is_within(const PixelBox& box, const PixelBox& bounds) {
  return box.left >= bounds.left && box.right <= bounds.right && box.bottom >= bounds.bottom &&
         box.top <= bounds.top;
}

} // namespace

TEST_CASE("a label with room stands right of its place") {
  const auto boxes = place_labels({{300, 300}}, {{80, 20}}, whole, {});
  REQUIRE(boxes.size() == 1);
  CHECK(boxes[0].left > 300);
  CHECK(boxes[0].left < 330);
  CHECK(boxes[0].bottom == doctest::Approx(290));
  CHECK(boxes[0].right - boxes[0].left == doctest::Approx(80));
}

TEST_CASE("labels stay on the picture") {
  for (const Pixel& corner : {Pixel{0, 0}, Pixel{1000, 0}, Pixel{0, 600}, Pixel{1000, 600}}) {
    CAPTURE(corner.x);
    CAPTURE(corner.y);
    CHECK(is_within(place_labels({corner}, {{80, 20}}, whole, {})[0], whole));
  }
}

TEST_CASE("labels of places side by side lie on neither each other nor the marks") {
  std::vector<Pixel> anchors;
  std::vector<LabelSize> sizes;
  std::vector<PixelBox> marks;
  for (int k = 0; k < 5; ++k) {
    const Pixel place{400 + 25.0 * k, 300};
    anchors.push_back(place);
    sizes.push_back({90, 30});
    marks.push_back({place.x - 15, place.y - 15, place.x + 15, place.y + 15});
  }
  const std::vector<PixelBox> boxes = place_labels(anchors, sizes, whole, marks);
  for (std::size_t one = 0; one < boxes.size(); ++one) {
    CHECK(is_within(boxes[one], whole));
    for (std::size_t other = 0; other < boxes.size(); ++other) {
      CHECK(shared_area(boxes[one], marks[other]) == 0);
      CHECK((one == other || shared_area(boxes[one], boxes[other]) == 0));
    }
  }
}

TEST_CASE("where there is no room a label is there all the same") {
  const PixelBox tight = {0, 0, 50, 50};
  const auto boxes = place_labels({{25, 25}}, {{200, 40}}, tight, {tight});
  CHECK(boxes.size() == 1);
}

TEST_CASE("the area two boxes share") {
  CHECK(shared_area({0, 0, 10, 10}, {5, 8, 20, 20}) == doctest::Approx(5 * 2));
  CHECK(shared_area({0, 0, 10, 10}, {10, 0, 20, 10}) == 0);
  CHECK(shared_area({0, 0, 10, 10}, {30, 30, 40, 40}) == 0);
}
