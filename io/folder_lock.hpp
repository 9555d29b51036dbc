// One run at a time in an output folder.
#pragma once

#include <filesystem>
#include <string>

namespace tidemark {

/// Holds a folder for this run until it goes out of scope. The lock is one of the system, so that a
/// run that is killed leaves none behind; the file it is on, which says which run that is, may stay
/// then and means nothing. File systems without locks have none.
class FolderLock {
public:
  /// Creates the folder where it is missing. what: "fill roof.toml", for whoever comes second.
  /// Throws FileError if another run holds the folder, naming it, or if nothing can be written
  /// there.
  FolderLock(const std::filesystem::path& folder, const std::string& what);
  FolderLock(const FolderLock&) = delete;
  FolderLock& operator=(const FolderLock&) = delete;
  ~FolderLock();

private:
  std::filesystem::path file_;
  int descriptor_ = -1;
};

/// The file of the lock of a folder.
std::filesystem::path lock_file(const std::filesystem::path& folder);

} // namespace tidemark
