// What the parts of the operator's sheet have in common: the case with its fillings, bands over
// these, and what a page holds.
#pragma once

#include "io/setup_sheet.hpp"

#include <algorithm>
#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

// What a page holds.
constexpr std::size_t most_events = 14;
constexpr std::size_t most_places = 2;
constexpr std::size_t most_pumps = 3;
constexpr std::size_t longest_name = 32;
constexpr std::size_t longest_title = 80;
constexpr std::size_t longest_list = 120;
constexpr std::size_t most_warnings = 4;
constexpr std::size_t longest_warning = 250;

/// A case, its filling, and the same with less and more permeability.
struct Shot {
  const Case& input;
  const FillResult& result;
  const PermeabilityBand& band;
  [[nodiscard]] const FillProblem& problem() const { return input.problem; }
};

/// A name of the case, as long as the sheet has room for.
std::string name_of(const std::string& name);

/// The fillings of the band that fill the part, and the one as expected.
std::vector<const FillResult*> full_results(const Shot& shot);

/// Lowest to highest of a number over these fillings; a filling without it does not count.
template <class Number, class Text>
std::string band_of(const std::vector<const FillResult*>& results, Number number, Text text) {
  double low = std::numeric_limits<double>::infinity();
  double high = -low;
  for (const FillResult* result : results) {
    if (const std::optional<double> value = number(*result)) {
      low = std::min(low, *value);
      high = std::max(high, *value);
    }
  }
  return low <= high ? range_text(text(low), text(high)) : "";
}

/// The filling as expected and those of the band that could be computed, also if they are short.
std::vector<const FillResult*> fillings_of(const Shot& shot);

/// The same over all fillings of the shot, with ", or never" where one has no such number.
template <class Number, class Text>
std::string band_or_never(const Shot& shot, Number number, Text text,
                          const std::string& without = "or never") {
  const std::vector<const FillResult*> results = fillings_of(shot);
  const std::string band = band_of(results, number, text);
  const bool all_have = std::ranges::all_of(
      results, [&](const FillResult* result) { return number(*result).has_value(); });
  return all_have ? band : band.empty() ? without : band + ", " + without;
}

/// " (band)", or nothing if there is none.
std::string in_brackets(const std::string& band);

/// What the list of inputs says of a key; none if it was not given.
std::optional<std::string> given_text(const Case& input, const std::string& key);

} // namespace tidemark
