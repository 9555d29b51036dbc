#include "io/random_numbers.hpp"

#include "io/random_laws.hpp"

#include <cmath>
#include <limits>
#include <numeric>
#include <utility>

namespace tidemark {

namespace {

std::mt19937_64 seeded(std::initializer_list<std::uint64_t> seeds) {
  std::vector<std::uint32_t> words;
  for (const std::uint64_t seed : seeds) {
    words.push_back(static_cast<std::uint32_t>(seed & 0xFFFFFFFFU));
    words.push_back(static_cast<std::uint32_t>(seed >> 32U));
  }
  std::seed_seq sequence(words.begin(), words.end());
  return std::mt19937_64(sequence);
}

/// Fisher and Yates; std::shuffle differs from library to library.
std::vector<std::size_t> shuffled(std::size_t count, RandomNumbers& random) {
  std::vector<std::size_t> order(count);
  std::iota(order.begin(), order.end(), std::size_t{0});
  for (std::size_t i = count; i > 1; --i) {
    std::swap(order[i - 1], order[random.below(i)]);
  }
  return order;
}

} // namespace

RandomNumbers::RandomNumbers(std::initializer_list<std::uint64_t> seeds) : engine_(seeded(seeds)) {}

double RandomNumbers::uniform() {
  return (static_cast<double>(engine_() >> 12U) + 0.5) * 0x1p-52;
}

std::uint64_t RandomNumbers::below(std::uint64_t count) {
  const std::uint64_t rest = (std::numeric_limits<std::uint64_t>::max() - count + 1) % count;
  std::uint64_t number = engine_();
  while (number < rest) { // so that a whole number of counts is left
    number = engine_();
  }
  return number % count;
}

double RandomNumbers::normal() {
  return normal_score(uniform());
}

std::vector<std::vector<double>> latin_hypercube(std::size_t samples, std::size_t inputs,
                                                 std::uint64_t seed) {
  std::vector<std::vector<double>> probabilities;
  const auto n = static_cast<double>(samples);
  for (std::size_t input = 0; input < inputs; ++input) {
    RandomNumbers random({seed, input});
    std::vector<double>& column = probabilities.emplace_back();
    for (const std::size_t stratum : shuffled(samples, random)) {
      const auto low = static_cast<double>(stratum) / n;
      const auto high = static_cast<double>(stratum + 1) / n;
      const double place = (static_cast<double>(stratum) + random.uniform()) / n;
      column.push_back(place < high ? std::max(place, low) : std::nextafter(high, low));
    }
  }
  return probabilities;
}

} // namespace tidemark
