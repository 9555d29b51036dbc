// A search for vents: which cases it is for, its fillings in a record of runs.
#pragma once

#include "io/case_file.hpp"
#include "io/run_record.hpp"
#include "solver/vent_search.hpp"

#include <cstddef>
#include <vector>

namespace tidemark {

/// Throws InputError where a gate waits for a vent of the case, which those of a search would
/// replace. command: "vents"; expected: what the user may do instead.
void refuse_awaited_vents(const Case& input, const std::string& command,
                          const std::string& expected);

/// A filling of a search as it stands in a record of a case with a mesh of so many nodes. Throws
/// InputError or an error of nlohmann::json if it is none.
VentTrial vent_trial_from(const nlohmann::ordered_json& json, std::size_t nodes);

/// Whether what stands in a record is a filling of a search.
bool is_vent_trial(const nlohmann::ordered_json& json);

/// The fillings of a search found in a record under numbers from `first` on; those done now are
/// added there. The record must outlive the book. nodes: of the mesh. Throws InputError if one
/// found is no filling of a search.
VentTrialBook trial_book(RunRecord& record, std::size_t first, std::size_t nodes);

} // namespace tidemark
