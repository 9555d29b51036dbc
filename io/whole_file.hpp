// A file's content as it is.
#pragma once

#include <filesystem>
#include <string>

namespace tidemark {

/// All bytes of a regular file. Throws FileError if it is none or cannot be read.
std::string whole_file(const std::filesystem::path& file);

/// Throws FileError if the file is no regular file or cannot be opened for reading.
void check_readable(const std::filesystem::path& file);

} // namespace tidemark
