// How much resin and catalyst a shot takes, and how many strokes of the pump.
#pragma once

#include "io/case_file.hpp"
#include "solver/filling.hpp"

#include <nlohmann/json_fwd.hpp>

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace tidemark {

struct ResinUse {
  double in_part = 0;                    // [m3], that in channels and gaps among it
  double channels = 0;                   // runners and gaps can take [m3]
  double hoses = 0;                      // full from the start, from the heads to the gates [m3]
  double bled = 0;                       // out of the vents [m3]
  double waste = 0;                      // on top, for mixer, bucket and what is thrown away [m3]
  double to_mix = 0;                     // all of that but the channels, which are in the part [m3]
  std::optional<double> mass;            // of what is to be mixed, with the catalyst [kg]
  std::optional<double> catalyst_mass;   // of that, c / (1 + c) with c by mass of the resin [kg]
  std::optional<double> catalyst_volume; // [m3]
  struct Strokes {
    long shot;              // whole strokes, rounded up, that give what is injected
    double remainder;       // the last one gives more than is needed by that [m3]
    long hoses;             // besides, to fill the hoses
    double rate_at_start;   // near_start of io/filling_course [1/s]
    double rate_at_the_end; // near_end [1/s]
  };
  std::optional<Strokes> strokes; // of the common pump
};

/// What a line of hoses holds [m3].
double volume_of(std::span<const Hose> line);

/// For the resin injected in this filling.
ResinUse resin_use(const Case& input, const FillResult& result);

/// "To mix: 9.1 L ..." and so on, a line each; empty if neither waste, catalyst nor stroke is
/// given.
std::string resin_use_text(const Case& input, const ResinUse& use);

/// SI, the unit in each key.
nlohmann::ordered_json resin_use_json(const ResinUse& use);

/// Where the common pump is asked for more than the machine gives in this filling; what shows in
/// the set points alone is found when the case is read.
std::vector<std::string> machine_warnings(const Case& input, const FillResult& result);

} // namespace tidemark
