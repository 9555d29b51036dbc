#include "io/value_range.hpp"

#include "io/raw_lookup.hpp"
#include "io/wording.hpp"

namespace tidemark {

namespace {

constexpr Limits pressure_limits{
    -1e9,
    1e9,
    -1e9,
    1e7,
    "a gauge pressure of at most 1e4 bar",
    "up to 100 bar are usual; is the unit right (1 MPa = 10 bar, 100 kPa = 1 bar)?"};
} // namespace

void check_number(double value, int line, const std::string& key, const std::string& found,
                  const Limits& limits, Findings& findings) {
  if (!(value >= limits.low && value <= limits.high)) {
    const bool may_be_a_slip = value > limits.high && limits.advice[0] != '\0';
    add_error(findings, line, key,
              "found " + found + ", expected " + limits.expected +
                  (may_be_a_slip ? std::string("; ") + limits.advice : ""));
  } else if (value < limits.usual_low || value > limits.usual_high) {
    add_warning(findings, line, key, "found " + found + ", which is unusual: " + limits.advice);
  }
}

void check_range(const Maybe<double>& given, const std::string& key, const Limits& limits,
                 Findings& findings) {
  if (given) {
    check_number(given->value, given->line, key, quoted_text(given->text), limits, findings);
  }
}

double ambient_of(const RawCase& raw) {
  return raw.ambient && raw.ambient->value > 0 ? raw.ambient->value : default_ambient;
}

void check_pressure(const RawCase& raw, const Maybe<double>& given, const std::string& key,
                    Findings& findings) {
  const double vacuum = -ambient_of(raw);
  const bool below_vacuum = given && given->value < vacuum * (1 + 1e-9);
  if (below_vacuum) {
    add_error(findings, given->line, key,
              "found " + quoted_text(given->text) +
                  ", expected a gauge pressure not below vacuum (" + shortest(vacuum / 1e5) +
                  " bar gauge at this ambient)");
  } else {
    check_range(given, key, pressure_limits, findings);
  }
}

void check_direction(const Maybe<Vector3>& given, const std::string& key, Findings& findings) {
  if (given && given->value.isZero(0)) {
    add_error(findings, given->line, key,
              "found " + given->text + ", expected a direction that is not zero");
  }
}

} // namespace tidemark
