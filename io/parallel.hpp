// Work shared out to threads.
#pragma once

#include <cstddef>
#include <exception>
#include <functional>
#include <string>

namespace tidemark {

/// Cores of the machine, at least 1.
int core_count();

/// Calls work(0) to work(count - 1), each once, on at most `threads` threads, the next free one
/// taking the next number. work must not throw.
void for_each_in_parallel(std::size_t count, int threads,
                          const std::function<void(std::size_t)>& work);

/// The same for work that may throw: what is thrown first keeps what has not begun from running and
/// is thrown again at the end.
void try_each_in_parallel(std::size_t count, int threads,
                          const std::function<void(std::size_t)>& work);

inline constexpr const char* out_of_memory = "out of memory";
/// What is told of a piece of work that failed.
std::string failure_text(const std::exception& error);

} // namespace tidemark
