// How a quantity scatters about its mean.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

namespace tidemark {

/// Of a factor with mean 1. normal: cut off at three standard deviations to either side, which
/// leaves 98.7 % of the standard deviation.
enum class RandomLaw : std::uint8_t { lognormal, gamma, normal };

/// "lognormal", "gamma", "normal".
const char* law_word(RandomLaw law);
/// The law of that name; none if there is none.
std::optional<RandomLaw> law_named(std::string_view word);

/// Deviations at which normal laws are cut off.
inline constexpr double normal_cut = 3;

/// Phi^-1: the standard normal value that is not exceeded with a probability, 0 < p < 1.
double normal_score(double probability);

/// The same for the standard normal law cut off at `normal_cut` to either side.
double cut_normal_score(double probability);

/// F^-1(Phi(score)): the factor as likely as a standard normal value, F the law with mean 1 and
/// coefficient of variation v (standard deviation over mean), 0 <= v <= 1, for normal v <= 0.3.
///  - lognormal: exp(s score - s^2 / 2), s^2 = ln(1 + v^2);
///  - gamma: shape 1 / v^2, scale v^2;
///  - normal: 1 + v cut_normal_score(Phi(score)).
double factor_of_score(RandomLaw law, double variation, double score);

} // namespace tidemark
