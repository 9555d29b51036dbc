// A file of fabrics that several cases share.
#pragma once

#include "io/raw_case.hpp"

#include <filesystem>
#include <optional>
#include <string>

namespace tidemark {

/// Adds the fabrics of the file to those of the case. What is wrong there is said with that file
/// and its line. Returns what to say if the file could not be opened, else nothing. Precondition:
/// the case names the file.
std::optional<std::string> add_shared_fabrics(RawCase& raw, const std::filesystem::path& file,
                                              Findings& findings);

} // namespace tidemark
