#include "io/random_laws.hpp"

#include <boost/math/special_functions/erf.hpp>
#include <boost/math/special_functions/gamma.hpp>

#include <array>
#include <cmath>
#include <numbers>
#include <utility>

namespace tidemark {

namespace {

constexpr std::array<std::pair<RandomLaw, const char*>, 3> words{{
    {RandomLaw::lognormal, "lognormal"},
    {RandomLaw::gamma, "gamma"},
    {RandomLaw::normal, "normal"},
}};

/// Phi of a standard normal value.
double probability_below(double score) {
  return std::erfc(-score / std::numbers::sqrt2) / 2;
}

/// Below the median by the lower tail, above by the upper, where the digits are.
double gamma_factor(double shape, double score) {
  return (score < 0 ? boost::math::gamma_p_inv(shape, probability_below(score))
                    : boost::math::gamma_q_inv(shape, probability_below(-score))) /
         shape;
}

} // namespace

const char* law_word(RandomLaw law) {
  for (const auto& [known, word] : words) {
    if (known == law) {
      return word;
    }
  }
  return "";
}

std::optional<RandomLaw> law_named(std::string_view word) {
  for (const auto& [law, known] : words) {
    if (word == known) {
      return law;
    }
  }
  return std::nullopt;
}

double normal_score(double probability) {
  return -std::numbers::sqrt2 * boost::math::erfc_inv(2 * probability);
}

double cut_normal_score(double probability) {
  const double tail = probability_below(-normal_cut);
  return normal_score(tail + probability * (1 - 2 * tail));
}

double factor_of_score(RandomLaw law, double variation, double score) {
  if (variation == 0) {
    return 1;
  }
  const double square = variation * variation;
  switch (law) {
  case RandomLaw::lognormal: {
    const double s_square = std::log1p(square);
    return std::exp(std::sqrt(s_square) * score - s_square / 2);
  }
  case RandomLaw::gamma:
    return gamma_factor(1 / square, score);
  case RandomLaw::normal:
    return 1 + variation * cut_normal_score(probability_below(score));
  }
  return 1;
}

} // namespace tidemark
