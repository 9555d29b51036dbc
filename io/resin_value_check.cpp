#include "io/resin_value_check.hpp"

#include "io/number_text.hpp"
#include "io/raw_lookup.hpp"
#include "io/shop_units.hpp"
#include "io/value_range.hpp"
#include "io/wording.hpp"
#include "solver/interpolation.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

namespace tidemark {

namespace {

constexpr Limits viscosity_limits{1e-7,
                                  1e7,
                                  1e-4,
                                  1e3,
                                  "a viscosity above 0 (from 1e-7 Pa.s to 1e7 Pa.s)",
                                  "0.1 mPa.s to 1000 Pa.s are usual; is the unit right (mPa.s is a "
                                  "thousandth, MPa.s a million)?"};
/// Of the resin as it is injected; data may go on to the gel.
constexpr Limits injected_viscosity_limits{
    1e-7,
    1e7,
    1e-3,
    10,
    "a viscosity above 0 (from 1e-7 Pa.s to 1e7 Pa.s)",
    "1 mPa.s to 10 Pa.s are usual of a resin that is injected; is the unit right (mPa.s is a "
    "thousandth, MPa.s a million)?"};
constexpr Limits density_limits{
    1,
    1e5,
    500,
    3000,
    "a density above 0 (from 1 kg/m3 to 1e5 kg/m3)",
    "500 kg/m3 to 3000 kg/m3 are usual; is the unit right (1 g/cm3 = 1000 kg/m3)?"};
constexpr Limits gel_time_limits{1e-3,
                                 1e9,
                                 10,
                                 7 * 86400.0,
                                 "a time above 0 (from 1e-3 s to 1e9 s)",
                                 "10 s to 7 days are usual; is the unit right (s, min, h)?"};
constexpr Limits age_limits{0,
                            1e9,
                            0,
                            7 * 86400.0,
                            "a time of 0 or later (up to 1e9 s)",
                            "up to 7 days are usual; is the unit right (s, min, h)?"};
constexpr Limits law_temperature_limits{
    1e-3,
    1000,
    253.14,
    523.16,
    "a temperature above absolute zero (up to 1000 K)",
    "-20 degC to 250 degC are usual; is the unit right (degC, K, degF)?"};
constexpr Limits energy_limits{1,
                               1e6,
                               5e3,
                               2e5,
                               "an activation energy above 0 (from 1 J/mol to 1000 kJ/mol)",
                               "5 kJ/mol to 200 kJ/mol are usual; is the unit right (kJ/mol)?"};
constexpr Limits rate_limits{1e-12,
                             1e6,
                             1e-8,
                             1,
                             "a rate above 0 (from 1e-12 s-1 to 1e6 s-1)",
                             "1e-8 s-1 to 1 s-1 are usual; is the unit right (s-1, min-1)?"};
constexpr Limits factor_limits{
    1e-12, 1e60, 1e-12, 1e60, "a rate above 0 (from 1e-12 s-1 to 1e60 s-1)", ""};
constexpr Limits exponent_limits{
    1e-2, 50, 0.1, 10, "a number above 0 (from 0.01 to 50)", "0.1 to 10 are usual"};
constexpr Limits cure_exponent_limits{
    -50, 50, -10, 10, "a number from -50 to 50", "-10 to 10 are usual"};
constexpr Limits conversion_limits{1e-3,
                                   0.999,
                                   0.05,
                                   0.95,
                                   "a conversion above 0 and below 1 (from 0.001 to 0.999)",
                                   "0.05 to 0.95 are usual"};
constexpr Limits catalyst_limits{1e-6,
                                 3,
                                 1e-3,
                                 1,
                                 "a share above 0 (from 0.0001 % to 300 %) by mass of the resin",
                                 "0.1 % to 100 % are usual; it is by mass of the resin"};
constexpr Limits safety_limits{
    1,
    1000,
    1,
    5,
    "a number of 1 or more (up to 1000): gel time over the age of the oldest resin",
    "1 to 5 are usual"};
constexpr Limits waste_limits{
    0, 100, 0, 1, "a share of 0 or more of what is used (up to 100)", "up to 100 % are usual"};
/// Own choice: viscosity and gel time halve over some 5 to 10 K.
constexpr double farthest = 10; // beyond the ends of a law over the temperature [K]

std::string as_celsius(double kelvin) {
  return plain_number(std::round((kelvin - 273.15) * 1e4) / 1e4) + " degC";
}

std::string as_share(double share) {
  return plain_number(100 * share) + " %";
}

/// A column of a table that must rise from each value to the next.
void check_ascending(const Maybe<std::vector<double>>& given, const std::string& key,
                     std::size_t least, std::string (*as_text)(double), Findings& findings) {
  if (!given) {
    return;
  }
  const auto at = std::ranges::adjacent_find(given->value, std::greater_equal<>());
  if (given->value.size() < least) {
    add_error(findings, given->line, key, "found a single value, expected a list of two or more");
  } else if (at != given->value.end()) {
    add_error(findings, given->line, key,
              "found " + as_text(*(at + 1)) + " after " + as_text(*at) +
                  ", expected values that rise from each to the next");
  }
}

/// A temperature outside the range of a law: a warning, or far outside an error.
void check_within(const Maybe<double>& given, const std::string& name,
                  const std::vector<double>& range, const std::string& key, Findings& findings) {
  if (!given) {
    return;
  }
  const double temperature = given->value;
  const double beyond = std::max(range.front() - temperature, temperature - range.back());
  const std::string text = "found " + quoted_text(given->text) + ", which is " +
                           plain_number(std::round(10 * beyond) / 10) + " K outside the " +
                           as_celsius(range.front()) + " to " + as_celsius(range.back()) + " of " +
                           key;
  if (beyond > farthest) {
    add_error(findings, given->line, name,
              text + ", expected a temperature within, or at most 10 K outside");
  } else if (beyond > 1e-9) {
    add_warning(findings, given->line, name, text + ": the law is carried on beyond its data");
  }
}

/// Calls take(range, key) with the range [K] of each law over the temperature and its key.
template <class Take> void for_each_range(const RawViscosityLaw& law, const Take& take) {
  if (law.valid || law.temperature) {
    take(law.valid ? law.valid->value : law.temperature->value, law.key);
  }
  for (const RawViscosityLaw& initial : law.initial_law) {
    for_each_range(initial, take);
  }
}

template <class Take> void for_each_range(const RawResin& resin, const Take& take) {
  if (resin.law) {
    for_each_range(*resin.law, take);
  }
  if (resin.gel_table && resin.gel_table->temperature) {
    take(resin.gel_table->temperature->value, resin.gel_table->key);
  }
}

/// Between values side by side in a table, from which on a unit or a digit must have slipped.
constexpr double most_apart = 100; // own choice

/// Warns, once, where a value of a table is larger than the one before it though it should be
/// smaller, or far from it. as_text: of a value; reason: why it should fall, and along what.
void check_falling(const std::vector<double>& values, int line, const std::string& key,
                   std::string (*as_text)(double), const std::string& reason, Findings& findings) {
  for (std::size_t i = 0; i + 1 < values.size(); ++i) {
    const double before = values[i];
    const double after = values[i + 1];
    if (after > before) {
      add_warning(findings, line, key,
                  "found " + as_text(after) + " after " + as_text(before) + ": " + reason +
                      "; are they in the right order, and are the units right?");
      return;
    }
    if (before > most_apart * after && after > 0) {
      add_warning(findings, line, key,
                  "found " + as_text(after) + " beside " + as_text(before) + ", more than " +
                      plain_number(most_apart) + " times apart: are the units right?");
      return;
    }
  }
}

// --- viscosity ---------------------------------------------------------------------------------

void check_table(const RawViscosityLaw& law, Findings& findings) {
  check_ascending(law.temperature, law.key + ".temperature", 2, as_celsius, findings);
  check_ascending(law.age, law.key + ".age", 2, as_minutes, findings);
  const auto& column = law.age ? law.age : law.temperature;
  if (law.viscosity && column && column->value.size() > 1 &&
      law.viscosity->value.size() != column->value.size()) {
    add_error(findings, law.viscosity->line, law.key + ".viscosity",
              "found " + std::to_string(law.viscosity->value.size()) + " values, expected " +
                  std::to_string(column->value.size()) + ", one for each " +
                  (law.age ? "age" : "temperature"));
  }
  if (law.viscosity && !law.age) {
    check_falling(law.viscosity->value, law.viscosity->line, law.key + ".viscosity", as_viscosity,
                  "resin commonly thins as it warms", findings);
  }
  if (law.age && law.age->value.front() != 0) {
    add_error(findings, law.age->line, law.key + ".age",
              "found " + found_list(law.age->text) + ", expected ages from \"0 min\" on");
  }
}

void check_law(const RawCase& raw, const RawViscosityLaw& law, Findings& findings) {
  check_ranges(law.viscosity, law.key + ".viscosity", viscosity_limits, findings);
  check_range(law.initial, law.key + ".initial", viscosity_limits, findings);
  check_ranges(law.temperature, law.key + ".temperature", law_temperature_limits, findings);
  check_ranges(law.age, law.key + ".age", age_limits, findings);
  check_range(law.at, law.key + ".at", law_temperature_limits, findings);
  check_ranges(law.valid, law.key + ".valid", law_temperature_limits, findings);
  check_range(law.activation_energy, law.key + ".activation_energy", energy_limits, findings);
  check_range(law.time_constant, law.key + ".time_constant", gel_time_limits, findings);
  const bool is_cure = law.law && law.law->value == "cure";
  check_numbers(law.exponent, law.key + (is_cure ? ".exponents" : ".exponent"),
                is_cure ? cure_exponent_limits : exponent_limits, findings);
  if (law.law && law.law->value == "table") {
    check_table(law, findings);
  }
  if (law.valid || law.temperature) {
    check_within(raw.temperature, "temperature",
                 law.valid ? law.valid->value : law.temperature->value, law.key, findings);
  }
  for (const RawViscosityLaw& initial : law.initial_law) {
    check_law(raw, initial, findings);
  }
}

/// The viscosity must rise all the way to the gel.
void check_cure_exponents(const RawResin& resin, Findings& findings) {
  const auto& exponent = resin.law->exponent;
  if (!exponent || !resin.cure || !resin.cure->gel_conversion) {
    return;
  }
  const double a = exponent->value.front();
  const double b = exponent->value.back();
  if (!(a > 0) || !(a + b * resin.cure->gel_conversion->value > 0)) {
    add_error(findings, exponent->line, resin.law->key + ".exponents",
              "found " + exponent->text +
                  ", expected a, and a + b alpha up to the gel, above 0: the viscosity rises");
  }
}

void check_needs_of_law(const RawCase& raw, Findings& findings) {
  const RawResin& resin = raw.resin;
  const std::string law = resin.law && resin.law->law ? resin.law->law->value : "";
  if (law == "power-to-gel" && !resin.gel_time && !resin.gel_table && !resin.cure) {
    add_error(findings, resin.law->line, "resin.gel_time",
              "found no such key, expected a gel time such as \"25 min\": the law "
              "\"power-to-gel\" rises towards it");
  }
  if (law == "cure" && !resin.cure) {
    add_error(findings, resin.law->line, "resin.cure",
              "found no such key, expected the kinetics that the law \"cure\" follows, such as "
              "{ law = \"first-order\", rate = \"0.001 s-1\", gel_conversion = 0.6 }");
  } else if (law == "cure") {
    check_cure_exponents(resin, findings);
  }
  const std::string needs = what_needs_temperature(resin);
  if (!needs.empty() && !raw.has_temperature) {
    add_error(
        findings, resin.line, "temperature",
        "found no such key, expected the temperature of the resin such as \"21 degC\", since " +
            needs + " depends on it");
  }
}

// --- catalyst, gel and cure --------------------------------------------------------------------

/// Precondition: as many rows and columns as temperatures and levels.
void warn_of_odd_gel_times(const RawGelTable& table, Findings& findings) {
  const std::size_t before = findings.warnings.size();
  const std::string key = table.key + ".time";
  for (const std::vector<double>& row : table.time->value) {
    if (findings.warnings.size() == before) {
      check_falling(row, table.time->line, key, as_minutes,
                    "with more catalyst resin commonly gels sooner", findings);
    }
  }
  for (std::size_t level = 0; level < table.catalyst->value.size(); ++level) {
    std::vector<double> column;
    for (const std::vector<double>& row : table.time->value) {
      column.push_back(row[level]);
    }
    if (findings.warnings.size() == before) {
      check_falling(column, table.time->line, key, as_minutes, "warmer resin commonly gels sooner",
                    findings);
    }
  }
}

void check_gel_table(const RawCase& raw, const RawGelTable& table, Findings& findings) {
  check_ranges(table.temperature, table.key + ".temperature", law_temperature_limits, findings);
  check_ranges(table.catalyst, table.key + ".catalyst", catalyst_limits, findings);
  check_ascending(table.temperature, table.key + ".temperature", 1, as_celsius, findings);
  check_ascending(table.catalyst, table.key + ".catalyst", 1, as_share, findings);
  if (!table.time || !table.temperature || !table.catalyst) {
    return;
  }
  const std::string key = table.key + ".time";
  const std::size_t rows = table.temperature->value.size();
  const std::size_t levels = table.catalyst->value.size();
  for (const std::vector<double>& row : table.time->value) {
    if (row.size() != levels || table.time->value.size() != rows) {
      add_error(findings, table.time->line, key,
                "found " + std::to_string(table.time->value.size()) + " rows, one of " +
                    std::to_string(row.size()) + ", expected " + std::to_string(rows) +
                    ", one for each temperature, of " + std::to_string(levels) +
                    ", one for each catalyst level");
      return;
    }
    check_ranges(Given<std::vector<double>>{row, table.time->line, table.time->text}, key,
                 gel_time_limits, findings);
  }
  warn_of_odd_gel_times(table, findings);
  check_within(raw.temperature, "temperature", table.temperature->value, table.key, findings);
}

/// Beyond the levels of the table by a fifth of its end at most, and not without a warning.
void check_level_in_table(const RawResin& resin, Findings& findings) {
  if (!resin.catalyst || !resin.gel_table->catalyst) {
    return;
  }
  const std::vector<double>& levels = resin.gel_table->catalyst->value;
  const double level = resin.catalyst->value;
  const bool is_below = level < levels.front() * (1 - 1e-9);
  if (!is_below && level <= levels.back() * (1 + 1e-9)) {
    return;
  }
  const double end = is_below ? levels.front() : levels.back();
  const std::string text = "found " + quoted_text(resin.catalyst->text) + ", which is " +
                           (is_below ? "below the " : "above the ") + as_share(end) +
                           " at which resin.gel_time " + (is_below ? "begins" : "ends");
  if (std::abs(level - end) > 0.2 * end) {
    add_error(findings, resin.catalyst->line, "resin.catalyst",
              text + ", expected a level within the table, or at most a fifth of its end outside");
  } else {
    add_warning(findings, resin.catalyst->line, "resin.catalyst",
                text + ": the gel time is carried on beyond its data");
  }
}

void check_catalyst(const RawResin& resin, Findings& findings) {
  check_range(resin.catalyst, "resin.catalyst", catalyst_limits, findings);
  check_ranges(resin.catalyst_range, "resin.catalyst_range", catalyst_limits, findings);
  check_range(resin.catalyst_density, "resin.catalyst_density", density_limits, findings);
  if (resin.gel_table && !resin.has_catalyst) {
    add_error(findings, resin.gel_table->line, "resin.catalyst",
              "found no such key, expected a share by mass of the resin such as \"1.5 %\", since "
              "resin.gel_time depends on it");
  } else if (resin.gel_table) {
    check_level_in_table(resin, findings);
  }
  if (resin.catalyst_density && !resin.has_catalyst) {
    add_error(findings, resin.catalyst_density->line, "resin.catalyst_density",
              "found it without resin.catalyst, expected a share by mass of the resin such as "
              "\"1.5 %\" beside it");
  }
  if (!resin.catalyst || !resin.catalyst_range) {
    return;
  }
  const double lowest = resin.catalyst_range->value.front();
  const double highest = resin.catalyst_range->value.back();
  const std::string text = "found " + quoted_text(resin.catalyst->text) + ", expected " +
                           as_share(lowest) + " to " + as_share(highest) +
                           " (resin.catalyst_range): ";
  // Common practice, no source.
  if (resin.catalyst->value < lowest * (1 - 1e-9)) {
    add_error(findings, resin.catalyst->line, "resin.catalyst",
              text + "with less the resin does not cure through, however long one waits");
  } else if (resin.catalyst->value > highest * (1 + 1e-9)) {
    add_error(findings, resin.catalyst->line, "resin.catalyst",
              text + "with more it runs hot as it cures, so that it may crack or scorch, and does "
                     "not cure better");
  }
}

void check_cure(const RawCure& cure, Findings& findings) {
  for (const RawRate& rate : cure.rates) {
    check_range(rate.value, rate.key, rate_limits, findings);
    check_range(rate.factor, rate.key + ".factor", factor_limits, findings);
    check_range(rate.activation_energy, rate.key + ".activation_energy", energy_limits, findings);
  }
  check_numbers(cure.exponents, cure.key + ".exponents", exponent_limits, findings);
  if (cure.gel_conversion) {
    check_number(cure.gel_conversion->value, cure.gel_conversion->line,
                 cure.key + ".gel_conversion", cure.gel_conversion->text, conversion_limits,
                 findings);
  }
}

// --- mixing ------------------------------------------------------------------------------------

void check_mixing(const RawCase& raw, Findings& findings) {
  const bool has_mixing = raw.injector && raw.injector->mixing;
  if (thickens(raw.resin) && !has_mixing && !(raw.injector && raw.injector->has_mixing)) {
    add_error(findings, raw.injector ? raw.injector->line : raw.resin.line, "injector.mixing",
              "found no such key, expected \"inline\" (resin and catalyst meet in the mixing head, "
              "each parcel ages from there) or \"batch\" (mixed beforehand), since the viscosity "
              "rises with the age of the resin");
  }
  const Maybe<double> before = raw.injector ? raw.injector->mixed_before : std::nullopt;
  check_range(before, "injector.mixed_before", age_limits, findings);
  if (before && has_mixing && raw.injector->mixing->value == "inline") {
    add_error(findings, before->line, "injector.mixed_before",
              "found it beside mixing = \"inline\", expected it with \"batch\" only: inline, the "
              "resin is fresh at the head");
  } else if (before && !has_mixing && !raw.injector->has_mixing) {
    add_error(findings, before->line, "injector.mixed_before",
              "found it without mixing, expected mixing = \"batch\" beside it");
  }
}

/// A batch must not be set before it is injected; nor may laws lead to nonsense.
void check_made_resin(const RawCase& raw, Findings& findings) {
  const Resin resin = make_resin(raw);
  const std::string key = raw.resin.cure ? "resin.cure" : "resin.gel_time";
  const int line = raw.resin.gel_table ? raw.resin.gel_table->line
                   : raw.resin.cure    ? raw.resin.cure->line
                                       : raw.resin.line;
  if (raw.resin.gel_table || raw.resin.cure) {
    check_number(*resin.gel_time, line, key,
                 "a law that gels at " + as_minutes(*resin.gel_time) + " at this temperature",
                 gel_time_limits, findings);
  }
  if (raw.resin.law) {
    check_number(resin.viscosity, raw.resin.law->line, raw.resin.law->key,
                 "a law that gives " + plain_number(resin.viscosity) +
                     " Pa.s for the fresh resin at this temperature",
                 injected_viscosity_limits, findings);
  }
  if (resin.mixed_before >= gel_age(resin)) {
    add_error(findings, raw.injector->mixed_before->line, "injector.mixed_before",
              "found " + quoted_text(raw.injector->mixed_before->text) +
                  ", expected less than the time to the gel, " + as_minutes(gel_age(resin)));
  }
}

// --- the resin ---------------------------------------------------------------------------------

double temperature_of(const RawCase& raw) {
  return raw.temperature ? raw.temperature->value : 293.15; // not used if not given
}

FreshViscosity fresh_law(const RawViscosityLaw& law) {
  if (!law.initial_law.empty()) {
    return fresh_law(law.initial_law.front());
  }
  if (law.initial) {
    return law.initial->value;
  }
  if (law.law->value == "arrhenius") {
    return ArrheniusViscosity{law.viscosity->value.front(), law.at->value,
                              law.activation_energy->value};
  }
  if (law.is_over_age()) {
    return law.viscosity->value.front();
  }
  return TabulatedViscosity{law.temperature->value, logarithms(law.viscosity->value)};
}

double rate_of(const RawRate& rate, double temperature) {
  return rate.value ? rate.value->value
                    : rate_at({rate.factor->value, rate.activation_energy->value}, temperature);
}

CureCourse course_of(const RawCure& cure, double temperature) {
  const double gel = cure.gel_conversion->value;
  if (cure.law->value == "first-order") {
    return cure_course(FirstOrderCure{rate_of(cure.rates[0], temperature)}, gel);
  }
  return cure_course(AutocatalyticCure{rate_of(cure.rates[0], temperature),
                                       rate_of(cure.rates[1], temperature),
                                       cure.exponents->value.front(), cure.exponents->value.back()},
                     gel);
}

GelTable make_gel_table(const RawGelTable& raw) {
  GelTable table{raw.temperature->value, raw.catalyst->value, {}};
  for (const std::vector<double>& row : raw.time->value) {
    const std::vector<double> logs = logarithms(row);
    table.log_time.insert(table.log_time.end(), logs.begin(), logs.end());
  }
  return table;
}

std::optional<double> gel_time_of(const RawCase& raw, std::optional<double> catalyst) {
  const RawResin& resin = raw.resin;
  if (resin.cure) {
    return course_of(*resin.cure, temperature_of(raw)).gel_age();
  }
  if (resin.gel_table) {
    return gel_time(make_gel_table(*resin.gel_table), temperature_of(raw),
                    catalyst.value_or(resin.catalyst->value));
  }
  return value_or_none(resin.gel_time);
}

CureKinetics kinetics_of(const RawCure& cure) {
  const auto constant = [](const RawRate& rate) {
    return rate.value ? RateConstant{rate.value->value, 0}
                      : RateConstant{rate.factor->value, rate.activation_energy->value};
  };
  CureKinetics kinetics;
  kinetics.is_autocatalytic = cure.law->value != "first-order";
  kinetics.rate_1 = constant(cure.rates.front());
  kinetics.rate_2 = constant(cure.rates.back());
  kinetics.exponent_m = cure.exponents ? cure.exponents->value.front() : 1;
  kinetics.exponent_n = cure.exponents ? cure.exponents->value.back() : 1;
  kinetics.gel_conversion = cure.gel_conversion->value;
  return kinetics;
}

/// For a filling with heat: catalyst as in make_resin.
TemperatureLaws laws_of(const RawCase& raw, std::optional<double> catalyst) {
  const RawResin& resin = raw.resin;
  TemperatureLaws laws{resin.law ? fresh_law(*resin.law) : value_or_zero(resin.viscosity)};
  if (resin.gel_table) {
    laws.gel = make_gel_table(*resin.gel_table);
    laws.catalyst = catalyst.value_or(resin.catalyst->value);
  }
  if (resin.cure) {
    laws.cure = kinetics_of(*resin.cure);
  }
  for_each_range(resin, [&](const std::vector<double>& range, const std::string& /*key*/) {
    laws.lowest = std::max(laws.lowest, range.front() - farthest);
    laws.highest = std::min(laws.highest, range.back() + farthest);
  });
  return laws;
}

Thickening thickening_of(const RawCase& raw, const std::optional<double>& gel) {
  const RawViscosityLaw& law = *raw.resin.law;
  const std::string& name = law.law->value;
  if (name == "exponential") {
    return ExponentialThickening{law.time_constant->value};
  }
  if (name == "power-to-gel") {
    return PowerThickening{*gel, law.exponent->value.front()};
  }
  if (name == "cure") {
    return CureThickening{course_of(*raw.resin.cure, temperature_of(raw)),
                          law.exponent->value.front(), law.exponent->value.back()};
  }
  return TableThickening{law.age->value, logarithms(law.viscosity->value)};
}

} // namespace

void check_laws_within(const RawCase& raw, const Maybe<double>& temperature, const std::string& key,
                       Findings& findings) {
  for_each_range(raw.resin, [&](const std::vector<double>& range, const std::string& law) {
    check_within(temperature, key, range, law, findings);
  });
}

Resin make_resin(const RawCase& raw, std::optional<double> catalyst) {
  const RawResin& given = raw.resin;
  const std::optional<double> gel = gel_time_of(raw, catalyst);
  Resin resin{given.law ? fresh_viscosity(fresh_law(*given.law), temperature_of(raw))
                        : value_or_zero(given.viscosity),
              value_or_none(given.density), gel};
  resin.laws = laws_of(raw, catalyst);
  if (thickens(given)) {
    resin.thickening = thickening_of(raw, gel);
  }
  if (raw.injector && raw.injector->mixing && raw.injector->mixing->value == "inline") {
    resin.mixing = Mixing::inline_head;
  }
  resin.mixed_before = raw.injector ? value_or_zero(raw.injector->mixed_before) : 0;
  return resin;
}

ResinFacts make_resin_facts(const RawCase& raw) {
  const RawResin& resin = raw.resin;
  ResinFacts facts;
  if (!what_needs_temperature(resin).empty()) {
    facts.temperature = value_or_none(raw.temperature);
  }
  facts.catalyst = value_or_none(resin.catalyst);
  facts.catalyst_density = value_or_none(resin.catalyst_density);
  facts.gel_safety = value_or_none(resin.gel_safety);
  facts.waste = value_or_zero(resin.waste);
  if (resin.law && resin.law->age) {
    facts.oldest_of_table = resin.law->age->value.back();
  }
  if (resin.gel_table) {
    const std::vector<double>& levels = resin.gel_table->catalyst->value;
    double lowest = levels.front();
    double highest = levels.back();
    if (resin.catalyst_range) {
      lowest = std::max(lowest, resin.catalyst_range->value.front());
      highest = std::min(highest, resin.catalyst_range->value.back());
    }
    facts.catalyst_choice = {lowest, highest,
                             [raw](double catalyst) { return make_resin(raw, catalyst); }};
  }
  return facts;
}

void check_resin(const RawCase& raw, Findings& findings) {
  const RawResin& resin = raw.resin;
  const std::size_t errors_before = findings.errors.size();
  check_range(resin.viscosity, "resin.viscosity", injected_viscosity_limits, findings);
  if (resin.law) {
    check_law(raw, *resin.law, findings);
  }
  check_range(resin.density, "resin.density", density_limits, findings);
  check_range(resin.gel_time, "resin.gel_time", gel_time_limits, findings);
  if (resin.gel_table) {
    check_gel_table(raw, *resin.gel_table, findings);
  }
  if (resin.cure) {
    check_cure(*resin.cure, findings);
  }
  check_catalyst(resin, findings);
  if (resin.gel_safety) {
    check_number(resin.gel_safety->value, resin.gel_safety->line, "resin.gel_safety",
                 resin.gel_safety->text, safety_limits, findings);
  }
  if (resin.waste) {
    const double share = resin.waste->value;
    const bool is_plain = resin.waste->text.find('%') == std::string::npos;
    const std::string in_percent =
        share > 1 && is_plain ? " (" + plain_number(100 * share) + " %)" : "";
    check_number(share, resin.waste->line, "resin.waste", resin.waste->text + in_percent,
                 waste_limits, findings);
  }
  if (resin.price && resin.price->value.per == Dimension::mass && !resin.has_density) {
    add_error(findings, resin.price->line, "resin.price",
              "found " + quoted_text(resin.price->text) +
                  " and no density, expected a density beside it, or a price per volume such as "
                  "\"4500 per m3\"");
  }
  check_needs_of_law(raw, findings);
  check_mixing(raw, findings);
  const bool is_sound = findings.errors.empty() && errors_before == 0;
  if (is_sound && (resin.viscosity || resin.law)) {
    check_made_resin(raw, findings);
  }
}

} // namespace tidemark
