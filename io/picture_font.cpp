#include "io/picture_font.hpp"

#include <algorithm>
#include <array>
#include <cstddef>
#include <filesystem>
#include <system_error>
#include <vector>

#ifndef TIDEMARK_FONT
#define TIDEMARK_FONT ""
#endif

namespace tidemark {

namespace {

constexpr char32_t no_sign = 0xFFFFFFFF; // of bytes that are no UTF-8

struct Sign {
  char32_t point;
  std::string_view bytes;
};

std::vector<Sign> signs_of(std::string_view text) {
  std::vector<Sign> signs;
  for (std::size_t i = 0; i < text.size();) {
    const auto first = static_cast<unsigned char>(text[i]);
    const std::size_t more = first < 0x80 ? 0 : first < 0xE0 ? 1 : first < 0xF0 ? 2 : 3;
    if ((first & 0xC0U) == 0x80U || first >= 0xF8 || i + more >= text.size()) {
      signs.push_back({no_sign, "?"});
      ++i;
      continue;
    }
    constexpr std::array<unsigned, 4> masks = {0x7F, 0x1F, 0x0F, 0x07};
    char32_t point = first & masks[more];
    for (std::size_t k = 1; k <= more; ++k) {
      point = (point << 6U) | (static_cast<unsigned char>(text[i + k]) & 0x3FU);
    }
    signs.push_back({point, text.substr(i, more + 1)});
    i += more + 1;
  }
  return signs;
}

bool is_latin_1(char32_t point) {
  return point < 0x100;
}

/// What DejaVu Sans has whole or nearly, of scripts that run from left to right letter by letter.
bool is_in_wide_font(char32_t point) {
  struct Range {
    char32_t first, last;
  };
  constexpr std::array<Range, 4> ranges{{{0, 0x58F},         // Latin, Greek, Cyrillic, Armenian
                                         {0x10A0, 0x10FF},   // Georgian
                                         {0x1D00, 0x1FFF},   // more Latin, Greek with accents
                                         {0x2000, 0x27BF}}}; // dashes, currencies, arrows, signs
  return std::ranges::any_of(
      ranges, [&](const Range& range) { return point >= range.first && point <= range.last; });
}

/// Empty if the system has none.
std::string wide_font(bool is_bold) {
  std::filesystem::path file = TIDEMARK_FONT;
  if (is_bold) {
    file.replace_filename("DejaVuSans-Bold.ttf");
  }
  std::error_code none;
  return std::filesystem::is_regular_file(file, none) ? file.string() : std::string();
}

} // namespace

std::string font_file_for(std::string_view text, bool is_bold) {
  return std::ranges::all_of(signs_of(text), is_latin_1, &Sign::point) ? std::string()
                                                                       : wide_font(is_bold);
}

bool can_be_drawn(std::string_view text) {
  return missing_signs(text).empty();
}

std::string missing_signs(std::string_view text) {
  const auto has_sign = wide_font(false).empty() ? is_latin_1 : is_in_wide_font;
  std::string missing;
  for (const Sign& sign : signs_of(text)) {
    if (!has_sign(sign.point) && missing.find(sign.bytes) == std::string::npos) {
      missing += sign.bytes;
    }
  }
  return missing;
}

} // namespace tidemark
