// How closely a pressure on dry reinforcement packs its fibres.
#pragma once

#include <span>
#include <variant>
#include <vector>

namespace tidemark {

/// Vf = A (p / p0)^B: the usual fit to a compaction test.
struct PowerCompaction {
  double factor;    // A, fibre volume fraction at the reference pressure
  double reference; // p0 [Pa]
  double exponent;  // B, > 0
};

/// Straight lines in ln Vf over ln p between measurements: a power law from each to the next.
struct TableCompaction {
  std::vector<double> log_pressure; // ln (p / Pa), ascending, two or more
  std::vector<double> log_fraction; // ln Vf, ascending
};

using CompactionLaw = std::variant<PowerCompaction, TableCompaction>;

/// Fibre volume fraction under a pressure on the fibres (over that of the air in them) [Pa], > 0.
/// The laws know no end: the result may exceed 1.
double compacted_fraction(const CompactionLaw& law, double pressure);

/// Pressure that packs the fibres to a fibre volume fraction [Pa]: the inverse of
/// compacted_fraction. Infinite or 0 where a number cannot hold it.
double compacting_pressure(const CompactionLaw& law, double fibre_volume_fraction);

/// Preconditions: as many fractions as pressures [Pa], two or more; both > 0 and ascending.
TableCompaction table_compaction(std::span<const double> pressure,
                                 std::span<const double> fibre_volume_fraction);

} // namespace tidemark
