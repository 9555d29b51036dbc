// A folder of its own for a test, gone afterwards.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

namespace tidemark {

class TemporaryFolder {
public:
  TemporaryFolder();
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  ~TemporaryFolder();
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

private:
  std::filesystem::path path_;
};

/// The bytes of a file; empty if there is none.
std::string read_file(const std::filesystem::path& file);

void write_file(const std::filesystem::path& file, std::string_view text);

} // namespace tidemark
