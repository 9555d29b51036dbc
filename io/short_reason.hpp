// Why a part does not fill, said as far as the result tells more than the reason does.
#pragma once

#include "io/case_file.hpp"
#include "solver/filling.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace tidemark {

/// Whether a gate had closed when the filling ended, by its clock or because what it waits for was
/// reached: a gate that is open then ends at the same time.
bool has_closed(const FillProblem& problem, const FillResult& result, std::size_t gate);

/// Whether a filling stopped because every gate that ever opened had closed, with places left dry
/// that a gate is connected to.
bool stopped_by_gates(const FillProblem& problem, const FillResult& result);

/// Indices, as FillProblem::vents, of the vents through which all that is injected runs out while
/// nothing more fills; empty where the filling did not end like that.
std::vector<std::size_t> vents_letting_all_out(const FillProblem& problem,
                                               const FillResult& result);

/// Why the part is not full, a sentence without a line end; empty where it is full.
std::string short_reason_text(const Case& input, const FillResult& result);

/// When the run ended and how much is filled then; where it came to rest, which takes the longer
/// the closer one looks, also when all but a thousandth of that was. A sentence without a line end.
std::string end_text(const FillResult& result);

/// What the engineer can change about gates or vents that are the reason, one line; empty where
/// they are not.
std::string port_advice_text(const FillProblem& problem, const FillResult& result);

} // namespace tidemark
