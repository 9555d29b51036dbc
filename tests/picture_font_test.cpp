#include "io/picture_font.hpp"

#include <doctest/doctest.h>

#include <string>

using namespace tidemark;

TEST_CASE("picture font: Latin letters take the usual one, others one that has them") {
  CHECK(font_file_for("Fußraum, côté gauche", false).empty());
  CHECK(can_be_drawn("Fußraum, côté gauche"));
  const std::string greek = font_file_for("πόρτα", false);
  if (greek.empty()) {
    MESSAGE("no DejaVu Sans on this system");
    CHECK_FALSE(can_be_drawn("πόρτα"));
    return;
  }
  CHECK(greek.ends_with("DejaVuSans.ttf"));
  CHECK(font_file_for("дверь", true).ends_with("DejaVuSans-Bold.ttf"));
  CHECK(can_be_drawn("πόρτα"));
  CHECK(can_be_drawn("дверь, 5 → 6"));
}

TEST_CASE("picture font: signs that no font here has are known") {
  CHECK_FALSE(can_be_drawn("左のゲート"));
  CHECK_FALSE(can_be_drawn("gate \xF0\x9F\x9A\x9C")); // a tractor
  CHECK_FALSE(can_be_drawn("cut off \xE5\xB7"));
  CHECK_FALSE(can_be_drawn("\xFF"));
  CHECK(can_be_drawn(""));
  CHECK(missing_signs("gate 左のゲート左") == "左のゲート");
  CHECK(missing_signs("cut off \xE5\xB7") == "?");
  CHECK(missing_signs("front port").empty());
}
