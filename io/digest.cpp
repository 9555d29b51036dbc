#include "io/digest.hpp"

#include "io/whole_file.hpp"
#include "mesh/error.hpp"

#include <array>
#include <cstdint>
#include <cstdio>
#include <fstream>

namespace tidemark {

namespace {

constexpr std::uint64_t start = 14695981039346656037U;

std::uint64_t continued(std::uint64_t hash, std::string_view text) {
  for (const char c : text) {
    hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211U;
  }
  return hash;
}

std::string digits_of(std::uint64_t hash) {
  std::array<char, 17> digits{};
  std::snprintf(digits.data(), digits.size(), "%016llx", static_cast<unsigned long long>(hash));
  return digits.data();
}

} // namespace

std::string digest_of(std::string_view text) {
  return digits_of(continued(start, text));
}

std::string digest_of_file(const std::filesystem::path& file) {
  check_readable(file);
  std::ifstream stream(file, std::ios::binary);
  std::string piece(1 << 16, '\0'); // a file of fields may be larger than the memory left
  std::uint64_t hash = start;
  do {
    stream.read(piece.data(), static_cast<std::streamsize>(piece.size()));
    hash = continued(hash,
                     std::string_view(piece).substr(0, static_cast<std::size_t>(stream.gcount())));
  } while (stream);
  if (!stream.eof()) {
    throw FileError(file.string() + ": cannot be read to its end");
  }
  return digits_of(hash);
}

} // namespace tidemark
