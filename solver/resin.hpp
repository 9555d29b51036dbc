// The resin of a filling at its temperature: viscosity and gel against age.
#pragma once

#include "solver/cure.hpp"
#include "solver/resin_laws.hpp"

#include <cstdint>
#include <optional>
#include <variant>
#include <vector>

namespace tidemark {

/// mu = mu0 exp(t / tau); tau [s], > 0.
struct ExponentialThickening {
  double time_constant;
};

/// mu = mu0 (1 - t / tg)^-n; gel_time tg [s], exponent n, both > 0. Infinite from the gel on.
struct PowerThickening {
  double gel_time;
  double exponent;
};

/// Straight lines in ln mu over the age, whatever mu0; the last goes on.
struct TableThickening {
  std::vector<double> age;           // [s], ascending from 0, two or more
  std::vector<double> log_viscosity; // of the viscosity in Pa s
};

/// mu = mu0 (alpha_g / (alpha_g - alpha))^(a + b alpha), alpha the conversion at that age and
/// alpha_g that of the gel (Castro and Macosko 1982, from memory). Infinite from the gel on.
struct CureThickening {
  CureCourse course;
  double exponent_a, exponent_b;
};

/// How the viscosity rises with the age of the resin; monostate: not at all.
using Thickening = std::variant<std::monostate, ExponentialThickening, PowerThickening,
                                TableThickening, CureThickening>;

/// When resin and catalyst come together: all of it at once, or each parcel as it passes the head.
enum class Mixing : std::uint8_t { batch, inline_head };

/// What the resin does at other temperatures than that it is injected at; for a filling with heat.
struct TemperatureLaws {
  FreshViscosity viscosity;         // of the fresh resin
  std::optional<GelTable> gel = {}; // none: the gel time is the same at any temperature
  double catalyst = 0;              // level in that table
  std::optional<CureKinetics> cure = {};
  /// Where the laws hold, and somewhat beyond [K]; outside, viscosity and gel time stay as there.
  double lowest = 1, highest = 1000;
};

struct Resin {
  double viscosity;               // mu0 of the fresh resin [Pa s], > 0
  std::optional<double> density;  // rho [kg/m3]; needed with gravity
  std::optional<double> gel_time; // age at which it gels [s]; gelled resin flows no more
  Thickening thickening = {};
  Mixing mixing = Mixing::batch;
  double mixed_before = 0; // a batch's age at the start of injection [s], >= 0
  /// It ages so many times slower than gel time and thickening say [-], > 0.
  double slowness = 1;
  TemperatureLaws laws = {0.0}; // read by a filling with heat only
};

/// Whether the viscosity depends on age.
bool thickens(const Resin& resin);

/// Whether parcels of different age must be told apart: mixed inline, and age matters.
bool ages_by_parcel(const Resin& resin);

/// Age at which the resin gels [s], slowness heeded; infinite if it never does.
double gel_age(const Resin& resin);

/// So many times thicker than fresh resin stands still: own choice, far beyond what flows.
inline constexpr double solid_ratio = 1e7;

/// Age from which on the resin does not flow [s]: the gel, or the viscosity solid_ratio times that
/// of the fresh resin, whichever comes first; infinite if neither does within 1e9 s.
double standstill_age(const Resin& resin);

/// Viscosity at an age [s] >= 0 [Pa s]; infinite from the gel of a law that has one on.
double viscosity_at(const Resin& resin, double age);

/// d ln mu / d age [1/s]; infinite as above.
double thickening_rate(const Resin& resin, double age);

/// integral of d age / mu between two ages [s], from <= to [1/Pa].
double fluidity_time(const Resin& resin, double from, double to);

/// How long it takes from an age on until fluidity_time is as given [s]; none if it never is.
std::optional<double> duration_of_fluidity(const Resin& resin, double from, double fluidity);

} // namespace tidemark
