// A comparison as files for scripts and spreadsheets, in SI units.
#pragma once

#include "io/comparison.hpp"

#include <nlohmann/json_fwd.hpp>

#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

/// One field of CSV by RFC 4180: in quotes where it holds a comma, a quote, a line feed or a
/// carriage return, and quotes within doubled.
std::string csv_field(std::string_view text);

/// A row of fields, with its line end.
std::string csv_line(const std::vector<std::string>& fields);

/// compare.csv: a header, then a row per run; lines end with a line feed. What a run does not have
/// is empty. The column best names the figures in which the run is best.
std::string comparison_csv(const std::vector<ComparedRun>& runs);

/// compare.json: what does not exist is null.
nlohmann::ordered_json comparison_json(const std::vector<ComparedRun>& runs);

} // namespace tidemark
