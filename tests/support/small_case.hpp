// The text of a small case in pieces, the plate it is for, and what reading it gives.
#pragma once

#include "io/case_file.hpp"
#include "solver/fill_problem.hpp"

#include <string>
#include <vector>

namespace tidemark::small_case {

/// 3 by 2 squares of 10 mm cut into triangles, 12 nodes numbered along x first, labels from 101.
/// Elements 0 to 3 are the left column, "skin"; 4 to 11 are "core"; 0 and 4 are "overlap".
ShellMesh small_plate();

inline const std::string head = R"(
[part]
mesh = "plate.msh"
mesh_unit = "mm"
)";

inline const std::string two_regions = R"(
[[region]]
name = "skin"
groups = ["skin"]
thickness = "4 mm"
permeability = ["3e-9 m2", "1e-9 m2"]
porosity = 0.8
direction = [0, 3, 4]
angle = "30 deg"
[[region]]
name = "rest"
thickness = "6 mm"
permeability = "5e-9 m2"
porosity = "90 %"
direction = [0, 0, 1]
)";

inline const std::string resin_and_injector = R"(
[resin]
viscosity = "180 mPa.s"
density = "1.1 g/cm3"
gel_time = "25 min"
[injector]
flow_rate = "1.5 L/min"
pressure_cap = "1.2 bar"
)";

inline const std::string gate = R"(
[[gate]]
name = "G1"
at = [1, 9, 0]
radius = "11 mm"
)";

inline const std::string vent = R"(
[[vent]]
name = "V1"
group = "port"
pressure = "-0.5 bar"
)";

struct Outcome {
  FillProblem problem;
  std::vector<std::string> errors;
  std::vector<std::string> warnings;
  std::vector<UsedValue> values;
};

/// Reads and checks the text against the small plate.
Outcome outcome_of(const std::string& text);
Outcome outcome_of(const std::string& text, const ShellMesh& mesh);

/// The only error of a case that has one.
std::string error_of(const std::string& text);

/// The value of that key in the list of values used; empty if it is not there.
UsedValue value_of(const Outcome& outcome, const std::string& key);

/// To 12 digits.
bool is_near(double value, double expected);

} // namespace tidemark::small_case
