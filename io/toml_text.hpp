// Text as TOML writes it.
#pragma once

#include <string>
#include <string_view>

namespace tidemark {

/// Whether the bytes are UTF-8 without surrogates and overlong forms, as TOML wants it.
bool is_utf8(std::string_view text);

/// The text in quotes, with quotes, backslashes and control characters escaped, so that it may
/// stand as a value and in a comment: "skin \"A\"". Precondition: UTF-8.
std::string toml_string(std::string_view text);

} // namespace tidemark
