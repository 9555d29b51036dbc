// The verdict of a filling in words.
#pragma once

#include "io/case_file.hpp"
#include "solver/cure_search.hpp"
#include "solver/filling.hpp"

#include <optional>

#include <string>

namespace tidemark {

/// The verdict of a filling as sentences an engineer can read aloud, in shop units: whether it
/// fills, when and at what pressure, where the resin comes last or air stays, what to look at.
/// Precondition: result is a filling of input.problem.
/// search: what was found to fill a part that gels too early.
std::string verdict_text(const Case& input, const FillResult& result,
                         const std::optional<CureSearch>& search = {});

/// Of that the middle: what happens, a line for each fact, without title, notes, warnings and the
/// closing words. Lines that begin with a blank belong to the one above.
std::string course_in_words(const Case& input, const FillResult& result,
                            const std::optional<CureSearch>& search = {});

} // namespace tidemark
