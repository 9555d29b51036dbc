// Arrays as text in a page.
#include "io/packed_array.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>
#include <vector>

using namespace tidemark;

namespace {

const double none = std::numeric_limits<double>::quiet_NaN();

/// RFC 4648, section 4, read by its table.
std::vector<unsigned> bytes_of(const std::string& text) {
  const std::string letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::vector<unsigned> bytes;
  unsigned bits = 0;
  int count = 0;
  for (const char c : text) {
    if (c == '=') {
      break;
    }
    bits = bits << 6 | static_cast<unsigned>(letters.find(c));
    count += 6;
    if (count >= 8) {
      count -= 8;
      bytes.push_back(bits >> count & 255);
    }
  }
  return bytes;
}

/// As numbers.js reads them.
std::vector<double> unpacked(const nlohmann::ordered_json& packed) {
  const std::vector<unsigned> bytes = bytes_of(packed["values"]);
  const double least = packed["least"];
  const double most = packed["most"];
  std::vector<double> values;
  for (std::size_t i = 0; i + 1 < bytes.size(); i += 2) {
    const unsigned share = bytes[i] + 256 * bytes[i + 1];
    values.push_back(share == 65535 ? none : least + (most - least) * share / 65534);
  }
  return values;
}

} // namespace

TEST_CASE("packed_array: base64 as in the examples of RFC 4648, section 10") {
  CHECK(base64("") == "");
  CHECK(base64("f") == "Zg==");
  CHECK(base64("fo") == "Zm8=");
  CHECK(base64("foo") == "Zm9v");
  CHECK(base64("foob") == "Zm9vYg==");
  CHECK(base64("fooba") == "Zm9vYmE=");
  CHECK(base64("foobar") == "Zm9vYmFy");
  CHECK(base64(std::string("\xff\xfe\x00", 3)) == "//4A");
}

TEST_CASE("packed_array: numbers come back to half a 65534th of their range, the ends exactly") {
  std::vector<double> values;
  for (int i = 0; i <= 1000; ++i) {
    values.push_back(-3.7 + 12.5 * std::pow(i / 1000.0, 3));
  }
  const std::vector<double> back = unpacked(packed_numbers(values));
  REQUIRE(back.size() == values.size());
  double worst = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    worst = std::max(worst, std::abs(back[i] - values[i]));
  }
  CHECK(worst <= 12.5 / 65534 / 2 * (1 + 1e-9));
  CHECK(worst > 0);
  CHECK(back.front() == -3.7);
  CHECK(back.back() == doctest::Approx(8.8).epsilon(1e-15));
}

TEST_CASE("packed_array: where there is no number there is none afterwards") {
  const double infinity = std::numeric_limits<double>::infinity();
  const std::vector<double> back =
      unpacked(packed_numbers(std::vector<double>{none, 2, infinity, 4, -infinity}));
  REQUIRE(back.size() == 5);
  CHECK(std::isnan(back[0]));
  CHECK(back[1] == 2);
  CHECK(std::isnan(back[2]));
  CHECK(back[3] == 4);
  CHECK(std::isnan(back[4]));
  CHECK(packed_numbers(std::vector<double>{none, none}).is_null());
  CHECK(packed_numbers(std::vector<double>{}).is_null());
}

TEST_CASE("packed_array: one value everywhere, and the largest numbers there are") {
  CHECK(unpacked(packed_numbers(std::vector<double>{7.5, 7.5})) == std::vector<double>{7.5, 7.5});
  const double huge = std::numeric_limits<double>::max();
  const auto packed = packed_numbers(std::vector<double>{-huge, 0, huge});
  CHECK(bytes_of(packed["values"]) == std::vector<unsigned>{0, 0, 255, 127, 254, 255});
}

TEST_CASE("packed_array: whole numbers take as few bytes as the largest needs") {
  const auto small = packed_whole_numbers(std::vector<std::uint32_t>{0, 255});
  CHECK(small["bytes"] == 1);
  CHECK(bytes_of(small["values"]) == std::vector<unsigned>{0, 255});
  const auto middle = packed_whole_numbers(std::vector<std::uint32_t>{1, 256});
  CHECK(middle["bytes"] == 2);
  CHECK(bytes_of(middle["values"]) == std::vector<unsigned>{1, 0, 0, 1});
  const auto large = packed_whole_numbers(std::vector<std::uint32_t>{65536});
  CHECK(large["bytes"] == 4);
  CHECK(bytes_of(large["values"]) == std::vector<unsigned>{0, 0, 1, 0});
}
