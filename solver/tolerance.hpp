// What counts as full, and as come, within rounding.
#pragma once

namespace tidemark {

/// A fill fraction from which an unknown counts as full [-].
constexpr double full_fraction = 1 - 1e-9;

/// Part of a time set beforehand from which it counts as come [-].
constexpr double nearly = 1 - 1e-12;

/// The same of a volume let in. Beside wide channels no flow is known better than to some
/// 1e-7: a step for the rest would be so short that its pressures are all rounding.
constexpr double nearly_all_let = 1 - 1e-6;
/// Part of the volume a vent bleeds by which it may close early or late [-]: own choice; a clamp
/// shut by hand is far less exact.
constexpr double bleed_tolerance = 1e-4;

} // namespace tidemark
