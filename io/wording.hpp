// Pieces of the messages a user reads.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

/// The text in quotes, control characters as \n or \x1b, long text cut to about 60 characters.
std::string quoted_text(std::string_view text);

/// "1 place", "3 places".
std::string counted(std::size_t count, std::string_view one, std::string_view many);

/// "the place", "both places", "all 3 places". Precondition: at least one.
std::string all_of(std::size_t count, std::string_view one, std::string_view many);

/// The text with its first letter, if it is one of a to z, as a capital.
std::string with_capital(std::string text);

/// "skin, core, edge"; only the first twenty, then how many there are more. "none" if empty.
std::string list_of(const std::vector<std::string>& words);

/// The word of the list nearest to the one given, by the number of letters to insert, remove,
/// replace or exchange, upper and lower case alike. Empty if none is near (a third of its letters).
std::string nearest_word(std::string_view word, const std::vector<std::string>& words);

/// "skin, core (nearest: core)": what a word might have been.
std::string list_with_nearest(std::string_view word, const std::vector<std::string>& words);

/// The lines of a text, without their ends.
std::vector<std::string> lines_of(const std::string& text);

/// A number as short as it can be said: "4", "0.25", "1e-09".
std::string shortest(double value);

} // namespace tidemark
