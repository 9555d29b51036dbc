#include "io/terminal.hpp"
#include "tests/support/says.hpp"

#include "io/spoken.hpp"
#include "tests/support/sample_run.hpp"

#include <doctest/doctest.h>

#include <limits>
#include <sstream>

using namespace tidemark;

TEST_CASE("per cent: rounded down, so that 100 % is said of nothing less") {
  CHECK(as_percent(1) == "100 %");
  CHECK(as_percent(0.99999) == "99.99 %"); // what is missing of all is not rounded away
  CHECK(as_percent(0.99978) == "99.98 %");
  CHECK(as_percent(0.9975) == "99.8 %");
  CHECK(as_percent(0.86975) == "87.0 %");
  CHECK(as_percent(0.8375) == "83.8 %");
  CHECK(as_percent(0.0567) == "5.7 %");
  CHECK(as_percent(1.25) == "125.0 %");
  CHECK(as_percent(1e-5) == "under 0.1 %");
  CHECK(as_percent(0) == "0 %");
  CHECK(as_percent(std::numeric_limits<double>::quiet_NaN()) == "unknown");
}

TEST_CASE("check: values, mesh, gates and vents") {
  Case input = sample_case();
  input.warnings = {"Two pieces."};
  const std::string text = check_text(input);
  CHECK(says(text, "  resin.viscosity  200 mPa.s    given\n"));
  CHECK(says(text, "  ambient          1013.25 hPa  default\n"));
  CHECK(says(text, "Mesh: 6 nodes, 2 triangles, 1 quadrilateral.\n"));
  // sides of 1 m and the diagonal; pores 1 m2 * 4 mm * 0.75 + 1 m2 * 2 mm * 0.5
  CHECK(says(text, "Edges from 1000 mm to 1414 mm, area 2.00 m2, room for 4.00 L of resin."));
  CHECK(says(text,
             "Region core: 1.00 m2, 2.0 mm thick, fibre volume fraction 50.0 %, room for 1.00 L"));
  CHECK(says(text, "Gate G1: 2 nodes around x 0.0 mm, y 0.0 mm, z 0.0 mm.\n"));
  CHECK(says(text, "Vent V1: 1 node at x 2000 mm, y 1000 mm, z 0.0 mm, -0.50 bar.\n"));
  CHECK(says(text, "Warning: Two pieces.\n"));
  CHECK(says(text, "The case can be computed; 1 warning.\n"));
}

TEST_CASE("check: least, mean and largest of a region that differs") {
  const Case input = case_that_varies();
  const std::string text = check_text(input);
  CHECK(says(text,
             "Region skin: 1.00 m2, 4.0 mm thick, fibre volume fraction 25.0 %, room for 3.00 L"));
  CHECK(says(text,
             "Region core: 1.00 m2, 1.0 mm to 3.0 mm (mean 2.0 mm) thick, fibre volume fraction "
             "40.0 % to 60.0 % (mean 50.0 %), room for 1.00 L of resin.\n"
             "    Its cloth is sheared by up to 28.6 deg, at x 1333 mm, y 667 mm, z 0.0 mm.\n"));
}

TEST_CASE("progress: the time left follows from the pace of the latest steps") {
  PaceEstimate pace;
  CHECK(!pace.time_left());
  pace.add(1, 0.1);
  CHECK(!pace.time_left());
  pace.add(2, 0.2);
  REQUIRE(pace.time_left());
  CHECK(*pace.time_left() == doctest::Approx(8)); // 0.1 a second, 0.8 to go
  for (int step = 1; step <= 10; ++step) {
    pace.add(2 + 2.0 * step,
             0.2 + 0.01 * step); // slower: 0.005 a second; the old pace is forgotten
  }
  CHECK(*pace.time_left() == doctest::Approx(0.7 / 0.005));
}

TEST_CASE("progress: the words") {
  CHECK(progress_text(0.42, 200, 12.2) == "42.0 % filled at 3:20 min, about 12 s left");
  CHECK(progress_text(0.42, 200, 125.0) == "42.0 % filled at 3:20 min, about 2:05 min left");
  CHECK(progress_text(0.42, 200, std::nullopt) == "42.0 % filled at 3:20 min");
}

TEST_CASE("progress: one line, wiped at the end") {
  std::ostringstream stream;
  {
    ProgressLine line(stream);
    line.after_step({200, 0.42, 0, 0, {}, {}});
    line.after_step({201, 0.43, 0, 0, {}, {}}); // too soon to be shown
  }
  const std::string words = "42.0 % filled at 3:20 min";
  CHECK(stream.str() == "\r" + words + "\r" + std::string(words.size(), ' ') + "\r");
}
