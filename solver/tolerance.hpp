// What counts as full, and as come, within rounding.
#pragma once

namespace tidemark {

/// A fill fraction from which an unknown counts as full [-].
constexpr double full_fraction = 1 - 1e-9;

/// Part of a time or volume set beforehand from which it counts as come [-].
constexpr double nearly = 1 - 1e-12;

} // namespace tidemark
