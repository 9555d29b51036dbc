// One run at a time in an output folder.
#pragma once

#include <filesystem>
#include <string>

namespace tidemark {

/// Holds a folder for this run until it goes out of scope. The lock is one of the system, so that a
/// run that crashes leaves none behind. The file it is on lies in the folder meanwhile and says
/// which run that is; it stays after a run that broke off. File systems without locks have none.
class FolderLock {
public:
  /// Creates the folder where it is missing. command: "fill"; runs of different commands do not
  /// hinder each other. what: "fill roof.toml", for whoever comes second. Throws FileError if
  /// another run holds the folder, naming it, or if the file cannot be written.
  FolderLock(const std::filesystem::path& folder, const std::string& command,
             const std::string& what);
  FolderLock(const FolderLock&) = delete;
  FolderLock& operator=(const FolderLock&) = delete;
  ~FolderLock();

private:
  std::filesystem::path file_;
  int descriptor_ = -1;
  int exceptions_;
};

/// The file of the lock of a command in a folder.
std::filesystem::path lock_file(const std::filesystem::path& folder, const std::string& command);

} // namespace tidemark
