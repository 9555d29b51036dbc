// A search for vents: its fillings in a record of runs.
#pragma once

#include "io/run_record.hpp"
#include "solver/vent_search.hpp"

#include <cstddef>
#include <vector>

namespace tidemark {

/// The fillings of a search found in a record under numbers from `first` on; those done now are
/// added there. The record must outlive the book. Throws InputError if one found is no filling of a
/// search.
VentTrialBook trial_book(RunRecord& record, std::size_t first);

} // namespace tidemark
