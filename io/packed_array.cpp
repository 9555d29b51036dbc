#include "io/packed_array.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace tidemark {

namespace {

const std::uint32_t most_shares = 65534;
const std::uint32_t no_value = 65535;

void append_bytes(std::string& text, std::uint32_t value, int bytes) {
  for (int byte = 0; byte < bytes; ++byte) {
    text += static_cast<char>(static_cast<unsigned char>(value >> (8 * byte)));
  }
}

std::uint32_t share_of(double value, double least, double most) {
  if (!std::isfinite(value)) {
    return no_value;
  }
  // Halves, since the span of the largest numbers is none itself.
  const double span = most / 2 - least / 2;
  const double share = span > 0 ? (value / 2 - least / 2) / span : 0;
  return static_cast<std::uint32_t>(std::lround(std::clamp(share, 0.0, 1.0) * most_shares));
}

} // namespace

std::string base64(std::string_view bytes) {
  const std::string_view letters =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string text;
  text.reserve((bytes.size() + 2) / 3 * 4);
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    const auto at = [&](std::size_t place) {
      return place < bytes.size()
                 ? static_cast<std::uint32_t>(static_cast<unsigned char>(bytes[place]))
                 : 0;
    };
    const std::uint32_t three = at(i) << 16 | at(i + 1) << 8 | at(i + 2);
    text += letters[three >> 18 & 63];
    text += letters[three >> 12 & 63];
    text += i + 1 < bytes.size() ? letters[three >> 6 & 63] : '=';
    text += i + 2 < bytes.size() ? letters[three & 63] : '=';
  }
  return text;
}

nlohmann::ordered_json packed_numbers(std::span<const double> values) {
  double least = std::numeric_limits<double>::infinity();
  double most = -least;
  for (const double value : values) {
    if (std::isfinite(value)) {
      least = std::min(least, value);
      most = std::max(most, value);
    }
  }
  if (!(least <= most)) {
    return {};
  }
  std::string bytes;
  bytes.reserve(2 * values.size());
  for (const double value : values) {
    append_bytes(bytes, share_of(value, least, most), 2);
  }
  return {{"least", least}, {"most", most}, {"values", base64(bytes)}};
}

nlohmann::ordered_json packed_whole_numbers(std::span<const std::uint32_t> values) {
  const std::uint32_t largest = values.empty() ? 0 : *std::ranges::max_element(values);
  const int bytes = largest < 256 ? 1 : largest < 65536 ? 2 : 4;
  std::string text;
  text.reserve(static_cast<std::size_t>(bytes) * values.size());
  for (const std::uint32_t value : values) {
    append_bytes(text, value, bytes);
  }
  return {{"bytes", bytes}, {"values", base64(text)}};
}

} // namespace tidemark
