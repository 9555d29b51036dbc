// Ranges of the resin's values, what its laws need, and the resin made of them.
#pragma once

#include "io/raw_case.hpp"
#include "io/resin_facts.hpp"
#include "solver/resin.hpp"
#include "solver/resin_laws.hpp"

#include <optional>
#include <string>

namespace tidemark {

/// All that can be said of [resin] and of how it is mixed without the mesh.
void check_resin(const RawCase& raw, Findings& findings);

/// A temperature outside the range of a law of [resin]: a warning, or far outside an error.
void check_laws_within(const RawCase& raw, const Maybe<double>& temperature, const std::string& key,
                       Findings& findings);

/// The resin at the temperature of the case; catalyst: a level instead of the case's own.
/// Precondition: check_resin found no error.
Resin make_resin(const RawCase& raw, std::optional<double> catalyst = {});

/// What is known of the resin besides the filling's problem.
ResinFacts make_resin_facts(const RawCase& raw);

} // namespace tidemark
