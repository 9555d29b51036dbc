// summary.json: the answer of a run for scripts, in SI units with the unit in each key.
#pragma once

#include "io/case_file.hpp"
#include "solver/cure_search.hpp"
#include "solver/filling.hpp"
#include "solver/meeting_lines.hpp"

#include <nlohmann/json_fwd.hpp>

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

/// What the run took from the machine: the only part of a summary that differs between two runs of
/// the same case.
struct RunCost {
  double wall_time;         // [s]
  std::int64_t peak_memory; // of the process so far [bytes]
};

/// Why a fill is short, as the summary's "reason": "" when it is not.
std::string_view reason_word(ShortReason reason);

/// The reason of such a word. Throws InputError for another, and for that of an interruption.
ShortReason reason_named(std::string_view word);

/// Why a fill is short, as a sentence; empty when it is not.
std::string_view reason_sentence(ShortReason reason);

/// The lines on which the resins of two gates meet; not those of a gate that lets none in, since
/// resin that passes such a gate is not of it.
std::vector<MeetingLine> lines_met(const FillProblem& problem, const FillResult& result);

/// What the user should hear of besides the answer: the warnings of the input, then those about the
/// numbers of this run, whole sentences.
std::vector<std::string> all_warnings(const Case& input, const FillResult& result);

/// The summary: numbers that do not exist are null. Precondition: result is a filling
/// of input.problem, so that its regions come in the same order.
/// search: what was found to fill a part that gels too early.
nlohmann::ordered_json summarise(const Case& input, const FillResult& result, const RunCost& cost,
                                 const std::optional<CureSearch>& search = {});

/// The summary as text, two blanks a level, with a line feed at the end.
std::string summary_text(const nlohmann::ordered_json& summary);

} // namespace tidemark
