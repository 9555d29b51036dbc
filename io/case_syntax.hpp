// The text of a case file as TOML, with syntax errors in our words.
#pragma once

#include "io/findings.hpp"

#include <toml++/toml.h>

#include <string>
#include <string_view>

namespace tidemark {

/// Throws InputError (file:line:column: ...) at the first thing that is no TOML in UTF-8.
toml::table parse_toml(std::string_view text, const Findings& findings);

/// Keys and values that were given elsewhere than in a file. Throws InputError (where: ...).
toml::table parse_values(std::string_view text, const std::string& where);

} // namespace tidemark
