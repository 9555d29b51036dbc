// A MeshContent as bytes, to bring it from one process to another of the same program.
#pragma once

#include "io/mesh_content.hpp"

#include <optional>
#include <string>
#include <string_view>

namespace tidemark {

std::string to_bytes(const MeshContent& content);

/// The content, or nothing if the bytes are not those of a content whose ids are all in range.
std::optional<MeshContent> from_bytes(std::string_view bytes);

} // namespace tidemark
