// Laws of viscosity, gel and cure against values worked out by hand or published.
#include "solver/cure.hpp"
#include "solver/resin.hpp"
#include "solver/resin_laws.hpp"
#include "support/closeness.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

using namespace tidemark;
using namespace tidemark::test;

TEST_CASE("Arrhenius: viscosity at 15 degC over that at 25 degC") {
  // exp(E/R (1/288.15 - 1/298.15)), worked out by hand with R = 8.314462618 J/(mol K).
  const auto ratio = [](double energy) {
    return fresh_viscosity(ArrheniusViscosity{0.2, 298.15, energy}, 288.15) / 0.2;
  };
  CHECK(relative_error(ratio(30e3), 1.52194) < 1e-5);
  CHECK(relative_error(ratio(45e3), 1.87757) < 1e-5);
  CHECK(relative_error(ratio(60e3), 2.31630) < 1e-5);
}

TEST_CASE("a table over the temperature: straight lines in ln mu") {
  const TabulatedViscosity law{{288.15, 298.15}, {std::log(0.4), std::log(0.1)}};
  CHECK(relative_error(fresh_viscosity(law, 293.15), 0.2) < 1e-12); // the geometric mean
  CHECK(relative_error(fresh_viscosity(law, 303.15), 0.05) < 1e-12);
}

TEST_CASE("gel times of a vinyl ester resin over the temperature") {
  // A maker's selection guide (its text seen): a system that gels in 30 to 40 min at 70 degF does
  // so in 20 to 25 min at 80 degF. Between them ln t is a straight line: at 75 degF the geometric
  // mean, sqrt(35 x 22.5) = 28.06 min.
  const GelTable table{{294.2611, 299.8167}, {0.0125}, {std::log(35.0), std::log(22.5)}};
  CHECK(relative_error(gel_time(table, 297.0389, 0.0125), 28.0624) < 1e-4);
}

TEST_CASE("gel times over temperature and catalyst are bilinear in ln t") {
  // Corners 40, 20 | 20, 10 min: in the middle sqrt of the geometric means, 20 min.
  const GelTable table{{290, 300},
                       {0.01, 0.02},
                       {std::log(2400.0), std::log(1200.0), std::log(1200.0), std::log(600.0)}};
  CHECK(relative_error(gel_time(table, 290, 0.02), 1200) < 1e-12);
  CHECK(relative_error(gel_time(table, 300, 0.01), 1200) < 1e-12);
  CHECK(relative_error(gel_time(table, 295, 0.015), 1200) < 1e-12);
  CHECK(relative_error(gel_time(table, 290, 0.015), 2400 / std::sqrt(2)) < 1e-12);
}

TEST_CASE("first-order cure") {
  // alpha = 1 - exp(-k t): 0.6 at ln 2.5 / k = 916.290732 s for k = 1e-3 1/s.
  const CureCourse course = cure_course(FirstOrderCure{1e-3}, 0.6);
  CHECK(relative_error(course.gel_age(), 916.290732) < 1e-9);
  for (const double t : {1.0, 50.0, 300.0, 900.0}) {
    CHECK(relative_error(conversion_at(course, t), -std::expm1(-1e-3 * t)) < 1e-9);
  }
  CHECK(conversion_at(course, 2000) == 0.6);
}

TEST_CASE("autocatalytic cure, m = n = 1") {
  // alpha = (E - 1) / (E + k2/k1), E = exp((k1 + k2) t): integrated by hand.
  const CureCourse course = cure_course(AutocatalyticCure{1e-4, 4e-3, 1, 1}, 0.6);
  CHECK(relative_error(conversion_at(course, 600), 0.207037048) < 1e-8);
  CHECK(relative_error(course.gel_age(), 1008.57721) < 1e-8);
}

TEST_CASE("autocatalytic cure with an exponent below 1") {
  // k1 = 1e-9, k2 = 1e-3, m = 1/2, n = 1: t(alpha) = integral of d alpha / (k2 sqrt(alpha) (1 -
  // alpha)) = ln((1 + s) / (1 - s)) / k2, s = sqrt(alpha), but for the start.
  const CureCourse course = cure_course(AutocatalyticCure{1e-9, 1e-3, 0.5, 1}, 0.49);
  CHECK(relative_error(course.gel_age(), std::log(1.7 / 0.3) / 1e-3) < 1e-4);
}

TEST_CASE("a rate constant falls with the temperature") {
  // exp(-E / (R T)) with E = R x 300 K x ln 2 halves the factor at 300 K.
  CHECK(relative_error(rate_at({0.4, gas_constant * 300 * std::log(2.0)}, 300), 0.2) < 1e-12);
  CHECK(rate_at({0.4, 0}, 300) == 0.4);
}

TEST_CASE("activation energies behind what is said of gel times and viscosities") {
  const auto faster = [](double energy, double from, double to) {
    return rate_at({1, energy}, to) / rate_at({1, energy}, from);
  };
  // 30 to 40 min at 21.1 degC, 20 to 25 min at 26.7 degC (a vinyl ester maker's selection guide,
  // its text seen), by hand R ln(35 / 22.5) / (1/294.26 - 1/299.82) = 58.3 kJ/mol.
  CHECK(relative_error(faster(58.3e3, 294.26, 299.82), 35 / 22.5) < 1e-3);
  // "10 degC warmer halves the working time" (a kit manual for cold-curing epoxy, its text seen):
  // 51.2 kJ/mol from 20 to 30 degC.
  CHECK(relative_error(faster(51.2e3, 293.15, 303.15), 2) < 1e-3);
  // "5 degC warmer nearly halves the viscosity" (the same page): 100.7 kJ/mol from 20 to 25 degC.
  CHECK(relative_error(fresh_viscosity(ArrheniusViscosity{1, 293.15, 100.7e3}, 298.15), 0.5) <
        1e-3);
}

