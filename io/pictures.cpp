#include "io/pictures.hpp"

#include "io/guarded_child.hpp"
#include "io/offscreen.hpp"
#include "io/output_folder.hpp"
#include "io/picture_content.hpp"
#include "mesh/error.hpp"

#include <unistd.h>

#include <cstdint>
#include <cstring>
#include <string_view>

namespace tidemark {

namespace {

/// Generous: a software renderer draws 100 000 triangles in a second or two.
constexpr ChildLimits limits{.cpu_seconds = 240, .address_space = std::size_t{64} << 30U};
constexpr unsigned longest_wait = 300; // [s], for a driver that hangs

void append(std::string& bytes, std::string_view part) {
  const auto size = static_cast<std::uint64_t>(part.size());
  bytes.append(reinterpret_cast<const char*>(&size), sizeof size);
  bytes += part;
}

/// The next part of the bytes, which are shortened by it.
std::string_view next_part(std::string_view& bytes) {
  std::uint64_t size = 0;
  std::memcpy(&size, bytes.data(), sizeof size);
  const std::string_view part = bytes.substr(sizeof size, size);
  bytes.remove_prefix(sizeof size + part.size());
  return part;
}

/// What hinders, then each picture's name and file.
std::string drawn(const Case& input, const FillResult& result, const PictureOptions& options) {
  alarm(longest_wait);
  std::string bytes;
  const std::string hindrance = open_offscreen();
  append(bytes, hindrance);
  if (!hindrance.empty()) {
    return bytes;
  }
  const ShellMesh& mesh = input.problem.mesh;
  const PictureView view = options.from ? view_from(*options.from) : default_view(mesh);
  for (const Picture& picture : pictures_of(input, result)) {
    append(bytes, picture.file_name);
    append(bytes, png_of(picture, mesh, view, options.size));
  }
  return bytes;
}

} // namespace

WrittenPictures write_pictures(const std::filesystem::path& folder, const Case& input,
                               const FillResult& result, const PictureOptions& options) {
  ChildOutcome outcome{ChildEnd::crashed, ""};
  try {
    outcome = run_in_child([&] { return drawn(input, result, options); }, limits);
  } catch (const FileError& error) {
    return {{}, error.what()}; // no process to be had
  }
  if (outcome.end != ChildEnd::finished) {
    return {{}, "the graphics driver failed"};
  }
  std::string_view bytes = outcome.output;
  WrittenPictures written{{}, std::string(next_part(bytes))};
  while (!bytes.empty()) {
    const std::string name(next_part(bytes));
    try {
      write_text_file(folder / name, next_part(bytes));
    } catch (const FileError& error) {
      written.hindrance = error.what(); // the run has its answer all the same
      break;
    }
    written.names.push_back(name);
  }
  return written;
}

} // namespace tidemark
