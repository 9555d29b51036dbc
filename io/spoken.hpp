// Numbers and places as they are read aloud from the terminal; shop_units has those with a unit.
#pragma once

#include "io/case_file.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

/// A number to three significant digits at most, as short as it can be said: "8.35", "0.5". For
/// what is given; what is computed keeps its three digits (three_digits in shop_units).
std::string rough_number(double value);

/// A share (1 = all) in per cent to a tenth, to a hundredth near all, but "100 %" of nothing less
/// than all and "0 %" of nothing but none: "83.8 %", "99.98 %", "under 0.1 %".
std::string as_percent(double share);

/// "x 812 mm, y 310 mm, z 44.0 mm", and in the unit of the mesh as well if that is another.
std::string place_text(const Case& input, const Vector3& point);

/// The name of a dry place by its number from 0: "A" to "Z", "AA", "AB" and so on. Places where air
/// has closed up come after them; the last places to fill have numbers.
std::string letter_name(std::size_t number);

const std::string& region_name(const Case& input, RegionId region);

/// "Note: ..." for each note of the case, a line each.
std::string notes_text(const Case& input);

/// "Warning: ..." for each warning, a line each.
std::string warnings_text(const std::vector<std::string>& warnings);

/// What is said where the case lets all air out (sealed_air = false), so that no dry spot of air
/// shut in can come of it; empty where air is computed.
std::string air_caution(const FillProblem& problem);

/// The text with control characters (but line feeds) replaced, so that no name in a file can steer
/// the terminal.
std::string printable(std::string_view text);

} // namespace tidemark
