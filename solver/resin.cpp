#include "solver/resin.hpp"

#include "solver/interpolation.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace tidemark {

namespace {

constexpr double never = std::numeric_limits<double>::infinity();
constexpr double largest_exponent = 600; // of e, which still is a number

// Each law of thickening: ln(mu / mu0), its slope [1/s], and integral of mu0 d age / mu [s].

double log_rise(const std::monostate& /*law*/, double /*log_fresh*/, double /*age*/) {
  return 0;
}

double log_rise(const ExponentialThickening& law, double /*log_fresh*/, double age) {
  return age / law.time_constant;
}

double log_rise(const PowerThickening& law, double /*log_fresh*/, double age) {
  return age < law.gel_time ? -law.exponent * std::log1p(-age / law.gel_time) : never;
}

double log_rise(const TableThickening& law, double log_fresh, double age) {
  return interpolate(law.age, law.log_viscosity, age) - log_fresh;
}

double castro_macosko(const CureThickening& law, double alpha) {
  const double gel = law.course.gel_conversion();
  return alpha < gel ? (law.exponent_a + law.exponent_b * alpha) * std::log(gel / (gel - alpha))
                     : never;
}

double log_rise(const CureThickening& law, double /*log_fresh*/, double age) {
  return castro_macosko(law, conversion_at(law.course, age));
}

double slope(const std::monostate& /*law*/, double /*age*/) {
  return 0;
}

double slope(const ExponentialThickening& law, double /*age*/) {
  return 1 / law.time_constant;
}

double slope(const PowerThickening& law, double age) {
  return age < law.gel_time ? law.exponent / (law.gel_time - age) : never;
}

/// The piece of a table an age lies in.
std::size_t piece_at(const TableThickening& law, double age) {
  const auto above = std::upper_bound(law.age.begin() + 1, law.age.end() - 1, age);
  return static_cast<std::size_t>(above - law.age.begin()) - 1;
}

double slope_of_piece(const TableThickening& law, std::size_t k) {
  return (law.log_viscosity[k + 1] - law.log_viscosity[k]) / (law.age[k + 1] - law.age[k]);
}

double slope(const TableThickening& law, double age) {
  return slope_of_piece(law, piece_at(law, age));
}

double slope(const CureThickening& law, double age) {
  const double alpha = conversion_at(law.course, age);
  const double gel = law.course.gel_conversion();
  if (alpha >= gel) {
    return never;
  }
  const double per_alpha = law.exponent_b * std::log(gel / (gel - alpha)) +
                           (law.exponent_a + law.exponent_b * alpha) / (gel - alpha);
  return per_alpha * cure_rate(law.course.law, alpha);
}

double fluid_time(const std::monostate& /*law*/, double /*log_fresh*/, double from, double to) {
  return to - from;
}

double fluid_time(const ExponentialThickening& law, double /*log_fresh*/, double from, double to) {
  const double tau = law.time_constant;
  return -tau * std::exp(-from / tau) * std::expm1(-(to - from) / tau);
}

double fluid_time(const PowerThickening& law, double /*log_fresh*/, double from, double to) {
  const double tg = law.gel_time;
  const double n = law.exponent + 1;
  const auto left = [&](double age) { return std::pow(std::max(0.0, 1 - age / tg), n); };
  return tg / n * (left(from) - left(to));
}

double fluid_time(const TableThickening& law, double log_fresh, double from, double to) {
  double sum = 0;
  for (std::size_t k = piece_at(law, from); from < to; ++k) {
    const bool is_last = k + 2 >= law.age.size();
    const double end = is_last ? to : std::min(to, law.age[k + 1]);
    const double s = slope_of_piece(law, k);
    const double at_start = std::exp(-log_rise(law, log_fresh, from));
    const double x = s * (end - from);
    sum += at_start * (std::abs(x) < 1e-12 ? end - from : -std::expm1(-x) / s);
    from = end;
  }
  return sum;
}

double fluid_time(const CureThickening& law, double /*log_fresh*/, double from, double to) {
  constexpr int panels = 16;
  const auto at = [&](double alpha) {
    return std::exp(-castro_macosko(law, alpha)) / cure_rate(law.course.law, alpha);
  };
  return integral(conversion_at(law.course, from), conversion_at(law.course, to), panels, at);
}

} // namespace

bool thickens(const Resin& resin) {
  return !std::holds_alternative<std::monostate>(resin.thickening);
}

bool ages_by_parcel(const Resin& resin) {
  return resin.mixing == Mixing::inline_head && (thickens(resin) || resin.gel_time);
}

double gel_age(const Resin& resin) {
  return resin.gel_time ? *resin.gel_time * resin.slowness : never;
}

double standstill_age(const Resin& resin) {
  constexpr double oldest = 1e9;
  const auto is_solid = [&](double age) {
    return viscosity_at(resin, age) >= solid_ratio * resin.viscosity;
  };
  const double gel = gel_age(resin);
  double high = std::min(gel, oldest);
  if (!thickens(resin) || !is_solid(high)) {
    return gel;
  }
  double low = 0;
  for (int halving = 0; halving < 100; ++halving) {
    const double middle = 0.5 * (low + high);
    (is_solid(middle) ? high : low) = middle;
  }
  return high;
}

double viscosity_at(const Resin& resin, double age) {
  if (!thickens(resin)) {
    return resin.viscosity;
  }
  const double log_fresh = std::log(resin.viscosity);
  const double rise =
      std::visit([&](const auto& law) { return log_rise(law, log_fresh, age / resin.slowness); },
                 resin.thickening);
  return rise == never ? never : resin.viscosity * std::exp(std::min(rise, largest_exponent));
}

double thickening_rate(const Resin& resin, double age) {
  return std::visit([&](const auto& law) { return slope(law, age / resin.slowness); },
                    resin.thickening) /
         resin.slowness;
}

double fluidity_time(const Resin& resin, double from, double to) {
  const double log_fresh = std::log(resin.viscosity);
  const double pace = resin.slowness;
  const double time = std::visit(
      [&](const auto& law) { return fluid_time(law, log_fresh, from / pace, to / pace); },
      resin.thickening);
  return pace * time / resin.viscosity;
}

std::optional<double> duration_of_fluidity(const Resin& resin, double from, double fluidity) {
  if (!thickens(resin)) {
    return fluidity * resin.viscosity;
  }
  constexpr int most_doublings = 200;
  double high = fluidity * viscosity_at(resin, from);
  int doublings = 0;
  for (; std::isfinite(high) && fluidity_time(resin, from, from + high) < fluidity; ++doublings) {
    if (doublings == most_doublings) {
      return std::nullopt;
    }
    high *= 2;
  }
  if (!std::isfinite(high)) {
    return std::nullopt;
  }
  double low = 0;
  for (int halving = 0; halving < 200 && high - low > 1e-14 * high; ++halving) {
    const double middle = 0.5 * (low + high);
    (fluidity_time(resin, from, from + middle) < fluidity ? low : high) = middle;
  }
  return high;
}

} // namespace tidemark
