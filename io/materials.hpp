// What a part weighs and what goes into it costs.
#pragma once

#include "io/case_file.hpp"
#include "solver/filling.hpp"

#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// A sum over the part, or why there is none.
struct MaterialSum {
  std::optional<double> value;        // none if something else than a core is not known
  std::vector<std::string> left_out;  // cores that are not in it: "no density of the core in
                                      // region skin"
  std::vector<std::string> not_known; // why there is no value
};

/// Mass of the full part [kg]: fibres and cores of the layups over the area of their regions, and
/// resin in all pores, runners and gaps beside the reinforcement apart. Precondition: result is a
/// filling of input.problem.
MaterialSum part_mass(const Case& input, const FillResult& result);

/// Whether the case names any price.
bool has_prices(const Case& input);

/// Cost of fabrics, cores and resin of the full part, runners, gaps and what bled included, without
/// offcuts [currency]. Precondition: as for part_mass.
MaterialSum part_cost(const Case& input, const FillResult& result);

} // namespace tidemark
