// A file of fabrics that several cases share.
#pragma once

#include "io/raw_case.hpp"

#include <filesystem>

namespace tidemark {

/// Adds the fabrics of the file to those of the case. What is wrong there is said with that file
/// and its line. A file that cannot be opened is an error of the case if there are others, else a
/// FileError. Precondition: the case names the file.
void add_shared_fabrics(RawCase& raw, const std::filesystem::path& file, Findings& findings);

} // namespace tidemark
