// Lightness by CIE 1976 L* of sRGB (IEC 61966-2-1), worked out here; single colours as published
// with the map.
#include "io/colour_map.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <limits>

using namespace tidemark;

namespace {

double linear(std::uint8_t channel) {
  const double share = channel / 255.0;
  return share <= 0.04045 ? share / 12.92 : std::pow((share + 0.055) / 1.055, 2.4);
}

/// CIE L*, 0 black to 100 white.
double lightness(Rgb colour) {
  const double luminance =
      0.2126 * linear(colour.red) + 0.7152 * linear(colour.green) + 0.0722 * linear(colour.blue);
  return 116 * std::cbrt(luminance) - 16;
}

int largest_difference(Rgb one, Rgb other) {
  return std::max({std::abs(one.red - other.red), std::abs(one.green - other.green),
                   std::abs(one.blue - other.blue)});
}

} // namespace

TEST_CASE("the colour map goes through the published colours") {
  CHECK(map_colour(0) == Rgb{0x44, 0x01, 0x54});
  CHECK(map_colour(1) == Rgb{0xfd, 0xe7, 0x25});
  // Of the 256 colours number 64, 128 and 191, which are none of ours.
  CHECK(largest_difference(map_colour(64 / 255.0), {59, 82, 139}) <= 5);
  CHECK(largest_difference(map_colour(128 / 255.0), {33, 145, 140}) <= 5);
  CHECK(largest_difference(map_colour(191 / 255.0), {92, 200, 99}) <= 5);
}

TEST_CASE("the colour map becomes lighter in even steps") {
  const double whole = lightness(map_colour(1)) - lightness(map_colour(0));
  CHECK(whole > 70);
  for (int step = 0; step < 20; ++step) {
    const double rise =
        lightness(map_colour((step + 1) / 20.0)) - lightness(map_colour(step / 20.0));
    CAPTURE(step);
    CHECK(rise > 0.7 * whole / 20);
    CHECK(rise < 1.4 * whole / 20);
  }
}

TEST_CASE("outside its range the colour map stays at its ends, and NaN is grey") {
  CHECK(map_colour(-0.5) == map_colour(0));
  CHECK(map_colour(7) == map_colour(1));
  CHECK(map_colour(-std::numeric_limits<double>::infinity()) == map_colour(0));
  const Rgb none = map_colour(std::numeric_limits<double>::quiet_NaN());
  CHECK(none == no_value_colour);
  CHECK(none.red == none.green);
  CHECK(none.green == none.blue);
  for (int step = 0; step <= 100; ++step) { // nothing in the map could be taken for it
    CHECK(largest_difference(map_colour(step / 100.0), none) >= 40);
  }
}

TEST_CASE("colours to tell things apart differ") {
  for (std::size_t one = 0; one < 8; ++one) {
    for (std::size_t other = 0; other < one; ++other) {
      CHECK(largest_difference(distinct_colour(one), distinct_colour(other)) >= 60);
    }
  }
  CHECK(distinct_colour(8) == distinct_colour(0));
}

TEST_CASE("colours as text and lighter") {
  CHECK(css_colour({0x0a, 0xff, 0x00}) == "#0aff00");
  CHECK(lightened({0, 100, 255}, 0) == Rgb{0, 100, 255});
  CHECK(lightened({0, 100, 255}, 1) == Rgb{255, 255, 255});
  CHECK(lightened({1, 101, 255}, 0.5) == Rgb{128, 178, 255});
}
