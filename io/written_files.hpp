// The list, in an output folder, of the files tidemark wrote there: what is as it stands on the
// list may be replaced, anything else is somebody's.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <string_view>

namespace tidemark {

/// Whether a name is one of the program's own things in a folder, the list, the lock and halves of
/// files: they begin with ".tidemark", as no file of anybody else does.
bool is_own_name(std::string_view name);

/// The name under which a file is written before it is whole.
std::filesystem::path temporary_name(const std::filesystem::path& file);

std::filesystem::path written_list(const std::filesystem::path& folder);

/// Begins the list of a folder where there is none. Throws FileError.
void begin_written_list(const std::filesystem::path& folder);

/// Puts a file on the list of its folder with the digest of `content`, another file of what it is
/// to hold; nothing without a list. To be done before the file is there, so that no kill comes
/// between. Throws FileError.
void note_written(const std::filesystem::path& file, const std::filesystem::path& content);

/// Digests by the name of the file; several where it was written several times.
using WrittenFiles = std::multimap<std::string, std::string>;

/// What is on the list of a folder; nothing without one. Throws FileError.
WrittenFiles written_files(const std::filesystem::path& folder);

enum class Origin {
  written, // by tidemark, and as it was then
  changed, // since tidemark wrote it
  other    // tidemark never wrote it
};

/// Where a file that is there comes from.
Origin origin_of(const std::filesystem::path& file, const WrittenFiles& list);

/// Takes names off the list. Throws FileError.
void forget_written(const std::filesystem::path& folder, bool (*is_meant)(std::string_view name));

/// Removes a list with nothing on it. Throws FileError.
void end_written_list(const std::filesystem::path& folder);

} // namespace tidemark
