// Short texts that stand for long ones.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

namespace tidemark {

/// Sixteen hexadecimal digits that stand for a text: FNV-1a of 64 bits. Against mistakes, not
/// against malice. Source: Fowler, Noll, Vo.
std::string digest_of(std::string_view text);

/// The digest of a file's content. Throws FileError.
std::string digest_of_file(const std::filesystem::path& file);

} // namespace tidemark
