// The pictures of a run as files.
#pragma once

#include "io/case_file.hpp"
#include "io/picture_scene.hpp"
#include "solver/filling.hpp"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

struct PictureOptions {
  std::optional<Vector3> from; // looked at from where this points; none: from the widest side
  PictureSize size = {};
};

struct WrittenPictures {
  std::vector<std::string> names; // of the files
  std::string hindrance;          // why there are none, or not all; empty if there are
};

/// Draws what pictures_of tells, in a child process, so that whatever a graphics driver says,
/// breaks or waits for, or whether a file can be written, the run goes on.
WrittenPictures write_pictures(const std::filesystem::path& folder, const Case& input,
                               const FillResult& result, const PictureOptions& options = {});

} // namespace tidemark
