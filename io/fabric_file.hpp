// A file of fabrics that several cases share.
#pragma once

#include "io/case_edit.hpp"
#include "io/raw_case.hpp"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// Values tried in place of those in the file.
struct TriedFabrics {
  const CaseEdit* edit = nullptr; // none: the file as it is
  std::vector<Change> changes = {};
};

/// Adds the fabrics of the file to those of the case. What is wrong there is said with that file
/// and its line. Returns what to say if the file could not be opened, else nothing. Precondition:
/// the case names the file. tried: changes of its fabrics.
std::optional<std::string> add_shared_fabrics(RawCase& raw, const std::filesystem::path& file,
                                              const TriedFabrics& tried, Findings& findings);

} // namespace tidemark
