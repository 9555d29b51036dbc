// What is said of the age of the resin, of its gel, and of what would keep it from gelling too
// early.
#pragma once

#include "io/case_file.hpp"
#include "solver/cure_search.hpp"
#include "solver/filling.hpp"

#include <nlohmann/json_fwd.hpp>

#include <string>
#include <vector>

namespace tidemark {

/// Viscosity and gel at the ages of a filling, as a table; empty for a resin of constant viscosity
/// and a gel time given as such.
std::string resin_at_ages_text(const Case& input);

/// When the resin gels and how much time is to spare; empty if it never does.
std::string gel_text(const Case& input, const FillResult& result);

/// Why a filling is short by gel, as a sentence: it has gelled, or become too thick.
std::string gel_reason_text(const Case& input, const FillResult& result);

/// Gel margin and ranges of laws that were passed, whole sentences.
std::vector<std::string> gel_warnings(const Case& input, const FillResult& result);

/// What would fill the part; empty if nothing was found or looked for.
std::string cure_search_text(const Case& input, const CureSearch& search);

nlohmann::ordered_json age_json(const Case& input, const FillResult& result);
nlohmann::ordered_json cure_search_json(const CureSearch& search);

} // namespace tidemark
