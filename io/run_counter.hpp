// How many of several runs are done, on standard error.
#pragma once

#include <cstddef>
#include <iostream>
#include <mutex>
#include <string>
#include <utility>

namespace tidemark {

/// "3 of 5 runs done", written over and over; wiped at the end.
class RunCounter {
public:
  /// what: of which there are count, "runs".
  RunCounter(std::size_t count, std::string what, bool is_shown)
      : count_(count), what_(std::move(what)), is_shown_(is_shown) {
    show();
  }
  RunCounter(const RunCounter&) = delete;
  RunCounter& operator=(const RunCounter&) = delete;
  ~RunCounter() {
    if (is_shown_) {
      std::cerr << "\r" << std::string(text().size(), ' ') << "\r" << std::flush;
    }
  }
  void count_one() {
    const std::scoped_lock lock(mutex_);
    ++done_;
    show();
  }

private:
  [[nodiscard]] std::string text() const {
    return std::to_string(done_) + " of " + std::to_string(count_) + " " + what_ + " done";
  }
  void show() const {
    if (is_shown_) {
      std::cerr << "\r" << text() << std::flush;
    }
  }
  std::mutex mutex_;
  std::size_t count_;
  std::string what_;
  bool is_shown_;
  std::size_t done_ = 0;
};

} // namespace tidemark