TEST_CASE("Castro and Macosko's polyurethane at 333.15 K") {
  // mu = 1.03e-7 exp(4.13e4 / (R T)) (ag / (ag - a))^(1.5 + a), ag = 0.65 (Castro and Macosko 1982,
  // constants from memory; the values follow from the formula): 0.307712 Pa s uncured, 0.937704 at
  // a conversion of 0.3.
  const double fresh = fresh_viscosity(
      ArrheniusViscosity{1.03e-7 * std::exp(4.13e4 / (gas_constant * 298.15)), 298.15, 4.13e4},
      333.15);
  CHECK(relative_error(fresh, 0.307712) < 1e-5);
  Resin resin{fresh, {}, {}};
  const CureCourse course = cure_course(FirstOrderCure{1e-3}, 0.65);
  resin.thickening = CureThickening{course, 1.5, 1};
  const double age = -std::log(0.7) / 1e-3; // conversion 0.3
  CHECK(relative_error(viscosity_at(resin, age), 0.937704) < 1e-5);
  CHECK(std::isinf(viscosity_at(resin, course.gel_age())));
}

TEST_CASE("fluidity_time is the integral of 1 / mu") {
  Resin resin{0.2, {}, {}};
  CHECK(relative_error(fluidity_time(resin, 5, 25), 100) < 1e-14);
  resin.thickening = ExponentialThickening{300};
  // tau / mu0 (exp(-1) - exp(-2)) from 300 s to 600 s.
  CHECK(relative_error(fluidity_time(resin, 300, 600), 1500 * (std::exp(-1.0) - std::exp(-2.0))) <
        1e-12);
  resin.thickening = PowerThickening{900, 1};
  // tg / (2 mu0) (1 - 1/4) from 0 to 450 s.
  CHECK(relative_error(fluidity_time(resin, 0, 450), 900 / 0.4 * 0.75) < 1e-12);
  CHECK(relative_error(fluidity_time(resin, 0, 2000), 900 / 0.4) < 1e-12);
  // A table that is exponential to 100 s, then constant at 0.2 e Pa s.
  resin.thickening =
      TableThickening{{0, 100, 200}, {std::log(0.2), std::log(0.2) + 1, std::log(0.2) + 1}};
  const double expected = 500 * (1 - std::exp(-1.0)) + 500 * std::exp(-1.0);
  CHECK(relative_error(fluidity_time(resin, 0, 200), expected) < 1e-12);
  CHECK(relative_error(fluidity_time(resin, 0, 300), expected + 500 * std::exp(-1.0)) < 1e-12);
  CHECK(relative_error(viscosity_at(resin, 50), 0.2 * std::exp(0.5)) < 1e-12);
  // First-order cure, exponent 1: t (1 - 1/ag) + (1 - exp(-k t)) / (k ag), over mu0.
  resin.thickening = CureThickening{cure_course(FirstOrderCure{1e-3}, 0.6), 1, 0};
  const double t = 500;
  CHECK(relative_error(fluidity_time(resin, 0, t),
                       (t * (1 - 1 / 0.6) - std::expm1(-0.5) / (1e-3 * 0.6)) / 0.2) < 1e-9);
}

TEST_CASE("duration_of_fluidity undoes fluidity_time, or says that it is never reached") {
  Resin resin{0.2, {}, {}};
  CHECK(*duration_of_fluidity(resin, 7, 100) == 20);
  resin.thickening = ExponentialThickening{300};
  CHECK(relative_error(*duration_of_fluidity(resin, 300, 1500 * (std::exp(-1.0) - std::exp(-2.0))),
                       300) < 1e-12);
  CHECK_FALSE(duration_of_fluidity(resin, 0, 1501)); // tau / mu0 = 1500
}

TEST_CASE("a resin that ages slower") {
  Resin resin{0.2, {}, 900};
  resin.thickening = ExponentialThickening{300};
  resin.slowness = 2;
  CHECK(gel_age(resin) == 1800);
  CHECK(relative_error(viscosity_at(resin, 600), 0.2 * std::exp(1.0)) < 1e-14);
  CHECK(relative_error(thickening_rate(resin, 100), 1.0 / 600) < 1e-14);
  CHECK(relative_error(fluidity_time(resin, 0, 600), 3000 * (1 - std::exp(-1.0))) < 1e-12);
}

TEST_CASE("slopes of ln mu, by central differences") {
  Resin resin{0.2, {}, {}};
  const auto slope = [&](double age) {
    const double step = 1e-3;
    return std::log(viscosity_at(resin, age + step) / viscosity_at(resin, age - step)) / (2 * step);
  };
  for (const Thickening& law :
       {Thickening(ExponentialThickening{300}), Thickening(PowerThickening{900, 1.5}),
        Thickening(
            CureThickening{cure_course(AutocatalyticCure{1e-4, 4e-3, 1, 2}, 0.6), 1.5, 1})}) {
    resin.thickening = law;
    CHECK(relative_error(thickening_rate(resin, 400), slope(400)) < 1e-4);
  }
}
