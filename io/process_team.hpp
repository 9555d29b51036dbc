// Processes that were started together by mpirun and share one task. Built without MPI, or started
// alone, the team has one member.
#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <string>

namespace tidemark {

/// One at a time in a process, on its main thread.
class ProcessTeam {
public:
  /// MPI is not touched unless the process was started by its launcher, as its environment shows.
  /// Throws InputError if a launcher started several but the program was built without MPI.
  ProcessTeam();
  ProcessTeam(const ProcessTeam&) = delete;
  ProcessTeam& operator=(const ProcessTeam&) = delete;
  /// Waits for the others.
  ~ProcessTeam();

  [[nodiscard]] int rank() const { return rank_; } // 0: the leader
  [[nodiscard]] int size() const { return size_; }

  /// The lowest rank that is not ready; none if all are. To be called by all of them.
  [[nodiscard]] std::optional<int> first_unready(bool is_ready) const;

  /// The leader's part: gives next() to each of the others that asks, and what they made of it to
  /// take, until next() gives nothing and all have been told so. Neither may throw.
  void lead(const std::function<std::optional<std::size_t>()>& next,
            const std::function<void(std::size_t number, std::string text)>& take) const;

  /// The others' part: asks for numbers and hands back what work makes of them, nothing where it
  /// was cut off, until there are no more. What work throws is thrown again once the leader knows
  /// that this process asks no more.
  void follow(const std::function<std::optional<std::string>(std::size_t number)>& work) const;

private:
  int rank_ = 0;
  int size_ = 1;
  bool has_joined_ = false; // and must leave
};

} // namespace tidemark
