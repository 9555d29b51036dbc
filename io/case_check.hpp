// Whether the values of a case make sense, alone and together with its mesh.
#pragma once

#include "io/case_file.hpp"
#include "io/findings.hpp"
#include "io/raw_case.hpp"
#include "solver/fill_problem.hpp"

#include <vector>

namespace tidemark {

/// Ranges, and what can be compared without the mesh: values no filling can be computed with are
/// errors, unusual ones and those that go against custom are warnings.
void check_values(const RawCase& raw, Findings& findings);

/// Looks up groups and points in the mesh and puts the problem together. What does not fit is
/// added to the findings; the problem is fit for use only if no error is left there.
FillProblem build_problem(const RawCase& raw, ShellMesh mesh, Findings& findings);

/// Every value the run uses, given or default, in the order of the file's sections.
std::vector<UsedValue> used_values(const RawCase& raw);

} // namespace tidemark
