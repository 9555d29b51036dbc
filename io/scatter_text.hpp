// Pieces of what scatter says, for the terminal and the page.
#pragma once

#include "io/scatter_writer.hpp"
#include "io/text_table.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

/// A share in per cent to two digits, without rounding to none or all: "4.5 %", "0 %", "100 %".
std::string share_text(double share);

/// "lognormal, variation 30 %, from place to place over 150 mm".
std::string variation_text(const ScatteredInput& input);

/// "Probability of a short fill: 42 % (27 % to 59 % with 95 % confidence), 17 of 40 samples.", with
/// a line feed.
std::string event_text(const std::string& what, const EventShare& event);

/// How often the mould is pushed open, and that the push of the fibres is not in it where it is
/// not known; empty without a mould, or where it is not said what holds it.
std::string opening_text(const Case& input, const ScatterSummary& summary);

/// How often a dry spot stays; where air shut in is not computed that instead, since none can.
std::string dry_spot_text(const Case& input, const ScatterSummary& summary);

/// Why samples are short, and how full those are; a line, or nothing.
std::string short_reasons_text(const ScatterOutcome& outcome);

/// A figure under the key of a distribution in its unit: "7:34 min", "1.00 bar".
std::string figure_text(std::string_view key, double value);

/// A row of headings, then one for each figure that a sample has.
std::vector<TextRow> distribution_rows(const ScatterOutcome& outcome);

/// With two digits after the point and its sign: "+0.85".
std::string correlation_text(double value);

/// "3 of 5 samples, Latin hypercube, seed 1."
std::string samples_text(const ScatterOutcome& outcome);

/// Of a place that stays dry: ", among the last to fill in another 67 %"; empty where it never is.
std::string also_late_text(const FrequentPlace& place, std::size_t computed);

/// Samples that could not be computed, with some of the reasons; empty if there are none.
std::string failures_text(const std::vector<ScatterSample>& samples);

inline constexpr const char* scatter_interval_note =
    "The intervals are those of independent samples (Clopper and Pearson 1934); with a Latin "
    "hypercube they are\napproximate, mostly too wide. They tell how sure the figures are, not how "
    "well the case is known.";

} // namespace tidemark
