// The scale of a colour bar or an axis: its ends and round values between them, in shop units.
#pragma once

#include <string>
#include <vector>

namespace tidemark {

struct Tick {
  double value; // SI
  std::string text;
  bool is_round = true; // false: the end of the scale itself, told exactly
};

struct ValueScale {
  std::string unit;        // "s", "min:s", "h:min", "days", "bar"
  double low;              // SI
  double high;             // SI, > low
  std::vector<Tick> ticks; // ascending; between 3 and 13 of them
};

/// From the start to a time [s] >= 0: in seconds up to a minute, then in minutes and seconds, in
/// hours and minutes or in days where such times are told so, at steps such as 5 s, 30 s, 2 min, 4
/// h. The end is among the ticks.
ValueScale time_scale(double end);

/// From one gauge pressure to another [Pa], carried on to round values, in bar.
ValueScale pressure_scale(double low, double high);

} // namespace tidemark
