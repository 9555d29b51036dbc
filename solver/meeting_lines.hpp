// Where the resins of different gates meet.
#pragma once

#include "mesh/shell_mesh.hpp"
#include "solver/filling.hpp"

#include <array>
#include <cstdint>
#include <vector>

namespace tidemark {

/// A line along which the resins of two gates met.
struct MeetingLine {
  std::array<std::int32_t, 2> gates; // numbers, the lower first
  double length;                     // along the surface [m]
  Vector3 middle;                    // the point of the line nearest to its mean [m]
  double first, last;                // when the two met there, first and last [s]
};

/// The lines between nodes reached first by the resin of different gates, pair by pair, the longest
/// of each first. gate: of each node, -1 where no resin came; time: when it came [s]; body: a
/// number for each gate, the same for those whose resins are one body and do not meet. A line goes
/// through the middles of the edges between such nodes, smoothed ten times over its neighbours,
/// so that its length is that of the line and not of the mesh's zigzag; resins have met at an edge
/// when both its ends are reached. Lines through fewer than five edges are left out: the mesh
/// cannot tell.
std::vector<MeetingLine> meeting_lines(const ShellMesh& mesh, const PerNode<std::int32_t>& gate,
                                       const PerNode<double>& time,
                                       const std::vector<std::int32_t>& body);

/// The same of a filling. A gate that opens where resin is already, as on arrival, only pushes that
/// on: the two are one body.
std::vector<MeetingLine> meeting_lines(const FillProblem& problem, const FillResult& result);

} // namespace tidemark
