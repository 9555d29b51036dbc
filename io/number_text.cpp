#include "io/number_text.hpp"

#include <array>
#include <charconv>
#include <cstdio>

namespace tidemark {

std::string number_text(double value) {
  std::array<char, 32> text{}; // the longest double needs 24 characters
  const std::to_chars_result end = std::to_chars(text.data(), text.data() + text.size(), value);
  return {text.data(), end.ptr};
}

std::string plain_number(double value) {
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.6g", value);
  return text.data();
}

} // namespace tidemark
