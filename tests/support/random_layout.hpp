// Small parts with gates, vents, hoses, channels and materials drawn at random.
#pragma once

#include "solver/filling.hpp"

#include <cstdint>
#include <string>

#if defined(__SANITIZE_ADDRESS__)
#define TIDEMARK_ADDRESS_SANITIZER
#elif defined(__has_feature) // of Clang
#if __has_feature(address_sanitizer)
#define TIDEMARK_ADDRESS_SANITIZER
#endif
#endif

namespace tidemark::test {

/// A problem of 20 to 400 nodes; the same seed gives the same problem on every machine.
struct RandomLayout {
  FillProblem problem;
  FillOptions options;
};
RandomLayout random_layout(std::uint32_t seed);

/// How many of `all` seeds a test takes: a third under the address sanitizer, where each takes
/// several times as long and the others run the same code.
constexpr std::uint32_t seeds_tried(std::uint32_t all) {
#ifdef TIDEMARK_ADDRESS_SANITIZER
  return all / 3;
#else
  return all;
#endif
}

/// What is wrong with the filling of a layout, in words; empty if nothing is. Whatever the layout:
/// no exception, fewer than 5000 steps, finite numbers, time that goes on, -1e-9 <= F <= 1 + 1e-9,
/// injected = resident + bled to 1e-8, air that never had a vent conserved to 1e-8, a verdict of
/// filled or a reason.
std::string faults_of_filling(const RandomLayout& layout);

} // namespace tidemark::test
