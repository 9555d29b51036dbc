// Whether a layup can lie in the cavity of its region.
#pragma once

#include "io/case_file.hpp"
#include "io/raw_case.hpp"

#include <optional>
#include <set>
#include <string>
#include <vector>

namespace tidemark {

/// Checks the layup of a region: its values, whether it has room, and whether the fibre volume
/// fraction of each fabric lies where its laws hold. Outside their range by up to two margins
/// (margins_outside) is a warning, beyond an error. Where the region varies only what is the same
/// on all elements is checked. Precondition: the region has a layup.
void check_layup(const RawCase& raw, const RawRegion& region, Findings& findings);

/// The layup, of which only angles and shear may differ from what is written, in a cavity of this
/// thickness; what check_layup would say of it is added to the findings. None after an error.
std::optional<ClosedStack> checked_stack(const RawCase& raw, const RawRegion& region,
                                         const Layup& layup, double thickness, Findings& findings);

/// The fabrics that layups name, whether there are such or not.
std::set<std::string> names_of_used_fabrics(const RawCase& raw);

/// A warning for each fabric of the case that no layup names.
void warn_of_unused_fabrics(const RawCase& raw, Findings& findings);

/// A warning if the plies hold the mould open against all that shuts it, or against all but the
/// vacuum in the cavity, which goes where resin comes.
void warn_of_closing_force(const FillProblem& problem, const RawCase& raw, Findings& findings);

} // namespace tidemark
