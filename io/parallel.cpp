#include "io/parallel.hpp"

#include <algorithm>
#include <atomic>
#include <mutex>
#include <new>
#include <system_error>
#include <thread>
#include <vector>

namespace tidemark {

int core_count() {
  return static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
}

void for_each_in_parallel(std::size_t count, int threads,
                          const std::function<void(std::size_t)>& work) {
  std::atomic<std::size_t> next = 0;
  const auto take_turns = [&] {
    for (std::size_t i = next++; i < count; i = next++) {
      work(i);
    }
  };
  const std::size_t helpers = std::min(count, static_cast<std::size_t>(std::max(threads, 1)));
  std::vector<std::jthread> others;
  try {
    for (std::size_t i = 1; i < helpers; ++i) {
      others.emplace_back(take_turns);
    }
  } catch (const std::system_error&) {
    // The system gives no more threads: those there are do.
  }
  take_turns();
} // the others are waited for here

void try_each_in_parallel(std::size_t count, int threads,
                          const std::function<void(std::size_t)>& work) {
  std::exception_ptr failure;
  std::mutex mutex; // of failure
  std::atomic<bool> has_failed = false;
  for_each_in_parallel(count, threads, [&](std::size_t i) {
    if (has_failed) {
      return;
    }
    try {
      work(i);
    } catch (...) {
      const std::scoped_lock lock(mutex);
      failure = failure ? failure : std::current_exception();
      has_failed = true;
    }
  });
  if (failure) {
    std::rethrow_exception(failure);
  }
}

std::string failure_text(const std::exception& error) {
  return dynamic_cast<const std::bad_alloc*>(&error) != nullptr ? out_of_memory : error.what();
}

} // namespace tidemark
