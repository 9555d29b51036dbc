#include "io/toml_text.hpp"

#include <array>
#include <cstdint>
#include <cstdio>

namespace tidemark {

namespace {

/// Bytes after the first one of a character; -1 if none can begin like that.
int bytes_to_follow(unsigned char first) {
  if (first < 0x80) {
    return 0;
  }
  if (first >= 0xC2 && first < 0xE0) {
    return 1;
  }
  if (first >= 0xE0 && first < 0xF0) {
    return 2;
  }
  return first >= 0xF0 && first < 0xF5 ? 3 : -1;
}

/// Neither a shorter way of writing it, nor half a pair of UTF-16, nor beyond the last character.
bool is_allowed(std::uint32_t code, int follow) {
  constexpr std::array<std::uint32_t, 4> lowest{0, 0x80, 0x800, 0x10000};
  return code >= lowest[static_cast<std::size_t>(follow)] && (code < 0xD800 || code > 0xDFFF) &&
         code <= 0x10FFFF;
}

} // namespace

bool is_utf8(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const auto first = static_cast<unsigned char>(text[i++]);
    const int follow = bytes_to_follow(first);
    if (follow < 0) {
      return false;
    }
    std::uint32_t code = follow == 0 ? first : first & (0x3FU >> follow);
    for (int k = 0; k < follow; ++k) {
      const unsigned char next = i < text.size() ? static_cast<unsigned char>(text[i++]) : 0;
      if ((next & 0xC0U) != 0x80) {
        return false;
      }
      code = (code << 6U) | (next & 0x3FU);
    }
    if (!is_allowed(code, follow)) {
      return false;
    }
  }
  return true;
}

std::string toml_string(std::string_view text) {
  std::string result = "\"";
  for (const char letter : text) {
    const auto code = static_cast<unsigned char>(letter);
    if (letter == '"' || letter == '\\') {
      result += '\\';
      result += letter;
    } else if (code < 0x20 || code == 0x7F) {
      std::array<char, 8> escaped{};
      std::snprintf(escaped.data(), escaped.size(), "\\u%04X", static_cast<unsigned>(code));
      result += escaped.data();
    } else {
      result += letter;
    }
  }
  return result + "\"";
}

} // namespace tidemark
