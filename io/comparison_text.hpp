// A comparison on the terminal, in shop units.
#pragma once

#include "io/comparison.hpp"
#include "io/text_table.hpp"

#include <string>
#include <vector>

namespace tidemark {

/// The list of runs, what each does and what each takes, the best marked with *, then what the
/// figures leave out and the warnings of the runs.
std::string comparison_text(const std::vector<ComparedRun>& runs);

/// Of that the tables, what each run does and what it takes: headings, then a row for each run.
std::vector<TextRow> run_table(const std::vector<ComparedRun>& runs);
std::vector<TextRow> material_table(const std::vector<ComparedRun>& runs);

/// What the verdict "opens" means, a line; empty where no run has it.
std::string opening_remark(const std::vector<ComparedRun>& runs);

/// What the figures leave out, failures and warnings, a line each.
std::string remarks_of(const std::vector<ComparedRun>& runs);

} // namespace tidemark
