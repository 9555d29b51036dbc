// What is said of temperatures.
#pragma once

#include "io/case_file.hpp"
#include "solver/filling.hpp"

#include <nlohmann/json_fwd.hpp>

#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// A temperature [K]: "60 degC".
std::string as_celsius(double kelvin);

/// When fresh resin gels that is kept at a temperature [K]: its age [s]; none if it never does.
std::optional<double> gel_time_at(const Resin& resin, double temperature);

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
