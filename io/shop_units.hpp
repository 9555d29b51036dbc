// Numbers as they are said in the shop: minutes, bar, litres, millimetres. For people to read;
// files keep SI. A value that is not finite becomes "unknown".
#pragma once

#include <string>

namespace tidemark {

/// A time [s] as minutes and seconds: "12:34 min"; tenths below ten seconds ("0:04.2 min"), plain
/// seconds below a tenth ("0.0312 s").
std::string as_minutes(double seconds);

/// A predicted time [s] to two significant digits, more than which it cannot keep: "6:30 min".
std::string as_rough_minutes(double seconds);

/// A gauge pressure [Pa] in bar with two decimals, more for a small one: "1.20 bar", "0.0041 bar".
std::string as_bar(double pascals);

/// A volume [m3] in litres, three significant digits: "9.41 L".
std::string as_litres(double cubic_metres);

/// "12.3 cm3", three significant digits.
std::string as_cubic_centimetres(double cubic_metres);

/// A flow rate [m3/s] in litres per minute, three significant digits: "1.50 L/min".
std::string as_litres_per_minute(double cubic_metres_per_second);

/// A force [N] in kilonewtons, three significant digits: "12.3 kN".
std::string as_kilonewtons(double newtons);

/// A viscosity [Pa s] in mPa.s, from 1 Pa.s on in Pa.s, three significant digits: "180 mPa.s".
std::string as_viscosity(double pascal_seconds);

/// A length [m] in millimetres, to a tenth below 100 mm: "8.0 mm", "412 mm".
std::string as_millimetres(double metres);

} // namespace tidemark
