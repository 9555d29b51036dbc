// Ranges of [scatter], what goes with what, and what is drawn for a case.
#pragma once

#include "io/raw_case.hpp"
#include "io/scatter_facts.hpp"

namespace tidemark {

/// All that can be said of [scatter] without the mesh; nothing if there is none.
void check_scatter(const RawCase& raw, Findings& findings);

/// What scatters: as the case says, or without a word in it the permeability of each region by
/// published values. Precondition: no errors were found, problem was made of raw.
ScatterFacts make_scatter_facts(const RawCase& raw, const FillProblem& problem);

} // namespace tidemark
