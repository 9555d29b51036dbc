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

std::string clock_text(double seconds) {
  const double whole = std::round(seconds);
  const double minutes = std::floor(whole / 60);
  std::array<char, 400> text{};
  std::snprintf(text.data(), text.size(), "%.0f:%02.0f", minutes, whole - 60 * minutes);
  return text.data();
}

} // namespace

ValueScale time_scale(double end) {
  const bool in_seconds = end < 60;
  const double high = end > 0 ? end : 1;
  const double step =
      in_seconds ? round_step(high / most_steps) : round_time_step(high / most_steps);
  ValueScale scale{in_seconds ? "s" : "min:s", 0, high, {}};
  for (int k = 0; k * step < high - 0.4 * step; ++k) {
    scale.ticks.push_back(
        {k * step, in_seconds ? tick_text(k * step, step) : clock_text(k * step)});
  }
  scale.ticks.push_back({high, in_seconds ? tick_text(high, step / 10) : clock_text(high), false});
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
