// Lines through points on the sides of a grid.
#include "io/window_lines.hpp"

#include <doctest/doctest.h>

#include <algorithm>

using namespace tidemark;

namespace {

std::vector<KeyedLine> lines_of(const std::vector<KeyedLine>& lines, int key) {
  std::vector<KeyedLine> found;
  std::ranges::copy_if(lines, std::back_inserter(found),
                       [&](const KeyedLine& line) { return line.key == key; });
  return found;
}

} // namespace

TEST_CASE("window lines: one across the grid, in one piece from end to end") {
  // 3 x 3 points; a line at flow 0.3 from the lowest cap to the highest.
  GridSides sides(3);
  for (std::size_t j = 0; j < 3; ++j) {
    sides.along_flow[j * 3].push_back({{0.3, 0.5 * double(j)}, 7});
  }
  const auto lines = chained(joined(sides));
  REQUIRE(lines.size() == 1);
  CHECK(lines[0].key == 7);
  REQUIRE(lines[0].places.size() == 3);
  CHECK(std::abs(lines[0].places.front().cap - lines[0].places.back().cap) == 1);
  CHECK(lines[0].places[1].cap == 0.5);
}

TEST_CASE("window lines: round a point, closed") {
  GridSides sides(3);
  const std::size_t middle = 4;
  sides.along_flow[middle].push_back({{0.7, 0.5}, 1});
  sides.along_flow[middle - 1].push_back({{0.3, 0.5}, 1});
  sides.along_cap[middle].push_back({{0.5, 0.7}, 1});
  sides.along_cap[middle - 3].push_back({{0.5, 0.3}, 1});
  const auto lines = chained(joined(sides));
  REQUIRE(lines.size() == 1);
  REQUIRE(lines[0].places.size() == 5);
  CHECK(lines[0].places.front().flow == lines[0].places.back().flow);
  CHECK(lines[0].places.front().cap == lines[0].places.back().cap);
}

TEST_CASE("window lines: where three meet, at one place") {
  // One mesh with outcomes A A B C at its corners: A|B, B|C and C|A each cross one side.
  GridSides sides(2);
  sides.along_cap[1].push_back({{1, 0.5}, 1});
  sides.along_flow[2].push_back({{0.5, 1}, 2});
  sides.along_cap[0].push_back({{0, 0.2}, 3});
  const auto lines = chained(joined(sides));
  REQUIRE(lines.size() == 3);
  for (const int key : {1, 2, 3}) {
    const auto own = lines_of(lines, key);
    REQUIRE(own.size() == 1);
    REQUIRE(own[0].places.size() == 2);
    const bool meets = std::ranges::any_of(own[0].places, [](const WindowPlace& place) {
      return std::abs(place.flow - 0.5) < 1e-12 && std::abs(place.cap - 1.7 / 3) < 1e-12;
    });
    CHECK(meets);
  }
}

TEST_CASE("window lines: four crossings of one mesh are joined by the shorter two") {
  GridSides sides(2);
  sides.along_flow[0].push_back({{0.2, 0}, 1});
  sides.along_cap[0].push_back({{0, 0.2}, 1});
  sides.along_flow[2].push_back({{0.8, 1}, 1});
  sides.along_cap[1].push_back({{1, 0.8}, 1});
  const auto lines = chained(joined(sides));
  REQUIRE(lines.size() == 2);
  for (const KeyedLine& line : lines) {
    REQUIRE(line.places.size() == 2);
    CHECK(std::abs(line.places[0].flow - line.places[1].flow) < 0.3);
  }
}
