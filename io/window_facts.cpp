#include "io/window_facts.hpp"

namespace tidemark {

std::string outcome_words(Outcome outcome) {
  switch (outcome) {
  case Outcome::fills:
    return "fills";
  case Outcome::opens_mould:
    return "opens the mould";
  case Outcome::near_gel:
    return "fills too near the gel";
  case Outcome::short_gel:
    return "short: gel";
  case Outcome::short_pressure:
    return "short: pressure";
  case Outcome::short_time:
    return "short: time limit";
  case Outcome::trapped_air:
    return "short: trapped air";
  case Outcome::short_otherwise:
    return "short: no path";
  case Outcome::beyond_machine:
    return "beyond the machine";
  case Outcome::failed:
    return "failed";
  case Outcome::not_run:
    break;
  }
  return "not run";
}

std::string obstacle_words(CurveObstacle obstacle) {
  switch (obstacle) {
  case CurveObstacle::heat:
    return "mould and resin have different temperatures, or cure gives off heat";
  case CurveObstacle::inline_ageing:
    return "the viscosity rises with the age of each parcel (mixed inline)";
  case CurveObstacle::gravity:
    return "gravity acts on the resin";
  case CurveObstacle::several_pumps:
    return "the gates do not share one pump";
  case CurveObstacle::schedule:
    return "the pump follows a schedule";
  case CurveObstacle::switched_gates:
    return "gates open or close on the way";
  case CurveObstacle::vent_pressures:
    return "the vents are not at one pressure";
  case CurveObstacle::bleeding:
    return "vents bleed";
  case CurveObstacle::shut_in_air:
    return "air is shut in on the way";
  case CurveObstacle::out_of_reach:
    break;
  }
  return "the resin does not come everywhere";
}

} // namespace tidemark
