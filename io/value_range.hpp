// Ranges of single values: outside them an error, or a warning that the unit may be a slip.
#pragma once

#include "io/findings.hpp"
#include "io/raw_case.hpp"

#include <numbers>
#include <string>

namespace tidemark {

/// Outside low to high nothing can be computed (numbers overflow); outside usual_low to usual_high
/// a slip of the unit is likelier than the value. The usual ranges are the trade's as remembered:
/// common practice, no source.
struct Limits {
  double low;
  double high;
  double usual_low;
  double usual_high;
  const char* expected;
  const char* advice;
};

/// Of a resin or a mould.
inline constexpr Limits temperature_limits{
    1e-3,
    1000,
    273.14,
    473.16,
    "a temperature above absolute zero (up to 1000 K)",
    "0 degC to 200 degC are usual; is the unit right (degC, K, degF)?"};

// What more than one kind of table has.
inline constexpr Limits thickness_limits{
    1e-7,
    10,
    1e-4,
    0.2,
    "a thickness above 0 (from 1e-7 m to 10 m)",
    "0.1 mm to 200 mm are usual; is the unit right (mm, cm, m)?"};
inline constexpr Limits permeability_limits{
    1e-25,
    1,
    1e-15,
    1e-4,
    "a permeability above 0 (from 1e-25 m2 to 1 m2)",
    "1e-15 m2 to 1e-4 m2 are usual; is the unit right (1 mm2 = 1e-6 m2, 1 darcy = 1e-12 m2)?"};
inline constexpr Limits angle_limits{-1e4,
                                     1e4,
                                     -2 * std::numbers::pi * 1.001,
                                     2 * std::numbers::pi * 1.001,
                                     "an angle of at most 1e4 rad",
                                     "up to 360 deg are usual; is the unit right (deg, rad)?"};
inline constexpr Limits porosity_limits{
    1e-6,
    1,
    0.1,
    1,
    "a number above 0 and at most 1 (from 1e-6)",
    "0.1 to 1 are usual; porosity is the part of the cavity that fibres do not take"};

/// found: the value as it stands, in quotes if it is a text.
void check_number(double value, int line, const std::string& key, const std::string& found,
                  const Limits& limits, Findings& findings);

/// A list, or one value without brackets, as it stands in a message.
std::string found_list(const std::string& text);

/// Each value of a list, or of the one value that stands for it.
void check_ranges(const Maybe<std::vector<double>>& given, const std::string& key,
                  const Limits& limits, Findings& findings);

/// The same for bare numbers, which stand in a message without quotes.
void check_numbers(const Maybe<std::vector<double>>& given, const std::string& key,
                   const Limits& limits, Findings& findings);

/// K1 and K2, or one value for both.
void check_principal_values(const Given<std::vector<double>>& given, const std::string& key,
                            Findings& findings);

/// Nothing if the value is not given.
void check_range(const Maybe<double>& given, const std::string& key, const Limits& limits,
                 Findings& findings);

/// Not below vacuum, not absurdly high.
void check_pressure(const RawCase& raw, const Maybe<double>& given, const std::string& key,
                    Findings& findings);

/// An error if all three numbers are zero.
void check_direction(const Maybe<Vector3>& given, const std::string& key, Findings& findings);

/// Absolute pressure of the atmosphere: the default if it is not given, or so wrong that nothing
/// should be compared with it [Pa].
double ambient_of(const RawCase& raw);

} // namespace tidemark
