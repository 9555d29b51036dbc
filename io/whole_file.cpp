#include "io/whole_file.hpp"

#include "mesh/error.hpp"

#include <cerrno>
#include <cstring>
#include <fstream>

namespace tidemark {

namespace {

std::ifstream opened(const std::filesystem::path& file) {
  std::error_code error;
  if (std::filesystem::exists(file, error) && !std::filesystem::is_regular_file(file, error)) {
    throw FileError(file.string() + ": cannot be read: it is not a file");
  }
  errno = 0;
  std::ifstream stream(file, std::ios::binary);
  if (!stream) {
    throw FileError(file.string() +
                    ": cannot be opened: " + std::strerror(errno == 0 ? EIO : errno));
  }
  return stream;
}

} // namespace

void check_readable(const std::filesystem::path& file) {
  opened(file);
}

std::string whole_file(const std::filesystem::path& file) {
  std::ifstream stream = opened(file);
  std::error_code error;
  const auto size = std::filesystem::file_size(file, error);
  std::string content(error ? 0 : static_cast<std::size_t>(size), '\0');
  stream.read(content.data(), static_cast<std::streamsize>(content.size()));
  if (!stream || stream.peek() != std::ifstream::traits_type::eof()) {
    throw FileError(file.string() + ": cannot be read to its end");
  }
  return content;
}

std::string_view without_byte_order_mark(std::string_view content) {
  constexpr std::string_view mark = "\xEF\xBB\xBF";
  return content.starts_with(mark) ? content.substr(mark.size()) : content;
}

} // namespace tidemark
