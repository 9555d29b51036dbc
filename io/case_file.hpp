// A case file in, a checked problem in SI units out.
#pragma once

#include "io/resin_facts.hpp"
#include "solver/fill_problem.hpp"
#include "solver/layup.hpp"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// A value the run uses, for the list of inputs.
struct UsedValue {
  std::string key;   // "resin.viscosity", "region[skin].thickness"
  std::string value; // as the user wrote it, or the default with its unit
  bool given;        // false: the default
};

/// The layup of a region as it lies in the closed cavity.
struct LaidRegion {
  std::vector<std::string> names; // of the layers: "2 x mat", "gap", "core"
  ClosedStack stack;
};

struct Case {
  std::string title; // the file's name without extension if the case has none
  std::filesystem::path file;
  std::filesystem::path mesh_file;
  std::optional<std::filesystem::path> fabrics_file;
  double mesh_unit; // [m]
  std::string mesh_unit_name;
  FillProblem problem;
  std::vector<std::optional<LaidRegion>> layups; // by region; none where K is given
  ResinFacts resin;
  MachineFacts machine;
  std::optional<double> highest_temperature; // that the resin may have [K]
  std::optional<double> time_limit;          // [s], from [run]
  std::vector<UsedValue> values;
  std::vector<std::string> notes;    // what was dropped or merged in the mesh
  std::vector<std::string> warnings; // mesh findings and doubtful input, whole sentences
};

/// Reads and checks a case file and its mesh. Throws FileError if a file cannot be opened and
/// InputError with ALL findings (file:line: key: what was found, what is expected) otherwise.
Case read_case(const std::filesystem::path& file);

} // namespace tidemark
