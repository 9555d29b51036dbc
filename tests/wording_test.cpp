#include "io/wording.hpp"

#include <doctest/doctest.h>

using namespace tidemark;

TEST_CASE("text of a file is quoted without its control characters") {
  CHECK(quoted_text("4 mm") == "\"4 mm\"");
  CHECK(quoted_text("a\nb\x1b[31m") == "\"a\\nb\\x1b[31m\"");
  CHECK(quoted_text(std::string(100, 'x')) == "\"" + std::string(60, 'x') + "...\"");
  // The cut does not tear the two bytes of a character.
  CHECK(quoted_text(std::string(59, 'x') + "µµ") == "\"" + std::string(59, 'x') + "...\"");
}

TEST_CASE("the nearest word is found by the letters that differ") {
  const std::vector<std::string> words{"name", "groups", "thickness", "porosity"};
  CHECK(nearest_word("thicknes", words) == "thickness");
  CHECK(nearest_word("Thickness", words) == "thickness");
  CHECK(nearest_word("gruops", words) == "groups");
  CHECK(nearest_word("nmae", words) == "name");
  CHECK(nearest_word("viscosity", words).empty());
  CHECK(nearest_word("", words).empty());
  CHECK(nearest_word("x", {"y", "z"}).empty());
  CHECK(nearest_word(std::string(1000, 'x'), words).empty());
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
