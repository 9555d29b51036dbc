// What is said of the resin that runs out of vents, on the way and once the part is full.
#pragma once

#include "solver/filling.hpp"

#include <cstddef>
#include <optional>
#include <string>

namespace tidemark {

/// When a full part has resin that gels, or becomes too thick to run out, before its vents have let
/// out what they should [s]; none if that does not happen.
std::optional<double> gels_while_bleeding(const FillProblem& problem, const FillResult& result);

/// What has run out of a vent at the end or, of a batch that gels before, by then [m3].
double bled_before_gel(const FillProblem& problem, const FillResult& result, std::size_t vent);

/// When the vents of the full part have let out what they should, or why they do not, one sentence;
/// empty where no vent had to bleed on.
std::string bleeding_text(const FillProblem& problem, const FillResult& result);

/// What ran out of a vent and what of it is not told, sentences with a space before each; empty
/// where there is nothing to say.
std::string bled_text(const FillProblem& problem, const FillResult& result, std::size_t vent);

/// "0.0200 L", or "0.0200 L of the 0.0500 L it should".
std::string bled_of_wanted(const Vent& vent, double bled);

} // namespace tidemark
