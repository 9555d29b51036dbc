#include "io/channel_value_check.hpp"

#include "io/value_range.hpp"
#include "io/wording.hpp"

#include <algorithm>

namespace tidemark {

namespace {

constexpr Limits section_limits{1e-7,
                                10,
                                1e-4,
                                0.2,
                                "a length above 0 (from 1e-7 m to 10 m)",
                                "0.1 mm to 200 mm are usual; is the unit right (mm, cm, m)?"};
constexpr Limits gap_limits{1e-7,
                            10,
                            1e-5,
                            0.02,
                            "a gap above 0 (from 1e-7 m to 10 m)",
                            "0.01 mm to 20 mm are usual; is the unit right (mm, cm, m)?"};
constexpr Limits track_permeability_limits{
    1e-25,
    1,
    1e-12,
    1e-4,
    "a permeability above 0 (from 1e-25 m2 to 1 m2)",
    "1e-12 m2 to 1e-4 m2 are usual; is the unit right (1 mm2 = 1e-6 m2, 1 darcy = 1e-12 m2)?"};

std::vector<std::string> region_names(const RawCase& raw) {
  std::vector<std::string> names;
  for (const RawRegion& region : raw.regions) {
    if (region.name) {
      names.push_back(region.name->value);
    }
  }
  return names;
}

void check_between(const RawCase& raw, const RawRaceTrack& track, Findings& findings) {
  const std::vector<std::string> known = region_names(raw);
  const bool all_named = known.size() == raw.regions.size(); // or it may be one still without
  for (const std::string& name : track.between->value) {
    if (all_named && std::ranges::find(known, name) == known.end()) {
      add_error(findings, track.between->line, track.key + ".between",
                "found " + quoted_text(name) +
                    ", expected a region: " + list_with_nearest(name, known));
    }
  }
}

} // namespace

void check_channel_values(const RawCase& raw, Findings& findings) {
  for (const RawRunner& runner : raw.runners) {
    check_range(runner.width, runner.key + ".width", section_limits, findings);
    check_range(runner.depth, runner.key + ".depth", section_limits, findings);
    check_range(runner.bore, runner.key + ".bore", section_limits, findings);
  }
  for (const RawRaceTrack& track : raw.race_tracks) {
    check_range(track.gap, track.key + ".gap", gap_limits, findings);
    check_range(track.permeability, track.key + ".permeability", track_permeability_limits,
                findings);
    if (track.between) {
      check_between(raw, track, findings);
    }
  }
}

} // namespace tidemark
