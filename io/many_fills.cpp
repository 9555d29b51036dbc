#include "io/many_fills.hpp"

#include "io/parallel.hpp"

#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <utility>

namespace tidemark {

namespace {

/// The numbers that are left, and the first exception on the way.
class Desk {
public:
  explicit Desk(const ManyFills& fills) : fills_(fills) {}

  std::optional<std::size_t> next() {
    if (has_failed_ || !fills_.goes_on()) {
      return std::nullopt;
    }
    const std::size_t place = next_++;
    return place < fills_.numbers.size() ? std::optional(fills_.numbers[place]) : std::nullopt;
  }

  void take(std::size_t number, std::string text) {
    guard([&] { fills_.take(number, std::move(text)); });
  }

  /// A result; none where it was cut off or could not be had.
  std::optional<std::string> result_of(std::size_t number) {
    std::optional<std::string> text;
    guard([&] { text = fills_.work(number); });
    return text;
  }

  /// One worker's turn until nothing is left.
  void work() {
    for (auto number = next(); number; number = next()) {
      if (auto text = result_of(*number)) {
        take(*number, std::move(*text));
      }
    }
  }

  void rethrow() const {
    if (failure_) {
      std::rethrow_exception(failure_);
    }
  }

private:
  template <class Work> void guard(const Work& work) {
    try {
      work();
    } catch (...) {
      const std::scoped_lock lock(mutex_);
      failure_ = failure_ ? failure_ : std::current_exception();
      has_failed_ = true;
    }
  }

  const ManyFills& fills_;
  std::atomic<std::size_t> next_ = 0;
  std::atomic<bool> has_failed_ = false;
  std::mutex mutex_; // of failure_
  std::exception_ptr failure_;
};

} // namespace

namespace {

/// The leader's part in a team of several. Without a thread for its own fillings the others do all.
void lead(const ProcessTeam& team, Desk& desk) {
  std::jthread own;
  try {
    own = std::jthread([&] { desk.work(); });
  } catch (const std::system_error&) {
    // as said above
  }
  team.lead([&] { return desk.next(); },
            [&](std::size_t number, std::string text) { desk.take(number, std::move(text)); });
}

} // namespace

void run_many(const ProcessTeam& team, const ManyFills& fills) {
  if (team.rank() != 0) {
    team.follow(fills.work);
    return;
  }
  Desk desk(fills);
  if (team.size() > 1) {
    lead(team, desk);
  } else {
    const auto workers = static_cast<std::size_t>(std::max(fills.threads, 1));
    for_each_in_parallel(std::min(workers, fills.numbers.size()), fills.threads,
                         [&](std::size_t) { desk.work(); });
  }
  desk.rethrow();
}

} // namespace tidemark
