#include "io/colour_map.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

namespace tidemark {

namespace {

/// Every fifteenth of the 256 colours of viridis.
constexpr std::array<Rgb, 18> viridis = {{
    {0x44, 0x01, 0x54},
    {0x48, 0x17, 0x69},
    {0x47, 0x2a, 0x7a},
    {0x43, 0x3d, 0x84},
    {0x3d, 0x4e, 0x8a},
    {0x35, 0x5e, 0x8d},
    {0x2e, 0x6d, 0x8e},
    {0x29, 0x7b, 0x8e},
    {0x23, 0x89, 0x8e},
    {0x1f, 0x97, 0x8b},
    {0x21, 0xa5, 0x85},
    {0x2e, 0xb3, 0x7c},
    {0x46, 0xc0, 0x6f},
    {0x65, 0xcb, 0x5e},
    {0x89, 0xd5, 0x48},
    {0xb0, 0xdd, 0x2f},
    {0xd8, 0xe2, 0x19},
    {0xfd, 0xe7, 0x25},
}};

constexpr std::array<Rgb, 8> okabe_ito = {{
    {0x56, 0xb4, 0xe9}, // sky blue
    {0xe6, 0x9f, 0x00}, // orange
    {0x00, 0x9e, 0x73}, // bluish green
    {0xcc, 0x79, 0xa7}, // reddish purple
    {0xf0, 0xe4, 0x42}, // yellow
    {0x00, 0x72, 0xb2}, // blue
    {0xd5, 0x5e, 0x00}, // vermillion
    {0x77, 0x77, 0x77}, // grey
}};

std::uint8_t between(std::uint8_t from, std::uint8_t to, double share) {
  return static_cast<std::uint8_t>(std::lround(from + share * (to - from)));
}

Rgb between(Rgb from, Rgb to, double share) {
  return {between(from.red, to.red, share), between(from.green, to.green, share),
          between(from.blue, to.blue, share)};
}

} // namespace

Rgb map_colour(double share) {
  if (std::isnan(share)) {
    return no_value_colour;
  }
  const double place = std::clamp(share, 0.0, 1.0) * static_cast<double>(viridis.size() - 1);
  const std::size_t below = std::min(static_cast<std::size_t>(place), viridis.size() - 2);
  return between(viridis[below], viridis[below + 1], place - static_cast<double>(below));
}

Rgb distinct_colour(std::size_t number) {
  return okabe_ito[number % okabe_ito.size()];
}

Rgb lightened(Rgb colour, double share) {
  return between(colour, {255, 255, 255}, std::clamp(share, 0.0, 1.0));
}

std::string css_colour(Rgb colour) {
  std::array<char, 8> text{};
  std::snprintf(text.data(), text.size(), "#%02x%02x%02x", static_cast<unsigned>(colour.red),
                static_cast<unsigned>(colour.green), static_cast<unsigned>(colour.blue));
  return text.data();
}

} // namespace tidemark
