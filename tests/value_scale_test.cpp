#include "io/value_scale.hpp"

#include <doctest/doctest.h>

#include <string>
#include <vector>

using namespace tidemark;

namespace {

std::vector<std::string> texts_of(const ValueScale& scale) {
  std::vector<std::string> texts;
  for (const Tick& tick : scale.ticks) {
    texts.push_back(tick.text);
  }
  return texts;
}

using Texts = std::vector<std::string>;

} // namespace

TEST_CASE("time scales count as clocks do, and tell the end") {
  const ValueScale minutes = time_scale(291);
  CHECK(minutes.unit == "min:s");
  CHECK(minutes.low == 0);
  CHECK(minutes.high == 291);
  CHECK(texts_of(minutes) == Texts{"0:00", "0:30", "1:00", "1:30", "2:00", "2:30", "3:00", "3:30",
                                   "4:00", "4:30", "4:51"});
  CHECK(minutes.ticks[3].value == 90);
  CHECK(minutes.ticks[3].is_round);
  CHECK_FALSE(minutes.ticks.back().is_round);

  const ValueScale seconds = time_scale(43);
  CHECK(seconds.unit == "s");
  CHECK(texts_of(seconds) == Texts{"0", "5", "10", "15", "20", "25", "30", "35", "40", "43.0"});

  // A round value next to the end makes room for it.
  CHECK(texts_of(time_scale(61)) == Texts{"0:00", "0:10", "0:20", "0:30", "0:40", "0:50", "1:01"});
  CHECK(texts_of(time_scale(7200)).at(1) == "20:00");
  CHECK(texts_of(time_scale(0.5)).at(1) == "0.05");

  // Hours and days where times are told in them: 145 065 s are 40 h 17 min 45 s, 5 days 7 h are
  // 5.29 days.
  const ValueScale hours = time_scale(145065);
  CHECK(hours.unit == "h:min");
  CHECK(texts_of(hours) == Texts{"0:00", "8:00", "16:00", "24:00", "32:00", "40:18"});
  CHECK(hours.ticks[1].value == 28800);
  const ValueScale days = time_scale(457200);
  CHECK(days.unit == "days");
  CHECK(texts_of(days) == Texts{"0", "1", "2", "3", "4", "5.3"});
  CHECK(days.ticks[2].value == 172800);
}

TEST_CASE("pressure scales are in bar and end at round values") {
  const ValueScale cap = pressure_scale(-0.43e5, 0.98e5);
  CHECK(cap.unit == "bar");
  CHECK(texts_of(cap) == Texts{"-0.6", "-0.4", "-0.2", "0.0", "0.2", "0.4", "0.6", "0.8", "1.0"});
  CHECK(cap.low == doctest::Approx(-0.6e5));
  CHECK(cap.high == doctest::Approx(1e5));
  CHECK(texts_of(pressure_scale(0, 1e5)) ==
        Texts{"0.0", "0.1", "0.2", "0.3", "0.4", "0.5", "0.6", "0.7", "0.8", "0.9", "1.0"});
}

TEST_CASE("where nothing differs there is a scale all the same, without digits nobody needs") {
  for (const ValueScale& scale :
       {pressure_scale(1e5, 1e5), pressure_scale(0, 0), pressure_scale(0.99965e5, 1e5),
        time_scale(0), time_scale(1e-4), time_scale(1e6)}) {
    CHECK(scale.high > scale.low);
    CHECK(scale.ticks.size() >= 2);
    CHECK(scale.ticks.size() <= 13);
    for (const Tick& tick : scale.ticks) {
      CHECK(tick.value >= scale.low * (1 - 1e-12) - 1e-12);
      CHECK(tick.value <= scale.high * (1 + 1e-12) + 1e-12);
      CHECK(tick.text.size() <= 8);
    }
  }
  CHECK(texts_of(pressure_scale(0.99965e5, 1e5)) == Texts{"0.999", "1.000", "1.001"});
}
