#include "io/shop_units.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <limits>

using namespace tidemark;

TEST_CASE("times are read as minutes and seconds") {
  CHECK(as_minutes(754) == "12:34 min");
  CHECK(as_minutes(60) == "1:00 min");
  CHECK(as_minutes(59.96) == "1:00 min");
  CHECK(as_minutes(9.97) == "10 s");
  CHECK(as_minutes(4.2) == "4.2 s");
  CHECK(as_minutes(59.4) == "59 s");
  CHECK(as_minutes(-31) == "-31 s");
  CHECK(as_minutes(7384) == "123:04 min");
  CHECK(as_minutes(0) == "0 s");
  CHECK(as_minutes(0.0312) == "0.0312 s");
  CHECK(as_minutes(3e-7) == "3.00e-07 s");
  CHECK(as_minutes(-75) == "-1:15 min");
}

TEST_CASE("predicted times keep two digits") {
  CHECK(as_rough_minutes(391) == "6:30 min");
  CHECK(as_rough_minutes(4567) == "76:40 min"); // 4600 s
  CHECK(as_rough_minutes(59.7) == "1:00 min");
  CHECK(as_rough_minutes(4.27) == "4.3 s");
  CHECK(as_rough_minutes(-391) == "-6:30 min");
  CHECK(as_rough_minutes(0) == "0 s");
}

TEST_CASE("forces are read in kilonewtons") {
  CHECK(as_kilonewtons(12345) == "12.3 kN");
  CHECK(as_kilonewtons(-850) == "-0.850 kN");
  CHECK(as_kilonewtons(0) == "0.00 kN");
}

TEST_CASE("pressures are read in bar") {
  CHECK(as_bar(1.2e5) == "1.20 bar");
  CHECK(as_bar(-5e4) == "-0.50 bar");
  CHECK(as_bar(410) == "0.0041 bar");
  CHECK(as_bar(1) == "1.00e-05 bar");
  CHECK(as_bar(0) == "0.00 bar");
  CHECK(as_bar(-0.0) == "0.00 bar");
}

TEST_CASE("volumes and flow rates are read in litres") {
  CHECK(as_litres(9.41e-3) == "9.41 L");
  CHECK(as_litres(0.1) == "100 L");
  CHECK(as_litres(1.234) == "1234 L");
  CHECK(as_litres(3.3e-5) == "0.0330 L");
  CHECK(as_litres(0) == "0.00 L");
  CHECK(as_litres_per_minute(2.5e-5) == "1.50 L/min");
}

TEST_CASE("small volumes are read in cubic centimetres") {
  CHECK(as_cubic_centimetres(1.2346e-5) == "12.3 cm3");
  CHECK(as_cubic_centimetres(4e-9) == "0.00400 cm3");
}

TEST_CASE("lengths are read in millimetres") {
  CHECK(as_millimetres(0.008) == "8.0 mm");
  CHECK(as_millimetres(0.412) == "412 mm");
  CHECK(as_millimetres(-0.00001) == "0.0 mm");
}

TEST_CASE("a number that is none is called unknown") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double infinity = std::numeric_limits<double>::infinity();
  CHECK(as_minutes(nan) == "unknown");
  CHECK(as_bar(infinity) == "unknown");
  CHECK(as_litres(nan) == "unknown");
  CHECK(as_litres_per_minute(-infinity) == "unknown");
  CHECK(as_millimetres(nan) == "unknown");
  CHECK(as_rough_minutes(infinity) == "unknown");
  CHECK(as_kilonewtons(nan) == "unknown");
  CHECK(as_cubic_centimetres(nan) == "unknown");
  CHECK(as_litres(1e308) == "unknown");
}
