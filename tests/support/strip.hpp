// Strips along x, fed and vented across their whole width: filling in one dimension.
#pragma once

#include "solver/filling.hpp"

#include <string>
#include <vector>

namespace tidemark::test {

/// A strip 0.3 m wide from one x to another, with the common data of the closed forms at 1e5 Pa
/// (front diffusivity D = 1.25e-3 m2/s), cut into cells along x. Its gate "G1" is all nodes at the
/// given x. Precondition: the gate is at a border of cells.
struct StripShape {
  double from = 0;
  double to = 1;
  double gate_at = 0;
  int cells = 100;
};
FillProblem strip(const StripShape& shape = {});

/// Nodes at an x, across the strip; at least one.
std::vector<NodeId> across(const ShellMesh& mesh, double x);

/// One more gate or vent at all nodes at an x. The gate hangs on the common head and is open.
Gate& add_gate(FillProblem& problem, double x);
Vent& add_vent(FillProblem& problem, double x, double pressure = 0);

/// Fill time at an x, the same all across.
double time_across(const FillProblem& problem, const FillResult& result, double x);

/// The first row of the history at or after a time; there is one.
const HistoryRow& row_at(const FillResult& result, double time);

} // namespace tidemark::test
