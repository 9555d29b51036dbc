#include "io/layup_check.hpp"

#include "io/fabric_value_check.hpp"
#include "io/laid_stack.hpp"
#include "io/number_text.hpp"
#include "io/raw_lookup.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/value_range.hpp"
#include "io/wording.hpp"
#include "mesh/triangulation.hpp"
#include "solver/mould_load.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {

constexpr Limits core_porosity_limits{1e-6,
                                      1,
                                      1e-4,
                                      1,
                                      "a number above 0 and at most 1 (from 1e-6)",
                                      "1e-4 to 1 are usual; it is the share that resin fills"};
constexpr Limits groove_limits{1e-6,
                               1,
                               1e-4,
                               0.1,
                               "a length above 0 (from 1e-6 m to 1 m)",
                               "0.1 mm to 100 mm are usual; is the unit right (mm, cm, m)?"};
constexpr Limits core_density_limits{1,
                                     1e5,
                                     20,
                                     3000,
                                     "a density above 0 (from 1 kg/m3 to 1e5 kg/m3)",
                                     "20 kg/m3 to 3000 kg/m3 are usual; it is that of the core "
                                     "between its channels"};
constexpr Limits target_limits{1e-3,
                               0.9,
                               0.05,
                               0.75,
                               "a fibre volume fraction above 0 (from 0.001 to 0.9)",
                               "0.05 to 0.75 are usual"};

/// Below this pressure on its fibres a stack is hardly held: a resin pressure that falls by 1 bar
/// over 300 mm pushes 4 mm of it with 0.4 kN per metre of width, against friction (coefficient
/// about 0.3) on both faces, which needs some 0.02 bar. Common practice, no source.
constexpr double holding_pressure = 2000; // [Pa]
/// The same where no compaction law is known. Common practice, no source.
constexpr double holding_fraction = 0.10;

void check_fabric_name(const RawCase& raw, const RawPly& ply, Findings& findings) {
  if (!ply.fabric || !raw.has_all_fabrics || fabric_named(raw, ply.fabric->value) != nullptr) {
    return;
  }
  std::vector<std::string> names;
  for (const RawFabric& fabric : raw.fabrics) {
    names.push_back(fabric.name);
  }
  add_error(findings, ply.fabric->line, ply.key + ".fabric",
            "found " + quoted_text(ply.fabric->value) + ", expected a fabric of the case: " +
                (names.empty() ? "none is given, neither as [fabric.NAME] nor by fabrics = "
                                 "\"file\""
                               : list_with_nearest(ply.fabric->value, names)));
}

void check_grooves(const RawPly& ply, Findings& findings) {
  const RawGrooves& grooves = *ply.grooves;
  check_range(grooves.width, grooves.key + ".width", groove_limits, findings);
  check_range(grooves.depth, grooves.key + ".depth", groove_limits, findings);
  check_range(grooves.spacing, grooves.key + ".spacing", groove_limits, findings);
  if (grooves.depth && ply.core && ply.core->value > 0 && grooves.depth->value > ply.core->value) {
    add_error(findings, grooves.depth->line, grooves.key + ".depth",
              "found " + quoted_text(grooves.depth->text) + " in a core of " +
                  quoted_text(ply.core->text) + ", expected at most the thickness of the core");
  }
  if (grooves.width && grooves.spacing && grooves.width->value >= grooves.spacing->value) {
    add_error(findings, grooves.spacing->line, grooves.key + ".spacing",
              "found " + quoted_text(grooves.spacing->text) + " for grooves " +
                  quoted_text(grooves.width->text) +
                  " wide, expected more than that, from the middle of one to that of the next");
  }
}

