// Values of runners and race tracks, without the mesh.
#pragma once

#include "io/findings.hpp"
#include "io/raw_case.hpp"

namespace tidemark {

/// Ranges of cross-sections, and names of regions.
void check_channel_values(const RawCase& raw, Findings& findings);

} // namespace tidemark
