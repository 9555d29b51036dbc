// How far a value is from what it should be.
#pragma once

#include <cmath>
#include <cstdio>
#include <cstring>
#include <source_location>

namespace tidemark::test {

/// |value - expected| / |expected|; NaN (which fails every check) for a NaN value.
inline double relative_error(double value, double expected,
                             std::source_location w = std::source_location::current()) {
  const double e = std::abs(value - expected) / std::abs(expected);
  std::fprintf(stderr, "%s:%d  %.9g vs %.9g: %.2e\n", std::strrchr(w.file_name(), '/') + 1,
               (int)w.line(), value, expected, e);
  return e;
}

} // namespace tidemark::test
