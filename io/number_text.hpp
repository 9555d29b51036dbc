// Numbers as text, without a unit.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <optional>
#include <string>
#include <string_view>

namespace tidemark {

/// The shortest decimal text that reads back as the same number, whatever the locale.
std::string number_text(double value);

/// The same, empty where there is none.
std::string number_or_empty(const std::optional<double>& value);

/// A number as short as it can be said, six digits at most: "0.75".
std::string plain_number(double value);

/// Three numbers with commas or blanks between, perhaps in square brackets; none if the text is
/// anything else.
std::optional<Vector3> three_numbers(std::string_view text);

} // namespace tidemark
