// The report of a search for gates as a page of HTML: the fill time the part would have with the
// gate here or there, the ranked layouts, their fillings.
#pragma once

#include "io/comparison_report.hpp"
#include "io/gate_layouts.hpp"

#include <vector>

namespace tidemark {

/// time_if_gate_here: at the nodes [s], NaN where no place tried is near. rows: the case as it is,
/// then the layouts, best first.
ReportPage gates_report(const Case& input, const GateSearchFacts& facts,
                        const std::vector<LayoutRow>& rows,
                        const PerNode<double>& time_if_gate_here,
                        const std::vector<RunPicture>& pictures);

} // namespace tidemark
