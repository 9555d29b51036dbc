#include "io/text_file.hpp"

#include "mesh/error.hpp"

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <fstream>

namespace tidemark {

namespace {

constexpr std::size_t largest_file = 1 << 24; // [bytes]; a case file has a few thousand

} // namespace

std::string text_of_file(const std::filesystem::path& file, const std::string& expected) {
  std::error_code ignored;
  if (std::filesystem::is_directory(file, ignored)) {
    throw FileError(file.string() + ": is a folder, expected " + expected);
  }
  std::ifstream stream(file, std::ios::binary);
  if (!stream) {
    throw FileError(file.string() + ": cannot be opened: " + std::strerror(errno));
  }
  std::string text(largest_file + 1, '\0');
  stream.read(text.data(), static_cast<std::streamsize>(text.size()));
  if (stream.bad()) {
    throw FileError(file.string() + ": cannot be read: " + std::strerror(errno));
  }
  text.resize(static_cast<std::size_t>(stream.gcount()));
  if (text.size() > largest_file) {
    throw InputError(file.string() + ": found more than 16 MiB, expected " + expected);
  }
  return text;
}

std::size_t line_count(std::string_view text) {
  return 1 + static_cast<std::size_t>(std::ranges::count(text, '\n'));
}

} // namespace tidemark
