#include "io/interrupt.hpp"

#include <csignal>

namespace tidemark {

namespace {

volatile std::sig_atomic_t signal_came = 0;

void on_signal(int number) {
  if (signal_came != 0) {
    std::signal(number, SIG_DFL);
    std::raise(number);
  }
  signal_came = 1;
}

} // namespace

void catch_interrupts() {
  std::signal(SIGINT, on_signal);
  std::signal(SIGTERM, on_signal);
}

bool interrupted() {
  return signal_came != 0;
}

} // namespace tidemark
