#include "solver/compaction.hpp"

#include "solver/interpolation.hpp"

#include <cassert>
#include <cmath>

namespace tidemark {

namespace {

double fraction_of(const PowerCompaction& law, double pressure) {
  return law.factor * std::pow(pressure / law.reference, law.exponent);
}

double fraction_of(const TableCompaction& law, double pressure) {
  return std::exp(interpolate(law.log_pressure, law.log_fraction, std::log(pressure)));
}

double pressure_of(const PowerCompaction& law, double vf) {
  return law.reference * std::pow(vf / law.factor, 1 / law.exponent);
}

double pressure_of(const TableCompaction& law, double vf) {
  return std::exp(interpolate(law.log_fraction, law.log_pressure, std::log(vf)));
}

} // namespace

double compacted_fraction(const CompactionLaw& law, double pressure) {
  return std::visit([&](const auto& known) { return fraction_of(known, pressure); }, law);
}

double compacting_pressure(const CompactionLaw& law, double fibre_volume_fraction) {
  return std::visit([&](const auto& known) { return pressure_of(known, fibre_volume_fraction); },
                    law);
}

TableCompaction table_compaction(std::span<const double> pressure,
                                 std::span<const double> fibre_volume_fraction) {
  assert(pressure.size() == fibre_volume_fraction.size() && pressure.size() >= 2);
  return {logarithms(pressure), logarithms(fibre_volume_fraction)};
}

} // namespace tidemark
