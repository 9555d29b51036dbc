// Values of injectors, gates, vents and the air, without the mesh.
#pragma once

#include "io/findings.hpp"
#include "io/raw_case.hpp"

namespace tidemark {

/// Ranges, schedules in order, gates and vents that others wait for, and what is unusual.
void check_port_values(const RawCase& raw, Findings& findings);

} // namespace tidemark
