// Names in a case file: those of regions, gates, vents and channels.
#pragma once

#include "io/toml_table.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

bool has_control_characters(std::string_view text);

/// The table's own name; an error if it is missing, empty or cannot head a column of history.csv.
Maybe<std::string> read_name(const TomlTable& table, const char* example);

/// The word a key has of those known; an error, and nothing, if it is missing or none of them.
Maybe<std::string> read_word(const TomlTable& table, const std::vector<std::string>& known,
                             const char* name);

/// An error for each name that an earlier table of the kind ("gate") has.
void refuse_same_names(const std::vector<Maybe<std::string>>& names, const std::string& kind,
                       Findings& findings);

} // namespace tidemark
