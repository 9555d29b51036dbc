// What the program says on the terminal besides the verdict, in shop units: the facts of a check,
// and the progress line.
#pragma once

#include "io/case_file.hpp"
#include "solver/filling.hpp"

#include <chrono>
#include <deque>
#include <iosfwd>
#include <optional>
#include <string>
#include <utility>

namespace tidemark {

/// The values, mesh, gates, vents and channels of a case that was read.
std::string check_text(const Case& input);

/// Foresees how much longer a filling will be computed, from the pace of the latest steps.
class PaceEstimate {
public:
  /// wall_time: since the start of the run [s]; filled_fraction: reached by then [-].
  void add(double wall_time, double filled_fraction);
  /// Wall time left [s]; none before two steps have shown a pace.
  [[nodiscard]] std::optional<double> time_left() const;

private:
  std::deque<std::pair<double, double>> samples_; // the latest steps: wall time, fraction
};

/// "42 % filled at 3:20 min, about 12 s left"; time [s] after the start of injection, time_left
/// [s] of computing.
std::string progress_text(double filled_fraction, double time, std::optional<double> time_left);

/// One line that is written over and over, at most ten times a second, and wiped at the end.
class ProgressLine {
public:
  explicit ProgressLine(std::ostream& stream);
  ProgressLine(const ProgressLine&) = delete;
  ProgressLine& operator=(const ProgressLine&) = delete;
  ~ProgressLine();
  void after_step(const HistoryRow& row);

private:
  void show(const std::string& text);

  using Clock = std::chrono::steady_clock;
  std::ostream& stream_;
  Clock::time_point start_;
  std::optional<Clock::time_point> shown_;
  std::size_t width_ = 0; // of the text that stands there
  PaceEstimate pace_;
};

} // namespace tidemark
