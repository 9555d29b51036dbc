#include "tests/support/json_text.hpp"

#include <nlohmann/json.hpp>

namespace tidemark {

nlohmann::json json_of(std::string_view text) {
  return nlohmann::json::parse(text);
}

nlohmann::ordered_json ordered_json_of(std::string_view text) {
  return nlohmann::ordered_json::parse(text);
}

} // namespace tidemark
