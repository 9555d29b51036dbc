#include "solver/cure.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {

constexpr int points = 800; // of a course

double rate_of(const FirstOrderCure& law, double alpha) {
  return law.rate * (1 - alpha);
}

double rate_of(const AutocatalyticCure& law, double alpha) {
  return (law.rate_1 + law.rate_2 * std::pow(alpha, law.exponent_m)) *
         std::pow(1 - alpha, law.exponent_n);
}

} // namespace

double cure_rate(const CureLaw& law, double conversion) {
  return std::visit([&](const auto& kind) { return rate_of(kind, conversion); }, law);
}

double rate_at(const RateConstant& constant, double temperature) {
  return constant.factor * std::exp(-constant.activation_energy / (gas_constant * temperature));
}

CureLaw law_at(const CureKinetics& kinetics, double temperature) {
  const double rate = rate_at(kinetics.rate_1, temperature);
  if (!kinetics.is_autocatalytic) {
    return FirstOrderCure{rate};
  }
  return AutocatalyticCure{rate, rate_at(kinetics.rate_2, temperature), kinetics.exponent_m,
                           kinetics.exponent_n};
}

CureCourse cure_course(const CureLaw& law, double gel_conversion) {
  CureCourse course{law, {0}, {0}};
  for (int i = 1; i <= points; ++i) {
    const double share = static_cast<double>(i) / points;
    // Denser at the start, where alpha^m may rise steeply.
    course.conversion.push_back(gel_conversion * share * share);
    const double from = course.conversion[course.conversion.size() - 2];
    course.age.push_back(course.age.back() +
                         integral(from, course.conversion.back(), 2,
                                  [&](double alpha) { return 1 / cure_rate(law, alpha); }));
  }
  return course;
}

double conversion_at(const CureCourse& course, double age) {
  if (age >= course.gel_age()) {
    return course.gel_conversion();
  }
  if (!(age > 0)) {
    return 0;
  }
  // Between two points a cubic with the slopes of the law.
  const auto above = std::ranges::upper_bound(course.age, age);
  const auto k = static_cast<std::size_t>(above - course.age.begin());
  const double low = course.conversion[k - 1];
  const double high = course.conversion[k];
  const double span = course.age[k] - course.age[k - 1];
  const double s = (age - course.age[k - 1]) / span;
  const double rise = span * cure_rate(course.law, low);
  const double fall = span * cure_rate(course.law, high);
  return low + s * (rise + s * (3 * (high - low) - 2 * rise - fall +
                                s * (rise + fall - 2 * (high - low))));
}

double age_at(const CureCourse& course, double conversion) {
  if (conversion >= course.gel_conversion()) {
    return course.gel_age();
  }
  const auto above = std::ranges::upper_bound(course.conversion, std::max(conversion, 0.0));
  const auto k = static_cast<std::size_t>(above - course.conversion.begin());
  const double share =
      (conversion - course.conversion[k - 1]) / (course.conversion[k] - course.conversion[k - 1]);
  return course.age[k - 1] + std::max(share, 0.0) * (course.age[k] - course.age[k - 1]);
}

} // namespace tidemark
