#include "io/value_range.hpp"

#include "io/raw_lookup.hpp"
#include "io/wording.hpp"

#include <algorithm>

namespace tidemark {

namespace {

constexpr Limits pressure_limits{
    -1e9,
    1e9,
    -1e9,
    1e7,
    "a gauge pressure of at most 1e4 bar",
    "up to 100 bar are usual; is the unit right (1 MPa = 10 bar, 100 kPa = 1 bar)?"};

/// Of a list one value is spoken of, all going by the same text: the first that is wrong, or else
/// the first that is unusual.
void check_all(const Given<std::vector<double>>& given, const std::string& key,
               const std::string& found, const Limits& limits, Findings& findings) {
  const auto outside = [&](double low, double high) {
    return std::ranges::find_if(given.value,
                                [=](double value) { return !(value >= low && value <= high); });
  };
  const auto wrong = outside(limits.low, limits.high);
  const auto unusual = outside(limits.usual_low, limits.usual_high);
  const auto spoken_of = wrong == given.value.end() ? unusual : wrong;
  if (spoken_of != given.value.end()) {
    check_number(*spoken_of, given.line, key, found, limits, findings);
  }
}

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

std::string found_list(const std::string& text) {
  return text.starts_with('[') ? text : quoted_text(text);
}

void check_ranges(const Maybe<std::vector<double>>& given, const std::string& key,
                  const Limits& limits, Findings& findings) {
  if (given) {
    check_all(*given, key, found_list(given->text), limits, findings);
  }
}

void check_numbers(const Maybe<std::vector<double>>& given, const std::string& key,
                   const Limits& limits, Findings& findings) {
  if (given) {
    check_all(*given, key, given->text, limits, findings);
  }
}

void check_principal_values(const Given<std::vector<double>>& given, const std::string& key,
                            Findings& findings) {
  const std::string found = found_list(given.text);
  check_ranges(given, key, permeability_limits, findings);
  if (given.value.size() < 2 || !(given.value[0] > 0) || !(given.value[1] > 0)) {
    return;
  }
  if (given.value[1] > given.value[0]) {
    add_warning(findings, given.line, key,
                "found " + found +
                    " with K2 above K1: by convention K1 is the larger; the values "
                    "are used as given");
  }
  const auto [small, large] = std::minmax(given.value[0], given.value[1]);
  if (large > 1e4 * small) {
    add_warning(findings, given.line, key,
                "found " + found +
                    " with a ratio above 1e4, which is unusual: are both units right?");
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
