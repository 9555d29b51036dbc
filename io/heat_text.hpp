// What is said of temperatures.
#pragma once

#include "io/case_file.hpp"
#include "solver/filling.hpp"

#include <nlohmann/json_fwd.hpp>

#include <string>
#include <vector>

namespace tidemark {

/// For `check`: the resin once it has the mould's temperature; empty without [heat].
std::string resin_in_mould_text(const Case& input);

/// For the verdict; empty without [heat], or if no resin came.
std::string heat_text(const Case& input, const FillResult& result);

/// Resin that becomes hotter than it may, or than the laws of [resin] tell.
std::vector<std::string> heat_warnings(const Case& input, const FillResult& result);

/// For summary.json; null without [heat].
nlohmann::ordered_json heat_json(const Case& input, const FillResult& result);

/// carried_in + reaction - stored - to_mould - carried_out, over the largest of them [-].
double error_of(const HeatBalance& balance);

} // namespace tidemark
