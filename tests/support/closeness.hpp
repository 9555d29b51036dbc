// How far a value is from what it should be.
#pragma once

#include <cmath>

namespace tidemark::test {

/// |value - expected| / |expected|; NaN, which fails every check, for a NaN value.
inline double relative_error(double value, double expected) {
  return std::abs(value - expected) / std::abs(expected);
}

} // namespace tidemark::test
