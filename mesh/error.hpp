// The three ways a run can fail that are not our own bugs; io/main turns them into exit codes.
#pragma once

#include <cstddef>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace tidemark {

/// The user's input is wrong (exit code 2). Carries every finding of the run, one line each. The
/// last `unfilled` of them tell of values still to be filled in, which are no mistakes.
class InputError : public std::runtime_error {
public:
  explicit InputError(std::vector<std::string> findings, std::size_t unfilled = 0)
      : std::runtime_error(joined(findings)), findings_(std::move(findings)), unfilled_(unfilled) {}
  explicit InputError(const std::string& finding) : InputError(std::vector<std::string>{finding}) {}
  [[nodiscard]] const std::vector<std::string>& findings() const { return findings_; }
  [[nodiscard]] std::size_t unfilled() const { return unfilled_; }

private:
  static std::string joined(const std::vector<std::string>& findings) {
    std::string text;
    for (const std::string& finding : findings) {
      text += (text.empty() ? "" : "\n") + finding;
    }
    return text;
  }
  std::vector<std::string> findings_;
  std::size_t unfilled_;
};

/// The numerics failed (exit code 3): a linear solve or an iteration that did not converge.
class SolveError : public std::runtime_error {
public:
  using std::runtime_error::runtime_error;
};

/// A file could not be read or written (exit code 4).
class FileError : public std::runtime_error {
public:
  using std::runtime_error::runtime_error;
};

} // namespace tidemark
