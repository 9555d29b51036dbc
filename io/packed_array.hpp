// Arrays of numbers as short text, for data inside a page.
#pragma once

#include <nlohmann/json.hpp>

#include <cstdint>
#include <span>
#include <string>
#include <string_view>

namespace tidemark {

/// Base64 of RFC 4648, section 4, padded.
std::string base64(std::string_view bytes);

/// Values as 16-bit shares of their range: {least, most, values} with value = least + (most -
/// least) share / 65534, off by at most half a 65534th of the range; share 65535 where a value is
/// not finite. values is the base64 of the shares, low byte first. Null if no value is finite.
nlohmann::ordered_json packed_numbers(std::span<const double> values);

/// Whole numbers from 0 with as few bytes each as the largest takes: {bytes, values}, bytes 1, 2 or
/// 4, low byte first, in base64.
nlohmann::ordered_json packed_whole_numbers(std::span<const std::uint32_t> values);

} // namespace tidemark
