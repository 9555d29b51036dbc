#include "io/wording.hpp"

#include <doctest/doctest.h>

using namespace tidemark;

TEST_CASE("text of a file is quoted without its control characters") {
  CHECK(quoted_text("4 mm") == "\"4 mm\"");
  CHECK(quoted_text("a\nb\x1b[31m") == "\"a\\nb\\x1b[31m\"");
  // U+009B begins a command of the terminal in one character, U+202E turns the rest round.
  CHECK(quoted_text("a\xC2\x9B"
                    "b\xE2\x80\xAE"
                    "c") == "\"a\\u009bb\\u202ec\"");
  CHECK(quoted_text("\xE2\x81\xA6") == "\"\\u2066\"");
  CHECK(quoted_text("M\xC3\xBCller \xE2\x80\x93 \xE2\x82\xAC") ==
        "\"M\xC3\xBCller \xE2\x80\x93 \xE2\x82\xAC\"");
  CHECK(control_bytes("") == 0);
  CHECK(quoted_text(std::string(100, 'x')) == "\"" + std::string(60, 'x') + "...\"");
  // The cut does not tear the two bytes of a character.
  CHECK(quoted_text(std::string(59, 'x') + "µµ") == "\"" + std::string(59, 'x') + "...\"");
}

using Words = std::vector<std::string>;

TEST_CASE("the nearest word is found by the letters that differ") {
  const Words words{"name", "groups", "thickness", "porosity"};
  CHECK(nearest_words("thicknes", words) == Words{"thickness"});
  CHECK(nearest_words("Thickness", words) == Words{"thickness"});
  CHECK(nearest_words("gruops", words) == Words{"groups"});
  CHECK(nearest_words("nmae", words) == Words{"name"});
  CHECK(nearest_words("viscosity", words).empty());
  CHECK(nearest_words("", words).empty());
  CHECK(nearest_words("x", {"y", "z"}).empty());
  CHECK(nearest_words("x", {}).empty());
  CHECK(nearest_words(std::string(1000, 'x'), words).empty());
}

TEST_CASE("a whole part in common counts more than letters, and what is equally near is told") {
  const Words words{"flow_rate",    "pressure_cap",   "max_flow_rate",
                    "max_pressure", "pressure_ratio", "air_pressure"};
  // From limit to ratio it is four letters of five: no slip of the finger.
  CHECK(nearest_words("pressure_limit", words) == Words{"pressure_cap", "pressure_ratio"});
  CHECK(nearest_words("max_presure", words) == Words{"max_pressure"});
  CHECK(nearest_words("presure_cap", words) == Words{"pressure_cap"});
  CHECK(nearest_words("pressurecap", words) == Words{"pressure_cap"});
  CHECK(nearest_words("cap", words) == Words{"pressure_cap"});
  CHECK(nearest_words("k3", {"k1", "k2", "value"}) == Words{"k1", "k2"});
  // More than three alike tell nothing.
  CHECK(nearest_words("gate 9", {"gate 1", "gate 2", "gate 3", "gate 4"}).empty());
  CHECK(one_of({"a", "b", "c"}) == "a, b or c");
  CHECK(one_of({"a"}) == "a");
  CHECK(list_with_nearest("k3", {"k1", "k2"}) == "k1, k2 (nearest: k1 or k2)");
}

TEST_CASE("a list of words ends after twenty") {
  CHECK(list_of({}) == "none");
  CHECK(list_of({"skin", "core"}) == "skin, core");
  CHECK(list_of(std::vector<std::string>(23, "a")).ends_with("a and 3 more"));
}

TEST_CASE("all of one, of two and of many") {
  CHECK(all_of(1, "run", "runs") == "the run");
  CHECK(all_of(2, "run", "runs") == "both runs");
  CHECK(all_of(3, "run", "runs") == "all 3 runs");
  CHECK(with_capital("both runs") == "Both runs");
  CHECK(with_capital("3 runs") == "3 runs");
  CHECK(with_capital("").empty());
}

TEST_CASE("numbers are said as shortly as they can be") {
  CHECK(shortest(4) == "4");
  CHECK(shortest(0.1) == "0.1");
  CHECK(shortest(1e-9) == "1e-09");
}
