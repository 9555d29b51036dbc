// Text that an engineer wrote, as far as it can be one.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

namespace tidemark {

/// The text of a file. Throws FileError if it is a folder or cannot be read, InputError if it is
/// far too long to be what is expected ("a case file").
std::string text_of_file(const std::filesystem::path& file, const std::string& expected);

/// Lines in a text, one more than its line feeds.
std::size_t line_count(std::string_view text);

} // namespace tidemark
