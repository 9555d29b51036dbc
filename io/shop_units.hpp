// Numbers as they are said in the shop: minutes, bar, litres, millimetres. For people to read;
// files keep SI. A value that is not finite becomes "unknown".
#pragma once

#include <string>

namespace tidemark {

/// A number to three significant digits, zeros at its end too: "0.490"; whole from 100 on. Powers
/// of ten only outside 1e-4 to 1e7.
std::string three_digits(double value);

/// Times [s] from which hours are told, and days: of a minute in hours nobody needs the seconds.
inline constexpr double hours_from = 3 * 3600.0;
inline constexpr double days_from = 3 * 86400.0;

/// A time [s], given or predicted, as minutes and seconds, so that one moment reads the same
/// everywhere and sums come out: "12:34 min"; below a minute "31 s", tenths below ten seconds
/// ("4.2 s"), three digits below a tenth ("0.0312 s"). From hours_from on "40 h 18 min", from
/// days_from on "5 days 7 h".
std::string as_minutes(double seconds);

/// A gauge pressure [Pa] in bar with two decimals, more for a small one: "1.20 bar", "0.0041 bar".
/// Below 5 Pa it is "0.00 bar".
std::string as_bar(double pascals);
/// Of a limit that must not be passed: never more than it is, to 0.001 bar.
std::string as_bar_at_most(double pascals);

/// A volume [m3] in litres, under a hundredth of one in millilitres, three significant digits:
/// "9.41 L", "0.301 mL".
std::string as_litres(double cubic_metres);

/// A volume [m3] in litres, below one in millilitres, three significant digits: "4.57 L", "157 mL".
std::string as_small_litres(double cubic_metres);

/// A mass [kg], three significant digits: "0.490 kg".
std::string as_kilograms(double kilograms);

/// The same in grams below a kilogram: "4.93 kg", "98.6 g".
std::string as_small_kilograms(double kilograms);

/// An area [m2], three significant digits: "2.50 m2", a permeability "3.00e-09 m2".
std::string as_square_metres(double square_metres);

/// A flow rate [m3/s] in litres per minute, three significant digits: "1.50 L/min".
std::string as_litres_per_minute(double cubic_metres_per_second);

/// A force [N] in kilonewtons, three significant digits: "12.3 kN".
std::string as_kilonewtons(double newtons);

/// A viscosity [Pa s] in mPa.s, from 1 Pa.s on in Pa.s, three significant digits: "180 mPa.s".
std::string as_viscosity(double pascal_seconds);

/// A length [m] in millimetres, to a tenth below 100 mm; from 10 m on in metres to a hundredth:
/// "8.0 mm", "412 mm", "15.05 m".
std::string as_millimetres(double metres);

} // namespace tidemark
