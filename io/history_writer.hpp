// The history of a filling as a table for spreadsheets and scripts.
#pragma once

#include "solver/filling.hpp"

#include <filesystem>
#include <string>
#include <vector>

namespace tidemark {

/// The history as comma-separated text (RFC 4180 but with bare line feeds): one row per step with
/// time_s, filled_fraction, flow_rate_m3_per_s, head_pressure_pa, then NAME_flow_rate_m3_per_s and
/// NAME_pressure_pa of every gate, then NAME_bled_m3 of every vent, then shut_in_air_m3, and with a
/// mould opening_force_n. Numbers are the shortest that read back exactly. A column name that is
/// already taken gets _2, _3 and so on.
std::string history_text(const FillProblem& problem, const std::vector<HistoryRow>& history);

/// Writes history_text to a file. Throws FileError.
void write_history(const std::filesystem::path& file, const FillProblem& problem,
                   const std::vector<HistoryRow>& history);

} // namespace tidemark