void check_ply(const RawCase& raw, const RawPly& ply, Findings& findings) {
  check_fabric_name(raw, ply, findings);
  check_range(ply.gap, ply.key + ".gap", thickness_limits, findings);
  check_range(ply.core, ply.key + ".core", thickness_limits, findings);
  check_range(ply.angle, ply.key + ".angle", angle_limits, findings);
  check_range(ply.density, ply.key + ".density", core_density_limits, findings);
  if (ply.permeability) {
    check_principal_values(*ply.permeability, ply.key + ".permeability", findings);
  }
  if (ply.porosity) {
    check_number(ply.porosity->value, ply.porosity->line, ply.key + ".porosity", ply.porosity->text,
                 core_porosity_limits, findings);
  }
  if (ply.grooves) {
    check_grooves(ply, findings);
  }
}

/// Where the layup stands, for what concerns all of it.
struct LayupPlace {
  std::string key;
  int line;
};

void report_no_room(const LayupPlace& place, const Layup& layup, double thickness,
                    Findings& findings) {
  const double fixed = fixed_thickness(layup);
  const double room = room_for_fabrics(layup, thickness);
  const double solid = solid_thickness(layup);
  const std::string cavity = "a cavity of " + as_millimetres(thickness);
  if (solid == 0) {
    add_error(findings, place.line, place.key,
              "found gaps and cores of " + as_millimetres(fixed) + " in " + cavity +
                  ", expected the thickness of the cavity, since no fabric shares the rest");
  } else if (!(room > 1e-9 * thickness)) {
    add_error(findings, place.line, place.key,
              "found gaps and cores of " + as_millimetres(fixed) + " in " + cavity +
                  ", expected room for the fabrics between them");
  } else {
    add_error(findings, place.line, place.key,
              "found plies thicker than the cavity: their fibres alone, without any pores, make " +
                  plain_number(1e3 * solid) + " mm in " + plain_number(1e3 * room) +
                  " mm, a fibre volume fraction of " + rough_number(solid / room) +
                  ", expected less than 0.907, the closest packing of round fibres: fewer plies "
                  "or a thicker cavity");
  }
}

std::string range_text(const FractionRange& range) {
  return plain_number(range.lowest) + " to " + plain_number(range.highest);
}

/// Of a fabric's fibre volume fraction against the range of one of its laws.
void check_margins(const RawPly& ply, double vf, const FractionRange& range,
                   const std::string& known, Findings& findings) {
  const double margins = margins_outside(range, vf);
  if (margins == 0) {
    return;
  }
  const bool is_above = vf > range.highest;
  const double beyond = is_above ? vf - range.highest : range.lowest - vf;
  const std::string found = "found a fibre volume fraction of " + rough_number(vf) + ", " +
                            rough_number(beyond) + (is_above ? " above" : " below") +
                            " the range " + range_text(range) + " in which the " + known + " of " +
                            quoted_text(ply.fabric->value) + " is known";
  if (margins > 2) {
    const FractionRange most{range.lowest * (1 - 2 * margin_share),
                             range.highest * (1 + 2 * margin_share)};
    add_error(findings, ply.line, ply.key,
              found + ", expected at most a fifth beyond it, " + range_text(most));
  } else {
    add_warning(findings, ply.line, ply.key,
                found + ": it is carried on from there, and may be off by as much as fabrics of "
                        "one kind scatter");
  }
}

void check_compaction_margins(const RawPly& ply, double vf, const RawFabric& fabric,
                              Findings& findings) {
  const FractionRange range = compaction_range(*fabric.compaction);
  // A stack looser than its compaction test began is said by its pressure.
  if (vf > range.lowest) {
    check_margins(ply, vf, range, "compaction", findings);
  }
}

