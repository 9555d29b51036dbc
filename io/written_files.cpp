#include "io/written_files.hpp"

#include "io/digest.hpp"
#include "io/whole_file.hpp"
#include "mesh/error.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <sstream>
#include <system_error>

namespace tidemark {

namespace {

namespace fs = std::filesystem;

const std::string_view own_start = ".tidemark";
const char* const heading =
    "# Files tidemark wrote here, with digests of their content. It replaces a file that is as it\n"
    "# stands here, and no other.\n";

std::string line_of(const std::string& digest, const std::string& name) {
  return digest + " " + name + "\n";
}

/// Returns whether the file was there to be opened. Throws FileError.
bool append_to(const fs::path& file, const std::string& text, int flags) {
  const int descriptor = ::open(file.c_str(), O_WRONLY | O_APPEND | O_CLOEXEC | flags, 0666);
  if (descriptor < 0 && errno == ENOENT) {
    return false;
  }
  const bool is_written = descriptor >= 0 && ::write(descriptor, text.data(), text.size()) ==
                                                 static_cast<ssize_t>(text.size());
  const std::string why = std::strerror(errno);
  if (descriptor >= 0) {
    ::close(descriptor);
  }
  if (!is_written) {
    throw FileError(file.string() + ": cannot be written: " + why);
  }
  return true;
}

} // namespace

bool is_own_name(std::string_view name) {
  return name.starts_with(own_start);
}

fs::path temporary_name(const fs::path& file) {
  return file.parent_path() / (std::string(own_start) + "-" + file.filename().string() + ".part");
}

fs::path written_list(const fs::path& folder) {
  return folder / (std::string(own_start) + "-files");
}

void begin_written_list(const fs::path& folder) {
  std::error_code none;
  if (!fs::exists(written_list(folder), none)) {
    append_to(written_list(folder), heading, O_CREAT);
  }
}

void note_written(const fs::path& file, const fs::path& content) {
  const fs::path list = written_list(file.parent_path());
  const std::string name = file.filename().string();
  std::error_code none;
  if (fs::exists(list, none) && name.find('\n') == std::string::npos) {
    append_to(list, line_of(digest_of_file(content), name), 0);
  }
}

WrittenFiles written_files(const fs::path& folder) {
  WrittenFiles files;
  std::error_code none;
  if (!fs::exists(written_list(folder), none)) {
    return files;
  }
  constexpr std::size_t digits = 16;
  std::istringstream lines(whole_file(written_list(folder)));
  // A line that is cut off or is none of ours is left out: so a file may be taken for somebody
  // else's, but never the other way round.
  for (std::string line; std::getline(lines, line) && !lines.eof();) {
    if (line.size() > digits + 1 && line.find_first_not_of("0123456789abcdef") == digits &&
        line[digits] == ' ') {
      files.emplace(line.substr(digits + 1), line.substr(0, digits));
    }
  }
  return files;
}

Origin origin_of(const fs::path& file, const WrittenFiles& list) {
  const auto [first, last] = list.equal_range(file.filename().string());
  if (first == last) {
    return Origin::other;
  }
  try {
    const std::string digest = digest_of_file(file);
    const auto is_it = [&](const auto& written) { return written.second == digest; };
    return std::any_of(first, last, is_it) ? Origin::written : Origin::changed;
  } catch (const FileError&) { // what cannot be read cannot be known
    return Origin::changed;
  }
}

void forget_written(const fs::path& folder, bool (*is_meant)(std::string_view name)) {
  const WrittenFiles list = written_files(folder);
  const fs::path rest = temporary_name(written_list(folder));
  std::error_code error;
  fs::remove(rest, error);
  std::string text = heading;
  for (const auto& [name, digest] : list) {
    text += is_meant(name) ? "" : line_of(digest, name);
  }
  append_to(rest, text, O_CREAT);
  fs::rename(rest, written_list(folder), error);
  if (error) {
    throw FileError(written_list(folder).string() + ": cannot be written: " + error.message());
  }
}

void end_written_list(const fs::path& folder) {
  std::error_code ignored;
  if (written_files(folder).empty()) {
    fs::remove(written_list(folder), ignored);
  }
}

} // namespace tidemark
