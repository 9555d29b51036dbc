// Whether the mesh beside a runner or race track is fine enough for the front in it.
#pragma once

#include "solver/fill_problem.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

/// For each channel whose front may be late by more than 1.25 (own choice), see delays_by_laminate,
/// by how much, and what helps. The first runners channels are runners, the others race tracks.
std::vector<std::string> channel_notes(const FillProblem& problem, std::size_t runners);

/// Whether it is one of these, to be left out where what helps is done.
bool is_channel_note(std::string_view note);

} // namespace tidemark
