// The stack a written layup makes, as far as it can be made.
#pragma once

#include "io/case_file.hpp"
#include "io/raw_case.hpp"

#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// None if the case has no such fabric.
const RawFabric* fabric_named(const RawCase& raw, const std::string& name);

/// The layup of a region; none where permeability is given.
const RawLayup* layup_of(const RawRegion& region);

/// Whether its reinforcement differs from element to element: arrays of the mesh, or a drape.
bool varies(const RawRegion& region);

/// None if an entry has errors; those are reported by check_layup.
std::optional<Layup> make_layup(const RawCase& raw, const RawLayup& written);

/// As given, or that of the fibre volume fraction wanted [m]; none without either.
std::optional<double> cavity_thickness(const RawRegion& region, const RawLayup& written,
                                       const Layup& layup);

/// What gaps and cores leave of the cavity [m].
double room_for_fabrics(const Layup& layup, double thickness);

/// Whether the fibres have room, or, without a fabric, gaps and cores make the thickness.
bool fits(const Layup& layup, double thickness);

/// Whether resin can flow in every direction of the surface.
bool conducts(const ClosedStack& stack);

/// Under a common pressure a soft fabric may close up further than fibres can.
bool is_packed_too_closely(const Layer& layer);

/// The layup in the closed cavity; none where the region has no layup, or one with errors.
std::optional<ClosedStack> stack_of(const RawCase& raw, const RawRegion& region);

/// The layups of all regions, for a case without errors; where one varies, as it lies flat in a
/// cavity of the mean thickness.
std::vector<std::optional<LaidRegion>> laid_regions(const RawCase& raw, const FillProblem& problem);

} // namespace tidemark
