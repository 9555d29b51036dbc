#include "io/many_fills.hpp"

#include <doctest/doctest.h>

#include <atomic>
#include <map>
#include <mutex>
#include <stdexcept>

using namespace tidemark;

namespace {

ManyFills squares(int threads) {
  ManyFills fills;
  for (std::size_t i = 0; i < 50; ++i) {
    fills.numbers.push_back(2 * i);
  }
  fills.threads = threads;
  fills.work = [](std::size_t number) { return std::optional(std::to_string(number * number)); };
  fills.goes_on = [] { return true; };
  return fills;
}

} // namespace

TEST_CASE("many fills: each number once, whatever the threads") {
  const ProcessTeam team;
  CHECK(team.rank() == 0);
  CHECK(team.size() == 1);
  for (const int threads : {1, 3}) {
    ManyFills fills = squares(threads);
    std::map<std::size_t, std::string> taken;
    std::mutex mutex;
    fills.take = [&](std::size_t number, const std::string& text) {
      const std::scoped_lock lock(mutex);
      CHECK(taken.emplace(number, text).second);
    };
    run_many(team, fills);
    CHECK(taken.size() == 50);
    CHECK(taken.at(14) == "196");
  }
}

TEST_CASE("many fills: once a result cannot be taken no more work is begun") {
  const ProcessTeam team;
  ManyFills fills = squares(2);
  std::atomic<int> begun = 0;
  fills.work = [&](std::size_t) {
    ++begun;
    return std::optional<std::string>("");
  };
  fills.take = [](std::size_t, const std::string&) { throw std::runtime_error("disk is full"); };
  CHECK_THROWS_WITH(run_many(team, fills), "disk is full");
  CHECK(begun <= 2);
}

TEST_CASE("many fills: work that throws ends the rest in order") {
  const ProcessTeam team;
  for (const int threads : {1, 3}) {
    ManyFills fills = squares(threads);
    std::atomic<int> begun = 0;
    fills.work = [&](std::size_t number) -> std::optional<std::string> {
      ++begun;
      if (number == 4) {
        throw std::runtime_error("no room");
      }
      return "x";
    };
    std::atomic<int> taken = 0;
    fills.take = [&](std::size_t, const std::string&) { ++taken; };
    CHECK_THROWS_WITH(run_many(team, fills), "no room");
    CHECK(taken == begun - 1);
  }
}

TEST_CASE("many fills: what was cut off is not taken") {
  const ProcessTeam team;
  ManyFills fills = squares(1);
  int done = 0;
  fills.work = [](std::size_t number) {
    return number == 6 ? std::nullopt : std::optional<std::string>("x");
  };
  fills.goes_on = [&] { return done < 10; };
  fills.take = [&](std::size_t number, const std::string&) {
    CHECK(number != 6);
    ++done;
  };
  run_many(team, fills);
  CHECK(done == 10);
}

TEST_CASE("process team: alone, ready or not") {
  const ProcessTeam team;
  CHECK(!team.first_unready(true));
  CHECK(team.first_unready(false) == 0);
}
