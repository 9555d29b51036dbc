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

std::optional<Vector3> three_numbers(std::string_view text) {
  Vector3 point = Vector3::Zero();
  std::string plain(text);
  const bool has_brackets = plain.size() > 1 && plain.front() == '[' && plain.back() == ']';
  plain = has_brackets ? plain.substr(1, plain.size() - 2) : plain;
  const char* at = plain.data();
  const char* const end = at + plain.size();
  const auto skip = [&](bool comma) {
    for (; at != end && (*at == ' ' || (comma && *at == ',')); ++at) {
      comma = comma && *at != ',';
    }
  };
  for (int axis = 0; axis < 3; ++axis) {
    skip(axis > 0);
    const auto [stop, error] = std::from_chars(at, end, point[axis]);
    if (error != std::errc() || stop == at) {
      return std::nullopt;
    }
    at = stop;
  }
  skip(false);
  return at == end && point.allFinite() ? std::optional(point) : std::nullopt;
}

std::string number_or_empty(const std::optional<double>& value) {
  return value ? number_text(*value) : "";
}

} // namespace tidemark
