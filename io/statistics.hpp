// What samples tell: means, quantiles, shares, and what goes with what.
#pragma once

#include <cstddef>
#include <vector>

namespace tidemark {

/// Lower and upper end.
struct ConfidenceInterval {
  double low;
  double high;
};

/// Precondition of all: the lists are not empty.
double mean_of(const std::vector<double>& values);
/// Of the population, with n - 1; 0 for a single value.
double standard_deviation(const std::vector<double>& values);
/// Of the mean: standard deviation / sqrt(n), as for independent values.
double standard_error(const std::vector<double>& values);

/// The quantile for a share of 0 to 1: a straight line between the order statistics either side of
/// (n - 1) share + 1 (definition 7 of Hyndman & Fan 1996).
double quantile(std::vector<double> values, double share);

/// Order statistics between which the quantile of the population lies with the confidence, from the
/// binomial law, whatever the law of the values; as narrow as it can be with half the risk at
/// either end. An end that the sample is too small for is the least or largest value.
ConfidenceInterval quantile_interval(std::vector<double> values, double share,
                                     double confidence = 0.95);

/// Clopper & Pearson 1934: between which the probability of an event lies that came in `events` of
/// `samples` independent samples. Holds the confidence or more.
/// Preconditions: events <= samples, samples > 0.
ConfidenceInterval probability_interval(std::size_t events, std::size_t samples,
                                        double confidence = 0.95);

/// Ranks from 1; equal values share the mean of theirs.
std::vector<double> ranks_of(const std::vector<double>& values);

/// Pearson's correlation; 0 if one of the two does not vary.
double correlation(const std::vector<double>& x, const std::vector<double>& y);

/// Spearman's: the correlation of the ranks.
double rank_correlation(const std::vector<double>& x, const std::vector<double>& y);

/// Of so many inputs that have nothing to do with a figure, the largest rank correlation is nearer
/// to zero than this in 19 of 20 cases at least: r = t / sqrt(n - 2 + t^2), t of Student's law with
/// n - 2 degrees of freedom beyond which it comes with a chance of 0.05 / inputs (Kendall 1948;
/// Bonferroni's bound; both from memory). 1 of less than 3 samples.
double chance_correlation(std::size_t samples, std::size_t inputs);

struct RankRegression {
  std::vector<double> coefficients; // of each input [-]; 0 of one that does not vary
  double determination = 0;         // R^2: share of the ranks' variance that the inputs explain
};

/// Linear regression of the ranks of y on those of all inputs together, all scaled to variance 1
/// (Iman & Conover 1979): what each input does by itself, the others held. inputs: a list for each.
/// Without more samples than inputs + 1 there is none: coefficients and R^2 are 0.
RankRegression rank_regression(const std::vector<std::vector<double>>& inputs,
                               const std::vector<double>& y);

} // namespace tidemark
