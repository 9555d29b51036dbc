// JSON read from text. Compiled here once: it takes seconds in every file that does it itself.
#pragma once

#include <nlohmann/json_fwd.hpp>

#include <string_view>

namespace tidemark {

/// Throws nlohmann::json::parse_error if the text is not JSON.
nlohmann::json json_of(std::string_view text);

/// The same, its keys in the order of the text.
nlohmann::ordered_json ordered_json_of(std::string_view text);

} // namespace tidemark
