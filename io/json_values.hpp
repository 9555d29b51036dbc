// Values as they stand in the JSON files.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <nlohmann/json.hpp>

#include <optional>

namespace tidemark {

/// The number, or null where there is none.
inline nlohmann::ordered_json number_or_null(const std::optional<double>& value) {
  return value ? nlohmann::ordered_json(*value) : nlohmann::ordered_json();
}

/// A place as [x, y, z].
inline nlohmann::ordered_json position_json(const Vector3& position) {
  return nlohmann::ordered_json::array({position.x(), position.y(), position.z()});
}

} // namespace tidemark
