// Flow during a step in which no further cell becomes full.
#pragma once

#include "solver/flow_system.hpp"
#include "solver/step_input.hpp"

#include <cstdint>
#include <vector>

namespace tidemark {

struct FullFlow {
  std::vector<double> u;                  // of each unknown, as in PressureStep [-]
  std::vector<std::uint8_t> is_fed;       // full, and joined to a port that lets in
  std::vector<std::uint8_t> port_is_open; // as StepInput::ports
};

/// Solves for u where resin flows only on what is full at the start: links to other unknowns, and
/// ports, carry one way, and a pocket of air takes in V (1 - P / (P + s)) when its pressure rises
/// by s. All these resist the more the more they carry, so the energy
///     sum c (u_i - u_j)^2 / 2  +  sum c max(u_i - floor_j - s, 0)^2 / 2  +  ...  -  sum source_i
///     u_i
/// is convex, and a minimum exists whatever the set, the heights and the air pressures. Newton's
/// method with a direct solve of each linear system; where the links carry one way and there is no
/// pocket it comes down to the solution from above, and ends after finitely many steps. Throws
/// SolveError.
FullFlow flow_on_full(const FlowSystem& system, const StepInput& input);

} // namespace tidemark
