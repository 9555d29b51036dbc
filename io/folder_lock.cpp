#include "io/folder_lock.hpp"

#include "io/whole_file.hpp"
#include "mesh/error.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <system_error>

namespace tidemark {

namespace {

namespace fs = std::filesystem;

[[noreturn]] void fail(const fs::path& folder, const std::string& why) {
  throw FileError(folder.string() + ": cannot be used as the output folder: " + why);
}

/// Whether the open file is still the one of that name: the run before may just have removed it.
bool is_still_there(int descriptor, const fs::path& file) {
  struct stat opened {};
  struct stat named {};
  return ::fstat(descriptor, &opened) == 0 && ::stat(file.c_str(), &named) == 0 &&
         opened.st_dev == named.st_dev && opened.st_ino == named.st_ino;
}

std::string who_holds(const fs::path& file) {
  try {
    const std::string text = whole_file(file);
    return text.substr(0, text.find('\n'));
  } catch (const FileError&) {
    return "";
  }
}

/// Whether it is locked now: some file systems have no locks, or none for what may only be read.
/// Closes the file and throws if another process has it locked.
bool lock_or_refuse(int descriptor, const fs::path& folder, const fs::path& file) {
  const bool is_locked = ::flock(descriptor, LOCK_EX | LOCK_NB) == 0;
  if (is_locked || errno != EWOULDBLOCK) {
    return is_locked;
  }
  ::close(descriptor);
  const std::string who = who_holds(file);
  throw FileError(folder.string() + ": another run of tidemark writes there" +
                  (who.empty() ? "" : ": " + who) +
                  "; wait until it is done, or choose another folder with -o");
}

/// What a killed run of another user left may only be read: it goes if it is sure that no run holds
/// it, which is while it is locked here and still the one of that name. Returns whether it went.
bool remove_unwritable(const fs::path& folder, const fs::path& file) {
  const int descriptor = ::open(file.c_str(), O_RDONLY | O_CLOEXEC);
  if (descriptor < 0) {
    return errno == ENOENT;
  }
  const bool is_locked = lock_or_refuse(descriptor, folder, file);
  const bool is_gone =
      is_locked && (!is_still_there(descriptor, file) || ::unlink(file.c_str()) == 0);
  ::close(descriptor);
  return is_gone;
}

/// Open and locked; throws FileError.
int locked(const fs::path& folder, const fs::path& file) {
  for (int attempt = 0; attempt < 100; ++attempt) {
    const int descriptor = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0666);
    if (descriptor < 0) {
      const int error = errno;
      const bool may_write = ::access(folder.c_str(), W_OK) == 0;
      if (error != EACCES || !may_write || !remove_unwritable(folder, file)) {
        fail(folder, std::strerror(error));
      }
      continue;
    }
    lock_or_refuse(descriptor, folder, file);
    if (is_still_there(descriptor, file)) {
      return descriptor;
    }
    ::close(descriptor);
  }
  fail(folder, "other runs come and go there all the time");
}

} // namespace

fs::path lock_file(const fs::path& folder) {
  return folder / ".tidemark-lock"; // see is_own_name
}

FolderLock::FolderLock(const fs::path& folder, const std::string& what) : file_(lock_file(folder)) {
  std::error_code error;
  fs::create_directories(folder, error);
  std::error_code none;
  if (!fs::is_directory(folder, none)) {
    fail(folder, fs::exists(folder, none) ? "it is a file" : error.message());
  }
  descriptor_ = locked(folder, file_);
  const std::string text = what + ", process " + std::to_string(::getpid()) + "\n";
  const bool is_written =
      ::ftruncate(descriptor_, 0) == 0 &&
      ::write(descriptor_, text.data(), text.size()) == static_cast<ssize_t>(text.size());
  if (!is_written) {
    const std::string why = std::strerror(errno);
    fs::remove(file_, error);
    ::close(descriptor_);
    fail(folder, why);
  }
}

FolderLock::~FolderLock() {
  std::error_code ignored;
  fs::remove(file_, ignored); // before the lock goes: see is_still_there
  ::close(descriptor_);
}

} // namespace tidemark
