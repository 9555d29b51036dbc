// A part with fields, gates, vents and places, as the scripts of a report draw it.
#pragma once

#include "io/case_file.hpp"
#include "solver/filling.hpp"

#include <nlohmann/json.hpp>

#include <string>
#include <vector>

namespace tidemark {

/// A field over the nodes; values in SI, NaN where there is none.
struct ReportField {
  std::string key;   // the same in all views that share a scale
  std::string label; // "Fill time"
  std::string unit;  // a kind of quantity that numbers.js knows
  const PerNode<double>& values;
};

/// A part without a filling, under the fields given (those without any value are left out), which
/// come first, and what the case says of its reinforcement.
nlohmann::ordered_json part_view(const Case& input, const std::vector<ReportField>& fields);

/// A filled part: all that is known at its nodes, and in its elements; gates, vents, the last
/// places, dry places and places to look at; the filled fraction against time. title and caption
/// stand above the picture where there are several.
nlohmann::ordered_json filling_view(const Case& input, const FillResult& result,
                                    const std::string& title, const std::string& caption);

} // namespace tidemark
