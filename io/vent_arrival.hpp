// When resin comes to a vent or gate: one along a line sees it in one place first, in others later.
#pragma once

#include "solver/filling.hpp"

#include <cstddef>
#include <optional>

namespace tidemark {

struct VentArrival {
  std::optional<double> first; // at the first of its nodes [s]; none: it never came
  std::optional<double> all;   // at the last of them [s]; none: part of the vent stays dry
};

/// Air leaves through a vent up to the second of the two.
VentArrival vent_arrival(const FillProblem& problem, const FillResult& result, std::size_t vent);

/// Whether the two are so far apart that both are told, or only the first exists.
bool comes_bit_by_bit(const VentArrival& arrival);

/// Whether the front comes to a port bit by bit: a vent of several nodes, a gate by a group of
/// them.
bool is_of_several_places(const FillProblem& problem, const PortRef& port);

} // namespace tidemark
