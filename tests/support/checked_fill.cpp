#include "tests/support/checked_fill.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace tidemark::test {

namespace {

void check_history(const FillProblem& problem, const FillResult& result) {
  const double infinity = std::numeric_limits<double>::infinity();
  const double cap = problem.injector.pressure_cap.value_or(infinity);
  const double set_flow = problem.injector.flow_rate.value_or(infinity);
  double time = 0;
  bool is_ordered = true;
  bool is_within_limits = true;
  for (const HistoryRow& row : result.history) {
    is_ordered = is_ordered && row.time > time;
    time = row.time;
    is_within_limits = is_within_limits && row.head_pressure >= front_pressure(problem) &&
                       row.head_pressure <= cap + 1e-9 * std::abs(cap) &&
                       row.flow_rate <= set_flow * (1 + 1e-8) && row.flow_rate >= 0;
  }
  CHECK(is_ordered);
  CHECK(is_within_limits);
}

} // namespace

CheckedFill checked_fill(const FillProblem& problem, const FillOptions& options) {
  double least = 0;
  double greatest = 0;
  double impulse = 0;
  double time = 0;
  const NodeId gate_node = problem.gates.front().nodes.front();
  const auto watch = [&](const StepReport& report) {
    const auto [low, high] = std::ranges::minmax(report.fill_fraction);
    least = std::min(least, low);
    greatest = std::max(greatest, high);
    impulse += (report.pressure[gate_node] - front_pressure(problem)) * (report.row.time - time);
    time = report.row.time;
    return true;
  };
  CheckedFill result;
  static_cast<FillResult&>(result) = fill(problem, options, watch);
  result.head_impulse = impulse;
  CHECK(least >= -1e-9);
  CHECK(greatest <= 1 + 1e-9);
  CHECK(std::abs(result.mass_balance_error) <= 1e-8);
  CHECK(result.work.largest_residual <= 1e-8);
  check_history(problem, result);
  return result;
}

FillResult watched_fill(const FillProblem& problem, const FillOptions& options,
                        const FillWatcher& watcher) {
  double least = 0;
  double greatest = 0;
  double least_flow = 0; // of a gate, over the flow of all
  double time = 0;
  bool goes_on = true;
  const FillResult result = fill(problem, options, [&](const StepReport& report) {
    const auto [low, high] = std::ranges::minmax(report.fill_fraction);
    least = std::min(least, low);
    greatest = std::max(greatest, high);
    goes_on = goes_on && report.row.time > time;
    time = report.row.time;
    for (const GateSample& gate : report.row.gates) {
      least_flow = std::min(least_flow, gate.flow_rate / std::max(report.row.flow_rate, 1e-15));
    }
    return watcher ? watcher(report) : true;
  });
  CHECK(least >= -1e-9);
  CHECK(greatest <= 1 + 1e-9);
  CHECK(least_flow >= -1e-8);
  CHECK(goes_on);
  CHECK(std::abs(result.mass_balance_error) <= 1e-8);
  CHECK(result.work.largest_residual <= 1e-8);
  return result;
}

} // namespace tidemark::test
