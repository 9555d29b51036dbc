#include "io/shop_units.hpp"

#include <array>
#include <cmath>
#include <cstdio>

namespace tidemark {

namespace {

/// A number with a fixed count of decimals, without a minus sign before a zero.
std::string fixed(double value, int decimals) {
  std::array<char, 400> text{}; // the longest double has 309 digits before the point
  std::snprintf(text.data(), text.size(), "%.*f", decimals, value);
  const std::string result = text.data();
  const bool is_zero = result.find_first_of("123456789") == std::string::npos;
  return is_zero && result.front() == '-' ? result.substr(1) : result;
}

/// The value, or 0 if it is so little that only rounding can have left it.
double without_rounding(double value, double nothing) {
  return std::abs(value) < nothing ? 0 : value;
}

constexpr double no_volume = 1e-13; // [m3]
constexpr double no_force = 1e-4;   // [N]

const char* const unknown = "unknown";

/// Two numbers, the second so often in one of the first: "40 h 18 min".
std::string in_two_units(double value, double ratio, const char* large, const char* small) {
  const double rounded = std::round(value);
  const double whole = std::floor(rounded / ratio);
  return fixed(whole, 0) + large + fixed(rounded - ratio * whole, 0) + small;
}

std::string long_time(double seconds) {
  constexpr double hour = 3600;
  constexpr double many_days = 1e5; // beyond it hours mean nothing, and digits run out
  const double days = seconds / (24 * hour);
  return std::round(seconds / 60) * 60 < days_from ? in_two_units(seconds / 60, 60, " h ", " min")
         : days < many_days ? in_two_units(seconds / hour, 24, " days ", " h")
                            : three_digits(days) + " days";
}

} // namespace

std::string three_digits(double value) {
  const double size = std::abs(value);
  if (size == 0 || (size >= 1e-4 && size < 1e7)) {
    const int before_point = size == 0 ? 1 : static_cast<int>(std::floor(std::log10(size))) + 1;
    return fixed(value, before_point >= 3 ? 0 : 3 - before_point);
  }
  std::array<char, 40> text{};
  std::snprintf(text.data(), text.size(), "%.2e", value);
  return text.data();
}

std::string as_minutes(double seconds) {
  if (!std::isfinite(seconds)) {
    return unknown;
  }
  const double size = std::abs(seconds);
  if (size > 0 && size < 0.1) {
    return three_digits(seconds) + " s";
  }
  const std::string sign = seconds < 0 ? "-" : "";
  // Round first, so that 59.96 s becomes 1:00 min and not 60 s.
  const double rounded = std::round(size);
  if (rounded < 60) {
    return sign + fixed(size, size > 0 && size < 9.95 ? 1 : 0) + " s";
  }
  if (rounded >= hours_from) {
    return sign + long_time(size);
  }
  const double minutes = std::floor(rounded / 60);
  const double rest = rounded - 60 * minutes;
  const std::string zero = rest < 10 ? "0" : "";
  return sign + fixed(minutes, 0) + ":" + zero + fixed(rest, 0) + " min";
}

std::string as_bar(double pascals) {
  if (!std::isfinite(pascals)) {
    return unknown;
  }
  const double bar = pascals / 1e5;
  const double size = std::abs(bar);
  constexpr double nothing = 5e-5; // no gauge shows it
  if (size >= nothing && size < 0.1) {
    std::string digits = fixed(bar, 4);
    if (digits.ends_with("00")) { // as the others
      digits.resize(digits.size() - 2);
    }
    return digits + " bar";
  }
  return fixed(size < nothing ? 0 : bar, 2) + " bar";
}

std::string as_bar_at_most(double pascals) {
  if (!std::isfinite(pascals)) {
    return unknown;
  }
  constexpr double step = 100; // 0.001 bar
  const double to_rounding = 1e-9 * std::abs(pascals) / step;
  return fixed(1e-3 * std::floor(pascals / step + to_rounding), 3) + " bar";
}

std::string as_litres(double cubic_metres) {
  const double litres = without_rounding(cubic_metres, no_volume) * 1e3;
  if (!std::isfinite(litres)) {
    return unknown;
  }
  const double size = std::abs(litres);
  return size > 0 && size < 0.01 ? three_digits(1e3 * litres) + " mL" : three_digits(litres) + " L";
}

std::string as_small_litres(double cubic_metres) {
  if (!std::isfinite(cubic_metres)) {
    return unknown;
  }
  return cubic_metres < 1e-3 ? three_digits(1e6 * without_rounding(cubic_metres, no_volume)) + " mL"
                             : as_litres(cubic_metres);
}

std::string as_kilograms(double kilograms) {
  return std::isfinite(kilograms) ? three_digits(kilograms) + " kg" : unknown;
}

std::string as_small_kilograms(double kilograms) {
  if (!std::isfinite(kilograms)) {
    return unknown;
  }
  return kilograms < 1 ? three_digits(1e3 * kilograms) + " g" : as_kilograms(kilograms);
}

std::string as_square_metres(double square_metres) {
  return std::isfinite(square_metres) ? three_digits(square_metres) + " m2" : unknown;
}

std::string as_litres_per_minute(double cubic_metres_per_second) {
  const double litres = cubic_metres_per_second * 6e4;
  return std::isfinite(litres) ? three_digits(litres) + " L/min" : unknown;
}

std::string as_kilonewtons(double newtons) {
  return std::isfinite(newtons) ? three_digits(without_rounding(newtons, no_force) / 1e3) + " kN"
                                : unknown;
}

std::string as_viscosity(double pascal_seconds) {
  if (!std::isfinite(pascal_seconds)) {
    return unknown;
  }
  return pascal_seconds < 0.9995 ? three_digits(1e3 * pascal_seconds) + " mPa.s"
                                 : three_digits(pascal_seconds) + " Pa.s";
}

std::string as_millimetres(double metres) {
  const double millimetres = metres * 1e3;
  if (!std::isfinite(millimetres)) {
    return unknown;
  }
  if (std::abs(millimetres) >= 9999.5) {
    return fixed(metres, 2) + " m";
  }
  return fixed(millimetres, std::abs(millimetres) < 99.95 ? 1 : 0) + " mm";
}

} // namespace tidemark
