// Pieces of the messages a user reads.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

/// Bytes of the control character that a UTF-8 text begins with, 0 if it begins with none: those of
/// ASCII and of Latin-1 (U+0080 to U+009F), and what ends lines or turns the direction of writing
/// (U+2028 to U+202E, U+2066 to U+2069).
std::size_t control_bytes(std::string_view text);

/// The text in quotes, control characters as \n, \x1b or \u009b, long text cut to about 60
/// characters.
std::string quoted_text(std::string_view text);

/// "1 place", "3 places".
std::string counted(std::size_t count, std::string_view one, std::string_view many);

/// "the place", "both places", "all 3 places". Precondition: at least one.
std::string all_of(std::size_t count, std::string_view one, std::string_view many);

/// The text with its first letter, if it is one of a to z, as a capital.
std::string with_capital(std::string text);

/// "skin, core, edge"; only the first twenty, then how many there are more. "none" if empty.
std::string list_of(const std::vector<std::string>& words);

/// The words of the list that the one given may be, mistyped, by the number of letters to insert,
/// remove, replace or exchange, upper and lower case alike: those with the fewest, if that is no
/// more than a third of its letters and, where the words have whole parts in common, of the rest.
/// In their order, three at most; empty if none is near or more are alike.
std::vector<std::string> mistyped_words(std::string_view word,
                                        const std::vector<std::string>& words);

/// The same for names of keys and options: where none is mistyped, those that have a whole part in
/// common, as pressure_cap with pressure_limit, best at its beginning.
std::vector<std::string> nearest_words(std::string_view word,
                                       const std::vector<std::string>& words);

/// "a, b and c" with the link " and " before the last.
std::string enumeration(const std::vector<std::string>& words, std::string_view last_link);

/// "a, b or c".
std::string one_of(const std::vector<std::string>& words);

/// "skin, core (nearest: core)": what a word might have been.
std::string list_with_nearest(std::string_view word, const std::vector<std::string>& words);

/// The lines of a text, without their ends.
std::vector<std::string> lines_of(const std::string& text);

/// A number as short as it can be said: "4", "0.25", "1e-09".
std::string shortest(double value);

} // namespace tidemark
