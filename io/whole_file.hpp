// A file's content as it is.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

namespace tidemark {

/// All bytes of a regular file. Throws FileError if it is none or cannot be read.
std::string whole_file(const std::filesystem::path& file);

/// Throws FileError if the file is no regular file or cannot be opened for reading.
void check_readable(const std::filesystem::path& file);

/// What follows the byte order mark with which some editors begin text in UTF-8; all of it without.
std::string_view without_byte_order_mark(std::string_view content);

} // namespace tidemark
