// Cure kinetics at one temperature: how far the reaction has gone at an age.
#pragma once

#include <variant>
#include <vector>

namespace tidemark {

/// d alpha / dt = k (1 - alpha); k [1/s], > 0.
struct FirstOrderCure {
  double rate;
};

/// d alpha / dt = (k1 + k2 alpha^m) (1 - alpha)^n; k1 > 0, k2 >= 0 [1/s], m > 0, n > 0. The
/// autocatalytic law of Kamal and Sourour 1973 (from memory).
struct AutocatalyticCure {
  double rate_1, rate_2;
  double exponent_m, exponent_n;
};

using CureLaw = std::variant<FirstOrderCure, AutocatalyticCure>;

/// d alpha / dt at a conversion alpha, 0 <= alpha < 1 [1/s].
double cure_rate(const CureLaw& law, double conversion);

/// A rate constant k = factor exp(-E / (R T)): factor [1/s], E activation energy [J/mol], T
/// temperature [K], > 0.
struct RateConstant {
  double factor = 0;
  double activation_energy = 0;
};
double rate_at(const RateConstant& constant, double temperature);

/// Kinetics at any temperature: first-order with rate_1 alone, or autocatalytic.
struct CureKinetics {
  bool is_autocatalytic = false;
  RateConstant rate_1, rate_2;
  double exponent_m = 1, exponent_n = 1;
  double gel_conversion = 0; // above 0 and below 1
};
CureLaw law_at(const CureKinetics& kinetics, double temperature);

/// The gas constant [J/(mol K)], exact in the SI of 2019.
inline constexpr double gas_constant = 8.31446261815324;

/// Conversion against age, tabulated from 0 to the gel.
struct CureCourse {
  CureLaw law;
  std::vector<double> conversion; // ascending, from 0 to that of the gel [-]
  std::vector<double> age;        // when it is reached [s]
  [[nodiscard]] double gel_conversion() const { return conversion.back(); }
  [[nodiscard]] double gel_age() const { return age.back(); }
};

/// t(alpha) = integral of d alpha / (d alpha / dt) by Gauss quadrature, to about 1e-10.
/// gel_conversion: above 0 and below 1.
CureCourse cure_course(const CureLaw& law, double gel_conversion);

/// Conversion at an age [s] >= 0 [-]; from the gel on that of the gel.
double conversion_at(const CureCourse& course, double age);

/// The age at which a conversion is reached [s]; straight lines between the points of the course,
/// beyond the gel its age.
double age_at(const CureCourse& course, double conversion);

/// Five-point Gauss quadrature of a function over an interval cut into equal panels.
template <class Function>
double integral(double from, double to, int panels, const Function& function) {
  constexpr double x[] = {0, 0.5384693101056831, 0.9061798459386640};
  constexpr double w[] = {0.5688888888888889, 0.4786286704993665, 0.2369268850561891};
  const double half = 0.5 * (to - from) / panels;
  double sum = 0;
  for (int panel = 0; panel < panels; ++panel) {
    const double middle = from + (2 * panel + 1) * half;
    sum += w[0] * function(middle);
    for (int i = 1; i < 3; ++i) {
      sum += w[i] * (function(middle - half * x[i]) + function(middle + half * x[i]));
    }
  }
  return half * sum;
}

} // namespace tidemark
