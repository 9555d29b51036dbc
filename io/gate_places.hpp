// Where the command gates may put a gate.
#pragma once

#include "io/case_file.hpp"
#include "solver/gate_ranking.hpp"

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// What the options say of the places.
struct PlaceChoice {
  std::vector<std::string> points;    // "120, 300, 0" in mesh units: these only
  std::optional<std::string> group;   // nodes of a named group only
  bool at_rim = false;                // nodes on free edges only
  std::vector<std::string> forbidden; // regions: no node of theirs
  std::optional<double> spacing;      // at least so far apart [m]; none: about a thousand places
  std::optional<double> radius;       // of the port [m]; none: that of the case's first gate
};

/// Radius of the ports [m]. Throws InputError if neither the choice nor the first gate has one, or
/// if it is larger than half the part.
double port_radius(const Case& input, const PlaceChoice& choice);

struct ChosenPlaces {
  std::vector<Gate> gates;  // a port at each place; points in their order, else evenly spread
  std::size_t at_vents = 0; // places left out because a vent has one of their nodes
};

/// The places that are left by the choice. Throws InputError (gates: --option: found, expected) for
/// what does not fit the part, and if no place is left.
ChosenPlaces chosen_places(const Case& input, const FactoredPart& part, const PlaceChoice& choice);

} // namespace tidemark
