// Many fillings that have nothing to do with each other, on the threads of one machine or on the
// processes of a team.
#pragma once

#include "io/process_team.hpp"

#include <cstddef>
#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

struct ManyFills {
  std::vector<std::size_t> numbers; // of those to be computed; read by the leader only
  int threads = 1;                  // of a process that is alone; in a team each has one
  /// The result of a number as text; none where it was cut off. Called by several threads at once.
  /// Once it has thrown no more work is begun, in a process that follows by that process only.
  std::function<std::optional<std::string>(std::size_t number)> work;
  /// Takes a result, at the leader; called by several threads at once. Once it has thrown no more
  /// work is begun.
  std::function<void(std::size_t number, std::string text)> take;
  std::function<bool()> goes_on; // once it says no, no more work is begun
};

/// Hands out the numbers in their order, the next free thread or process taking the next, and
/// waits for all. To be called by each process of the team. Throws what work or take threw first
/// in this process.
void run_many(const ProcessTeam& team, const ManyFills& fills);

} // namespace tidemark
