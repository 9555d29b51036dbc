// Whether a filling needs a vent, and how far it may stand from its place.
#pragma once

#include "mesh/surface_distance.hpp"
#include "solver/filling.hpp"

#include <cstddef>
#include <functional>
#include <optional>
#include <vector>

namespace tidemark {

struct NearNode {
  NodeId node;
  double distance; // from the vent along the surface [m]
};

/// Nodes a vent may be moved to.
struct VentDirection {
  Vector3 direction;           // unit vector along the surface at the vent
  std::vector<NearNode> nodes; // within half a sector of it as seen from the vent, nearest first
};

/// A place the vent was moved to.
struct TriedPlace {
  NearNode place;
  double dry_volume; // pore volume that stays dry with it there [m3], 0 if the part fills
};

/// The vent in the places of one direction.
struct VentWay {
  std::vector<TriedPlace> fills;     // tried, and no more stays dry than may, nearest first
  std::optional<TriedPlace> shut_in; // beyond them, the nearest tried with which more does
};

/// Pore volume that stays dry in a filling [m3]: 0 if the part fills.
double dry_volume(const FillResult& result);

/// The nodes within reach [m] of a vent along the surface, without those of gates and other vents,
/// by eight sectors of direction; sectors without a node are left out. Precondition: the vent has
/// one node.
std::vector<VentDirection> directions_of(const FillProblem& problem, const SurfaceGraph& graph,
                                         std::size_t vent, double reach);

/// Fills with the vent at the nearest node, then each time twice as far, until more stays dry than
/// may, allowed [m3], or the nodes end; then between the last place and the one before, until no
/// node is between or they differ by a tenth. Nothing is known of what lies between the places
/// tried. If goes_on, asked after each step, says no, what was tried by then. Throws SolveError.
VentWay way_of(FillProblem problem, std::size_t vent, const VentDirection& direction,
               double allowed, const FillOptions& options, const std::function<bool()>& goes_on);

/// The filling without one of the vents. Precondition: no gate waits for it. Throws SolveError.
FillResult fill_without(FillProblem problem, std::size_t vent, const FillOptions& options,
                        const std::function<bool()>& goes_on);

} // namespace tidemark
