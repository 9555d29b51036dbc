#include "solver/permeability.hpp"

#include "solver/interpolation.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>

namespace tidemark {

using std::numbers::pi;

namespace {

double kozeny_carman_shape(double vf) {
  return std::pow(1 - vf, 3) / (vf * vf);
}

double permeability_of(const ConstantLaw& law, double /*vf*/) {
  return law.value;
}

double permeability_of(const PowerLaw& law, double vf) {
  return law.factor * std::pow(vf, law.exponent);
}

double permeability_of(const KozenyCarmanLaw& law, double vf) {
  return law.constant * kozeny_carman_shape(vf);
}

double permeability_of(const TableLaw& law, double vf) {
  return std::exp(interpolate(law.fibre_volume_fraction, law.log_permeability, vf));
}

double permeability_of(const AlignedFibresLaw& law, double vf) {
  const bool is_square = law.packing == Packing::square;
  const double r2 = law.radius * law.radius;
  if (!law.is_across) {
    return 8 * r2 / (is_square ? 57 : 53) * kozeny_carman_shape(vf);
  }
  const double opening = std::sqrt(closest_packing(law.packing) / vf) - 1;
  const double c1 = 16 / (9 * pi * std::sqrt(is_square ? 2.0 : 6.0));
  return opening > 0 ? c1 * r2 * std::pow(opening, 2.5) : 0;
}

} // namespace

double permeability(const PermeabilityLaw& law, double fibre_volume_fraction) {
  return std::visit(
      [&](const auto& known) { return permeability_of(known, fibre_volume_fraction); }, law);
}

KozenyCarmanLaw kozeny_carman_of_fibres(double radius, double kozeny_constant) {
  return {radius * radius / (4 * kozeny_constant)};
}

TableLaw table_law(std::vector<double> fibre_volume_fraction, std::span<const double> values) {
  assert(fibre_volume_fraction.size() == values.size() && values.size() >= 2);
  return {std::move(fibre_volume_fraction), logarithms(values)};
}

double closest_packing(Packing packing) {
  return packing == Packing::square ? pi / 4 : pi / (2 * std::numbers::sqrt3);
}

double margins_outside(const FractionRange& range, double fibre_volume_fraction) {
  const double below = (range.lowest - fibre_volume_fraction) / (margin_share * range.lowest);
  const double above = (fibre_volume_fraction - range.highest) / (margin_share * range.highest);
  const double outside = std::max(below, above);
  const double rounding = 1e-8; // a ply closed to the very end of its range is inside
  return outside > rounding ? outside : 0;
}

} // namespace tidemark
