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
  CHECK(as_minutes(10799.4) == "179:59 min");
  CHECK(as_minutes(10799.6) == "3 h 0 min");
  CHECK(as_minutes(145065) == "40 h 18 min"); // 2417 min 45 s
  CHECK(as_minutes(-145065) == "-40 h 18 min");
  CHECK(as_minutes(259169) == "71 h 59 min");
  CHECK(as_minutes(259171) == "3 days 0 h");
  CHECK(as_minutes(457200) == "5 days 7 h");
  CHECK(as_minutes(86400 * 12.99) == "13 days 0 h");
  CHECK(as_minutes(86400 * 1.234e9) == "1.23e+09 days");
  CHECK(as_minutes(0) == "0 s");
  CHECK(as_minutes(0.0312) == "0.0312 s");
  CHECK(as_minutes(3e-7) == "3.00e-07 s");
  CHECK(as_minutes(-75) == "-1:15 min");
}

TEST_CASE("what is computed keeps its zeros") {
  CHECK(three_digits(0.49) == "0.490");
  CHECK(three_digits(3e-9) == "3.00e-09");
  CHECK(three_digits(1234.5) == "1234");
  CHECK(three_digits(-2) == "-2.00");
}

TEST_CASE("masses and areas") {
  CHECK(as_kilograms(0.4901) == "0.490 kg");
  CHECK(as_kilograms(1.2) == "1.20 kg");
  CHECK(as_small_kilograms(0.4901) == "490 g");
  CHECK(as_small_kilograms(4.934) == "4.93 kg");
  CHECK(as_small_litres(1.57e-4) == "157 mL");
  CHECK(as_small_litres(4.57e-3) == "4.57 L");
  CHECK(as_square_metres(2.5) == "2.50 m2");
}

TEST_CASE("forces are read in kilonewtons") {
  CHECK(as_kilonewtons(12345) == "12.3 kN");
  CHECK(as_kilonewtons(-850) == "-0.850 kN");
  CHECK(as_kilonewtons(0) == "0.00 kN");
  CHECK(as_kilonewtons(-1e-9) == "0.00 kN"); // what rounding leaves
}

TEST_CASE("pressures are read in bar") {
  CHECK(as_bar(1.2e5) == "1.20 bar");
  CHECK(as_bar(-5e4) == "-0.50 bar");
  CHECK(as_bar(410) == "0.0041 bar");
  CHECK(as_bar(10) == "0.0001 bar");
  CHECK(as_bar(-4.69) == "0.00 bar"); // what rounding leaves
  CHECK(as_bar(-8.82e-9) == "0.00 bar");
  CHECK(as_bar(0) == "0.00 bar");
  CHECK(as_bar(-5000) == "-0.05 bar");
  CHECK(as_bar(5130) == "0.0513 bar");
  CHECK(as_bar_at_most(20975) == "0.209 bar"); // a limit: never more than it is
  CHECK(as_bar_at_most(12640) == "0.126 bar");
  CHECK(as_bar_at_most(21000) == "0.210 bar");
  CHECK(as_bar_at_most(-20975) == "-0.210 bar");
  CHECK(as_bar(-0.0) == "0.00 bar");
}

TEST_CASE("volumes and flow rates are read in litres") {
  CHECK(as_litres(9.41e-3) == "9.41 L");
  CHECK(as_litres(0.1) == "100 L");
  CHECK(as_litres(1.234) == "1234 L");
  CHECK(as_litres(3.3e-5) == "0.0330 L");
  CHECK(as_litres(1e-5) == "0.0100 L");
  CHECK(as_litres(3.01e-7) == "0.301 mL");
  CHECK(as_litres(0) == "0.00 L");
  CHECK(as_litres(-1e-17) == "0.00 L"); // what rounding leaves
  CHECK(as_litres_per_minute(2.5e-5) == "1.50 L/min");
}

TEST_CASE("small volumes are read in millilitres") {
  CHECK(as_small_litres(1.2346e-5) == "12.3 mL");
  CHECK(as_small_litres(4e-9) == "0.00400 mL");
  CHECK(as_small_litres(1e-3) == "1.00 L");
  CHECK(as_small_litres(1.57e-17) == "0.00 mL"); // what rounding leaves
}

TEST_CASE("lengths are read in millimetres") {
  CHECK(as_millimetres(0.008) == "8.0 mm");
  CHECK(as_millimetres(0.412) == "412 mm");
  CHECK(as_millimetres(-0.00001) == "0.0 mm");
  CHECK(as_millimetres(9.9994) == "9999 mm");
  CHECK(as_millimetres(15.054) == "15.05 m");
  CHECK(as_millimetres(-15.054) == "-15.05 m");
}

TEST_CASE("a number that is none is called unknown") {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double infinity = std::numeric_limits<double>::infinity();
  CHECK(as_minutes(nan) == "unknown");
  CHECK(as_bar(infinity) == "unknown");
  CHECK(as_litres(nan) == "unknown");
  CHECK(as_litres_per_minute(-infinity) == "unknown");
  CHECK(as_millimetres(nan) == "unknown");
  CHECK(as_kilograms(nan) == "unknown");
  CHECK(as_small_kilograms(infinity) == "unknown");
  CHECK(as_square_metres(nan) == "unknown");
  CHECK(as_kilonewtons(nan) == "unknown");
  CHECK(as_litres(1e308) == "unknown");
}
