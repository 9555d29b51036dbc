// A case file in, a checked problem in SI units out.
#pragma once

#include "io/case_edit.hpp"
#include "io/resin_facts.hpp"
#include "io/scatter_facts.hpp"
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

/// What a layer of a layup brings to a square metre of the part.
struct LayerMaterial {
  enum class Kind { fabric, gap, core } kind;
  std::string name;           // of the fabric; "gap", "core"
  std::optional<double> mass; // of fibres or core [kg/m2]; none for a core of unknown density
  std::optional<double> cost; // [currency/m2]; none without a price
};

/// The layup of a region as it lies in the closed cavity.
struct LaidRegion {
  std::vector<std::string> names;       // of the layers: "2 x mat", "gap", "core"
  std::vector<LayerMaterial> materials; // of the layers
  ClosedStack stack;
  /// Whether it differs from element to element; then this is the flat stack at mean thickness.
  bool varies = false;
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
  ScatterFacts scatter;
  std::optional<double> highest_temperature; // that the resin may have [K]
  std::optional<double> time_limit;          // [s], from [run]
  std::string currency;                      // of all prices; empty if it has no name
  std::optional<double> resin_price;         // [currency/m3]
  std::vector<UsedValue> values;
  std::vector<std::string> notes;    // what was dropped or merged in the mesh
  std::vector<std::string> warnings; // mesh findings and doubtful input, whole sentences
};

/// Reads and checks a case file and its mesh. Throws FileError if a file cannot be opened and
/// InputError with ALL findings (file:line: key: what was found, what is expected) otherwise. edit:
/// values tried in place of those written, or nothing; what is wrong with them is said with its
/// text (file with --try "...": key: ...).
Case read_case(const std::filesystem::path& file, const CaseEdit* edit = nullptr);

} // namespace tidemark
