// A filling watched at every step.
#pragma once

#include "solver/filling.hpp"

namespace tidemark::test {

struct CheckedFill : FillResult {
  double head_impulse = 0; // integral of (p_head - p_front) dt [Pa s]
};

/// Fills and checks what must hold in any filling: -1e-9 <= F <= 1 + 1e-9 at all steps, mass
/// balance within 1e-8, times that never go back, head pressure between front pressure and cap,
/// flow rate at most the set one.
CheckedFill checked_fill(const FillProblem& problem, const FillOptions& options = {});

/// Fills and checks what must hold whatever drives the resin: 0 <= F <= 1 as above at all steps,
/// mass balance within 1e-8, times that go on, gates that only let in.
FillResult watched_fill(const FillProblem& problem, const FillOptions& options = {},
                        const FillWatcher& watcher = {});

} // namespace tidemark::test
