// Layouts nobody thought of: gates, vents, hoses, channels, air and gravity drawn at random.
#include "tests/support/random_layout.hpp"

#include <doctest/doctest.h>

using namespace tidemark::test;

TEST_CASE("Random layouts fill, or say why not, and lose nothing") {
  for (std::uint32_t seed = 1; seed <= 300; ++seed) {
    const std::string faults = faults_of_filling(random_layout(seed));
    CHECK_MESSAGE(faults.empty(), "seed " << seed << ": " << faults);
  }
}
