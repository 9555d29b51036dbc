// Values as they stand in the JSON files.
#pragma once

#include "mesh/error.hpp"
#include "mesh/shell_mesh.hpp"

#include <nlohmann/json.hpp>

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>

namespace tidemark {

/// The number, or null where there is none.
inline nlohmann::ordered_json number_or_null(const std::optional<double>& value) {
  return value ? nlohmann::ordered_json(*value) : nlohmann::ordered_json();
}

/// A place as [x, y, z].
inline nlohmann::ordered_json position_json(const Vector3& position) {
  return nlohmann::ordered_json::array({position.x(), position.y(), position.z()});
}

/// The node of a number in a file. Throws InputError if a mesh of so many nodes has none of that.
inline NodeId node_from(const nlohmann::ordered_json& json, std::size_t nodes) {
  const bool is_node = json.is_number_integer() &&
                       (json.is_number_unsigned() || json.get<std::int64_t>() >= 0) &&
                       json.get<std::uint64_t>() < nodes;
  if (!is_node) {
    throw InputError("found node " + json.dump() + ", expected a whole number from 0 to " +
                     std::to_string(nodes - 1) + ", one of the mesh");
  }
  return NodeId(json.get<std::int32_t>());
}

} // namespace tidemark