/// Each fabric once: with one pressure or one fibre volume fraction for all, it is the same in all
/// of its plies.
void check_fractions(const RawCase& raw, const RawLayup& written, const ClosedStack& stack,
                     Findings& findings) {
  std::set<std::string> seen;
  for (std::size_t i = 0; i < written.plies.size(); ++i) {
    const RawPly& ply = written.plies[i];
    if (!ply.fabric || !seen.insert(ply.fabric->value).second) {
      continue;
    }
    const double vf = stack.layers[i].fibre_volume_fraction;
    const RawFabric& fabric = *fabric_named(raw, ply.fabric->value);
    if (is_packed_too_closely(stack.layers[i])) {
      add_error(findings, ply.line, ply.key,
                "found " + quoted_text(ply.fabric->value) +
                    " pressed to a fibre volume fraction of " + rough_number(vf) +
                    " by the fabrics beside it, expected less than 0.907, the closest packing of "
                    "round fibres");
      continue;
    }
    check_margins(ply, vf, make_fabric(fabric).valid, "permeability", findings);
    if (fabric.compaction) {
      check_compaction_margins(ply, vf, fabric, findings);
    }
    if (!stack.closing_pressure && vf < holding_fraction) {
      add_warning(findings, ply.line, ply.key,
                  "found a fibre volume fraction of " + rough_number(vf) + " of " +
                      quoted_text(ply.fabric->value) +
                      ", so low that the resin may wash the fibres away: common practice is " +
                      plain_number(holding_fraction) + " or more");
    }
  }
}

void check_closing_pressure(const RawCase& raw, const LayupPlace& place, double pressure,
                            Findings& findings) {
  if (pressure < holding_pressure) {
    add_warning(findings, place.line, place.key,
                "found plies held by only " + as_bar(pressure) +
                    " in the closed cavity, so little that the resin may wash the fibres away: "
                    "common practice is " +
                    as_bar(holding_pressure) + " or more");
  } else if (!raw.mould && pressure > ambient_of(raw)) {
    add_warning(findings, place.line, place.key,
                "found plies that take " + as_bar(pressure) +
                    " on the fibres to close, more than vacuum alone can give: clamps or a press "
                    "must shut the mould");
  }
}

/// The plies of which a compaction law is missing decide that all have one fibre volume fraction.
void warn_of_one_fraction(const LayupPlace& place, const Layup& layup, Findings& findings) {
  const auto lacks =
      std::ranges::find_if(layup.fabrics, [](const Fabric& f) { return !f.compaction; });
  if (layup.fabrics.size() > 1 && lacks != layup.fabrics.end()) {
    add_warning(findings, place.line, place.key,
                "found no compaction of " + quoted_text(lacks->name) +
                    ": how the fabrics share the cavity is not known, and all are taken at one "
                    "fibre volume fraction");
  }
}

void check_stack(const RawCase& raw, const RawLayup& written, const LayupPlace& place,
                 const ClosedStack& stack, Findings& findings) {
  check_fractions(raw, written, stack, findings);
  if (stack.closing_pressure) {
    check_closing_pressure(raw, place, *stack.closing_pressure, findings);
  }
  if (std::ranges::any_of(stack.layers, is_packed_too_closely)) {
    return;
  }
  if (!conducts(stack)) {
    add_error(findings, place.line, place.key,
              "found a layup through which resin cannot flow in every direction of the surface, "
              "expected plies, a gap or channels that let it");
    return;
  }
  for (const double k : {stack.permeability_1, stack.permeability_2}) {
    check_number(k, place.line, place.key,
                 "a layup with a permeability of " + plain_number(k) + " m2", permeability_limits,
                 findings);
  }
}

/// Checks the fibre volume fraction wanted, if any, and the thickness it makes; false after an
/// error.
bool check_target(const RawRegion& region, const RawLayup& written,
                  const std::optional<Layup>& layup, Findings& findings) {
  const Maybe<double>& wanted = written.fibre_volume_fraction;
  if (!wanted) {
    return true;
  }
  const std::string key = region.key + ".fibre_volume_fraction";
  const std::size_t errors_before = findings.errors.size();
  check_number(wanted->value, wanted->line, key, wanted->text, target_limits, findings);
  if (findings.errors.size() > errors_before || !layup) {
    return false;
  }
  if (solid_thickness(*layup) == 0) {
    add_error(findings, wanted->line, key,
              "found it for a layup without a fabric, expected thickness");
    return false;
  }
  const double thickness = thickness_for(*layup, wanted->value);
  check_number(thickness, wanted->line, key,
               wanted->text + ", which makes the cavity " + plain_number(1e3 * thickness) +
                   " mm thick",
               thickness_limits, findings);
  return findings.errors.size() == errors_before;
}

