// Permeability of reinforcement as a function of its fibre volume fraction.
#pragma once

#include <cstdint>
#include <span>
#include <variant>
#include <vector>

namespace tidemark {

/// K [m2] whatever the fibre volume fraction.
struct ConstantLaw {
  double value; // [m2]
};

/// K = a Vf^b; b is commonly -3 to -6.
struct PowerLaw {
  double factor;   // a [m2]
  double exponent; // b
};

/// K = C (1 - Vf)^3 / Vf^2. For fibres of radius r, C = r^2 / (4 k0) with k0 the Kozeny constant
/// (Kozeny 1927, Carman 1937; from memory). For fabrics C is commonly fitted to one measurement.
struct KozenyCarmanLaw {
  double constant; // C [m2]
};

/// Straight lines in ln K over Vf between measurements.
struct TableLaw {
  std::vector<double> fibre_volume_fraction; // ascending, two or more
  std::vector<double> log_permeability;      // ln (K / m2)
};

/// How parallel fibres stand side by side.
enum class Packing : std::uint8_t { square, hexagonal };

/// Parallel fibres of radius r in a regular array (Gebart 1992; c from memory): along them
///     K = (8 r^2 / c) (1 - Vf)^3 / Vf^2,                       c = 57 square, 53 hexagonal
/// and across, through the narrowest gaps,
///     K = c1 r^2 (sqrt(Vf_max / Vf) - 1)^(5/2),                0 from Vf_max on
/// with c1 = 16 / (9 pi sqrt 2), Vf_max = pi / 4 square; 16 / (9 pi sqrt 6), pi / (2 sqrt 3)
/// hexagonal. It is for the inside of a bundle: a fabric has channels between its bundles, which
/// carry far more.
struct AlignedFibresLaw {
  double radius; // r [m]
  Packing packing;
  bool is_across;
};

using PermeabilityLaw =
    std::variant<ConstantLaw, PowerLaw, KozenyCarmanLaw, TableLaw, AlignedFibresLaw>;

/// K at a fibre volume fraction, 0 < Vf < 1 [m2]. No law looks at its range here.
double permeability(const PermeabilityLaw& law, double fibre_volume_fraction);

/// Kozeny-Carman constant C = r^2 / (4 k0) [m2] of fibres of radius r [m].
KozenyCarmanLaw kozeny_carman_of_fibres(double radius, double kozeny_constant);

/// Preconditions: as many values [m2] as fractions, two or more; fractions ascending; values > 0.
TableLaw table_law(std::vector<double> fibre_volume_fraction, std::span<const double> values);

/// Fibre volume fraction at which the fibres of an array touch.
double closest_packing(Packing packing);

/// Where a law was measured, or is known to hold.
struct FractionRange {
  double lowest;
  double highest;
};

/// How far a fibre volume fraction lies outside a range, in margins: a margin is a tenth of the
/// end that is passed. Over one, K changes by some 30 to 60 % (d ln K / d ln Vf is -3 to -6), as
/// much as one fabric commonly scatters; over two, by about a factor of two. 0 inside.
double margins_outside(const FractionRange& range, double fibre_volume_fraction);

constexpr double margin_share = 0.1; // of the end of a range

} // namespace tidemark
