#include "io/value_scale.hpp"

#include "io/number_text.hpp"
#include "io/shop_units.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

namespace tidemark {

namespace {

constexpr double most_steps = 10;

/// The least of 1, 2 and 5 times a power of ten that is no less.
double round_step(double least) {
  const double power = std::pow(10, std::floor(std::log10(least)));
  for (const double times : {1.0, 2.0, 5.0}) {
    if (times * power >= least * (1 - 1e-9)) {
      return times * power;
    }
  }
  return 10 * power;
}

/// The same as clocks count, for a minute and more in all [s].
double round_time_step(double least) {
  constexpr std::array<double, 9> steps = {10, 15, 20, 30, 60, 120, 300, 600, 1200};
  for (const double step : steps) {
    if (step >= least) {
      return step;
    }
  }
  return 1800 * std::pow(2, std::max(0.0, std::ceil(std::log2(least / 1800))));
}

/// As many decimals as the step has: "0.25", never "0.2500001".
std::string tick_text(double value, double step) {
  const int decimals = std::max(0, -static_cast<int>(std::floor(std::log10(step) + 1e-9)));
  std::array<char, 400> text{};
  std::snprintf(text.data(), text.size(), "%.*f", decimals, value);
  return text.data();
}

/// A time in sixtieths [s] and how many there are, "4:51" of 291 s in seconds.
std::string clock_text(double seconds, double sixtieth) {
  const double whole = std::round(seconds / sixtieth);
  const double large = std::floor(whole / 60);
  std::array<char, 400> text{};
  std::snprintf(text.data(), text.size(), "%.0f:%02.0f", large, whole - 60 * large);
  return text.data();
}

/// In one unit [s] with decimals.
ValueScale decimal_scale(const char* name, double unit, double high) {
  const double step = round_step(high / unit / most_steps);
  ValueScale scale{name, 0, high, {}};
  for (int k = 0; k * step < high / unit - 0.4 * step; ++k) {
    scale.ticks.push_back({k * step * unit, tick_text(k * step, step)});
  }
  scale.ticks.push_back({high, tick_text(high / unit, step / 10), false});
  return scale;
}

} // namespace

ValueScale time_scale(double end) {
  const double high = end > 0 ? end : 1;
  if (end < 60 || end >= days_from) {
    return end < 60 ? decimal_scale("s", 1, high) : decimal_scale("days", 86400, high);
  }
  const bool in_hours = end >= hours_from;
  const double sixtieth = in_hours ? 60 : 1;
  const double step = round_time_step(high / most_steps);
  ValueScale scale{in_hours ? "h:min" : "min:s", 0, high, {}};
  for (int k = 0; k * step < high - 0.4 * step; ++k) {
    scale.ticks.push_back({k * step, clock_text(k * step, sixtieth)});
  }
  scale.ticks.push_back({high, clock_text(high, sixtieth), false});
  return scale;
}

ValueScale pressure_scale(double low, double high) {
  constexpr double bar = 1e5;
  // Where all is nearly alike, the hundredth part of it: more would be no digits of a prediction.
  const double least = std::max(0.01 * std::max(std::abs(low), std::abs(high)), 1.0);
  const double step = round_step(std::max(high - low, least) / bar / most_steps);
  const double first = std::floor(low / bar / step + 1e-6);
  const double last = std::max(std::ceil(high / bar / step - 1e-6), first + 2);
  ValueScale scale{"bar", first * step * bar, last * step * bar, {}};
  for (double k = first; k <= last; ++k) {
    const double value = k == 0 ? 0 : k * step; // never "-0.0"
    scale.ticks.push_back({value * bar, tick_text(value, step)});
  }
  return scale;
}

} // namespace tidemark