/// What vacuum in the cavity adds to the hold-down [N].
double vacuum_force(const FillProblem& problem) {
  double area = 0;
  for (const ElementId id : problem.element_region.ids()) {
    area += element_area(problem.mesh, id) *
            std::abs(element_normal(problem.mesh, id).dot(problem.mould->closing_direction));
  }
  return -front_pressure(problem) * area;
}

} // namespace

std::optional<ClosedStack> checked_stack(const RawCase& raw, const RawRegion& region,
                                         const Layup& layup, double thickness, Findings& findings) {
  const RawLayup& written = *layup_of(region);
  const LayupPlace place{region.key + ".layup", written.line};
  if (!fits(layup, thickness)) {
    report_no_room(place, layup, thickness, findings);
    return std::nullopt;
  }
  auto stack = close_stack(layup, thickness);
  if (!stack) {
    add_error(findings, place.line, place.key,
              "found plies that by their compaction no pressure brings to " +
                  as_millimetres(thickness) + ", expected a thickness they can be closed to");
    return std::nullopt;
  }
  const std::size_t errors_before = findings.errors.size();
  check_stack(raw, written, place, *stack, findings);
  return findings.errors.size() == errors_before ? stack : std::nullopt;
}

void check_layup(const RawCase& raw, const RawRegion& region, Findings& findings) {
  const RawLayup& written = *layup_of(region);
  const LayupPlace place{region.key + ".layup", written.line};
  for (const RawPly& ply : written.plies) {
    check_ply(raw, ply, findings);
  }
  const auto layup = make_layup(raw, written);
  if (!check_target(region, written, layup, findings)) {
    return;
  }
  const auto thickness = layup ? cavity_thickness(region, written, *layup) : std::nullopt;
  if (layup && (varies(region) || (thickness && fits(*layup, *thickness)))) {
    warn_of_one_fraction(place, *layup, findings);
  }
  if (!thickness || varies(region)) {
    return;
  }
  checked_stack(raw, region, *layup, *thickness, findings);
}

std::set<std::string> names_of_used_fabrics(const RawCase& raw) {
  std::set<std::string> names;
  for (const RawRegion& region : raw.regions) {
    const RawLayup* layup = layup_of(region);
    for (std::size_t i = 0; layup != nullptr && i < layup->plies.size(); ++i) {
      names.insert(layup->plies[i].fabric ? layup->plies[i].fabric->value : "");
    }
  }
  return names;
}

void warn_of_unused_fabrics(const RawCase& raw, Findings& findings) {
  const std::set<std::string> used = names_of_used_fabrics(raw);
  for (const RawFabric& fabric : raw.fabrics) {
    if (!fabric.is_shared && !used.contains(fabric.name)) {
      add_warning(findings, fabric.line, fabric.key, "found a fabric that no layup uses");
    }
  }
}

void warn_of_closing_force(const FillProblem& problem, const RawCase& raw, Findings& findings) {
  const double force = fibre_push(problem).force;
  if (!problem.mould || !(force > 0)) {
    return;
  }
  const double held = problem.mould->hold_down_force;
  const double vacuum = std::max(0.0, vacuum_force(problem));
  if (force > held + vacuum) {
    add_warning(
        findings, raw.mould->line, "mould",
        "found plies that take " + as_kilonewtons(force) + " to close, and only " +
            as_kilonewtons(held + vacuum) +
            " that shut the mould (clamps, flange and vacuum in the cavity): it stays open");
  } else if (force > held && held > 0) {
    add_warning(findings, raw.mould->line, "mould",
                "found plies that push the mould open with " + as_kilonewtons(force) +
                    ", more than the " + as_kilonewtons(held) +
                    " of clamps and flange: only the vacuum in the cavity (" +
                    as_kilonewtons(vacuum) +
                    " while it is dry) keeps it shut, and that goes as the resin comes");
  }
}

} // namespace tidemark
