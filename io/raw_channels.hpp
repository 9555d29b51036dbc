// Runners and race tracks as the case file writes them.
#pragma once

#include "io/toml_table.hpp"

#include <string>
#include <vector>

namespace tidemark {

struct RawRunner {
  std::string key; // "runner[R1]"
  int line = 1;
  Maybe<std::string> name;
  Maybe<std::string> group;                 // of mesh lines
  Maybe<std::vector<Eigen::Vector3d>> path; // points in mesh units
  Maybe<double> width;                      // with depth [m]
  Maybe<double> depth;                      // [m]
  Maybe<double> bore;                       // instead of the two [m]
};

struct RawRaceTrack {
  std::string key; // "race_track[T1]"
  int line = 1;
  Maybe<std::string> name;
  Maybe<std::string> group;                 // of mesh lines
  Maybe<std::vector<Eigen::Vector3d>> path; // points in mesh units
  Maybe<std::string> along;                 // "free edges", nothing else
  Maybe<std::vector<std::string>> between;  // two regions
  Maybe<double> gap;                        // [m]
  Maybe<double> permeability;               // [m2]
};

/// The tables [[runner]] and [[race_track]] of the document.
std::vector<RawRunner> read_runners(const TomlTable& document);
std::vector<RawRaceTrack> read_race_tracks(const TomlTable& document);

} // namespace tidemark
