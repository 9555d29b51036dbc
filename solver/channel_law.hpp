// Flow of resin where there are no fibres: channels, gaps, tubes and hoses (Poiseuille's laws).
#pragma once

#include "solver/fill_problem.hpp"

#include <span>

namespace tidemark {

/// Permeability of a channel of rectangular cross-section, fully developed laminar flow: the mean
/// velocity is K / mu times the pressure gradient.
///     K = a^2/12 [1 - 192 a / (pi^5 b) sum over odd n of tanh(n pi b / 2a) / n^5]  [m2]
/// a the smaller of width and depth, b the larger [m], both > 0. (The textbook series; White,
/// Viscous Fluid Flow, from memory.)
double rectangle_permeability(double width, double depth);

/// Permeability of a tube of round bore d [m]: d^2 / 32 [m2].
double tube_permeability(double bore);

/// Permeability of a slot much wider than its gap [m]: gap^2 / 12 [m2].
double slot_permeability(double gap);

/// Resistance of lengths of hose one after the other, R = sum of 128 l / (pi d^4) [1/m3]: a flow Q
/// loses the pressure mu R Q. 0 for none.
double hose_resistance(std::span<const Hose> line);

} // namespace tidemark
