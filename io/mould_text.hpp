// What is said of the force that opens the mould: what resin and fibres have of it, and what holds.
#pragma once

#include "solver/filling.hpp"

#include <optional>
#include <string>

namespace tidemark {

/// Whether the filling lifts a mould of which it is said what holds it shut.
bool opens_mould(const FillResult& result);

/// What resin and fibres have of an opening force [N]: "50.1 kN by the resin, 48.0 kN by the
/// fibres"; empty where no push of fibres is known, and all of it is the resin's.
std::string shares_of_force(const FibrePush& fibres, double force);

/// "The push of the fibres is not counted: ..." with how much of the part that is of; empty where
/// all of it is known, or there are no fibres.
std::string uncounted_fibres_text(const FibrePush& push);

/// That faces of the part hide others along the closing direction, as in a hollow part, and what is
/// taken for the force then: a sentence. Empty where they do not.
std::string hidden_faces_text(const RestingPush& push);

/// Whether the highest push is that of the last layer of cells. Precondition of this and the next
/// two: result.mould_load.
bool is_of_last_layer(const FillResult& result);

/// Whether it comes as the part fills, not as its vents bleed.
bool is_full_at_peak(const FillResult& result);

/// What cannot be told of the last layer of cells: how high the push climbs as it fills, at most
/// [N]; none where that is known.
std::optional<double> untold_push(const FillProblem& problem, const FillResult& result);

/// What a "?" behind a push means that is not known so.
std::string climbing_note();

/// Cell of a table: an opening force, marked where the push climbs (see untold_push), or "-".
std::string force_cell(const std::optional<double>& force, bool climbs);

/// For `check`: what holds the mould shut, what the fibres push, and what that leaves for the
/// resin. Whole lines; empty without a mould, or where it is not said what holds it.
std::string mould_at_rest_text(const FillProblem& problem);

} // namespace tidemark
