// Ranges of single values: outside them an error, or a warning that the unit may be a slip.
#pragma once

#include "io/findings.hpp"
#include "io/raw_case.hpp"

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

/// found: the value as it stands, in quotes if it is a text.
void check_number(double value, int line, const std::string& key, const std::string& found,
                  const Limits& limits, Findings& findings);

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
