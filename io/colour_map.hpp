// Colours of pictures and reports: one map for values, and colours to tell things apart.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>

namespace tidemark {

/// A colour as screens take it (sRGB), 0 to 255 each.
struct Rgb {
  std::uint8_t red;
  std::uint8_t green;
  std::uint8_t blue;
  bool operator==(const Rgb&) const = default;
};

/// Where there is no value: resin never came. No colour of the map is without a hue.
inline constexpr Rgb no_value_colour = {176, 176, 176};

/// The colour of a value at a share of its range, 0 lowest (dark violet) to 1 highest (yellow);
/// outside as at the end, no_value_colour for NaN. Lightness rises evenly, so that equal steps look
/// equal, also to those who cannot tell red from green, and in a black and white print. Straight
/// lines between 18 colours of "viridis" (S. van der Walt, N. Smith, E. Firing 2015, CC0), within
/// 5 of 255 of its 256.
Rgb map_colour(double share);

/// Colours that can be told apart whatever one's colour vision, for regions (the first eight: then
/// they repeat): M. Okabe, K. Ito 2008, Color Universal Design, without black, then a mid grey.
Rgb distinct_colour(std::size_t number);

/// Part of the way from a colour to white: 0 the colour, 1 white.
Rgb lightened(Rgb colour, double share);

/// "#21918c", as HTML and CSS take it.
std::string css_colour(Rgb colour);

} // namespace tidemark
