// Random numbers that are the same on every machine and with every library.
#pragma once

#include <cstdint>
#include <initializer_list>
#include <random>
#include <vector>

namespace tidemark {

/// A Mersenne twister of 64 bits, whose numbers the C++ standard fixes; so it does those of
/// seed_seq. The distributions of the standard library are left alone, since their numbers differ
/// from library to library.
class RandomNumbers {
public:
  /// Other seeds, one number or several, give another sequence.
  RandomNumbers(std::initializer_list<std::uint64_t> seeds);
  /// Evenly between 0 and 1, both excluded: (n + 1/2) / 2^53.
  double uniform();
  /// A whole number from 0 to count - 1, each as likely. Precondition: count > 0.
  std::uint64_t below(std::uint64_t count);
  /// Normally distributed, mean 0 and variance 1.
  double normal();

private:
  std::mt19937_64 engine_;
};

/// Latin hypercube (McKay, Beckman & Conover 1979): for each input a list of one probability per
/// sample, each of the equal strata [i/n, (i+1)/n) met once, at an even place in it, in an order of
/// its own. The list of an input depends on its position, the number of samples and the seed only.
std::vector<std::vector<double>> latin_hypercube(std::size_t samples, std::size_t inputs,
                                                 std::uint64_t seed);

} // namespace tidemark
