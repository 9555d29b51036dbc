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

const char* map_word(Outcome outcome) {
  switch (outcome) {
  case Outcome::fills:
    return "fills";
  case Outcome::opens_mould:
    return "opens";
  case Outcome::near_gel:
    return "late";
  case Outcome::short_gel:
    return "gel";
  case Outcome::short_pressure:
    return "stall";
  case Outcome::short_time:
    return "time";
  case Outcome::trapped_air:
    return "air";
  case Outcome::short_otherwise:
    return "no way";
  case Outcome::beyond_machine:
    return "machine";
  case Outcome::failed:
    return "failed";
  case Outcome::not_run:
    break;
  }
  return "?";
}

const char* outcome_meaning(Outcome outcome) {
  switch (outcome) {
  case Outcome::fills:
    return "the part fills safely";
  case Outcome::opens_mould:
    return "the mould is pushed open";
  case Outcome::near_gel:
    return "it fills, but closer to the gel than resin.gel_safety";
  case Outcome::short_gel:
    return "short: the resin gels first";
  case Outcome::short_pressure:
    return "short: the flow comes to a stand at the cap";
  case Outcome::short_time:
    return "short: not full at the time limit";
  case Outcome::trapped_air:
    return "short: air is shut in";
  case Outcome::short_otherwise:
    return "short: part of the cavity has no connection to any gate";
  case Outcome::beyond_machine:
    return "it fills, but beyond what the machine may be run at";
  case Outcome::failed:
    return "the computation failed: see window.csv";
  case Outcome::not_run:
    break;
  }
  return "not tried";
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
