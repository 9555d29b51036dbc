// Work done in a child process, so that a crash or a runaway loop in a library is an outcome.
#pragma once

#include <cstddef>
#include <functional>
#include <string>

namespace tidemark {

struct ChildLimits {
  unsigned cpu_seconds;
  std::size_t address_space; // [bytes]; not applied under AddressSanitizer, which reserves it all
};

enum class ChildEnd { finished, out_of_time, out_of_memory, crashed };

struct ChildOutcome {
  ChildEnd end;
  std::string output; // what the work returned; empty unless finished
};

/// Runs the work in a forked copy of this process and brings home the bytes it returns. What the
/// child prints is thrown away. It ends with this process and keeps none of its files open. Work
/// that throws counts as crashed (std::bad_alloc: out of memory). Throws FileError if the system
/// has no process or pipe to give.
ChildOutcome run_in_child(const std::function<std::string()>& work, const ChildLimits& limits);

} // namespace tidemark
