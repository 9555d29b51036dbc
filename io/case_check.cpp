#include "io/case_check.hpp"

#include "io/channel_check.hpp"
#include "io/closing_direction.hpp"
#include "io/facing_check.hpp"
#include "io/heat_value_check.hpp"
#include "io/mesh_context.hpp"
#include "io/number_text.hpp"
#include "io/port_check.hpp"
#include "io/raw_lookup.hpp"
#include "io/region_check.hpp"
#include "io/region_fields.hpp"
#include "io/resin_value_check.hpp"
#include "io/shop_units.hpp"
#include "io/value_range.hpp"
#include "io/wording.hpp"
#include "mesh/triangulation.hpp"
#include "solver/mould_load.hpp"

#include <algorithm>

namespace tidemark {

namespace {

bool has_usable_size(const RawCase& raw, const ShellMesh& mesh, Findings& findings) {
  const double extent = mesh_extent(mesh);
  constexpr double largest = 1e6; // [m]
  // Own choice: no mould is that small, and metres taken for mm make a large part no larger.
  constexpr double smallest = 0.02; // [m]
  if (!mesh.elements.empty() && extent > 0 && extent < largest) {
    if (extent < smallest || extent > 100) {
      add_warning(findings, raw.mesh_unit->line, "part.mesh_unit",
                  "found " + quoted_text(raw.mesh_unit->text) + ", which makes the part " +
                      plain_number(extent) +
                      " m in its largest extent: is it the unit of the mesh's coordinates?");
    }
    return true;
  }
  add_error(findings, raw.mesh->line, "part.mesh",
            "found a mesh of " + std::to_string(mesh.elements.size()) + " elements and " +
                plain_number(extent) + " m in its largest extent, expected a part");
  return false;
}

/// gravity x direction, the standard value unless the case has its own.
std::optional<Vector3> make_gravity(const RawCase& raw) {
  if (!raw.gravity || !raw.gravity->direction) {
    return std::nullopt;
  }
  const Maybe<double>& given = raw.gravity->acceleration;
  const double acceleration = given ? given->value : standard_gravity;
  return Vector3(acceleration * unit_vector(raw.gravity->direction->value));
}

/// Against the outer air the vacuum of the flange pulls with its gauge pressure.
std::optional<Mould> make_mould(const RawCase& raw) {
  if (!raw.mould || !raw.mould->closing_direction) {
    return std::nullopt;
  }
  const RawMould& mould = *raw.mould;
  return Mould{unit_vector(mould.closing_direction->value),
               value_or_zero(mould.clamp_force) -
                   value_or_zero(mould.flange_pressure) * value_or_zero(mould.flange_area)};
}

/// The mould halves part along a normal of the part, roughly: seen edge on it takes no force.
void warn_of_edge_on(const RawCase& raw, const FillProblem& problem, Findings& findings) {
  if (!problem.mould || !(problem.mould->closing_direction.norm() > 0) ||
      !is_seen_edge_on(problem)) {
    return;
  }
  const Given<Vector3>& given = *raw.mould->closing_direction;
  const Vector3 widest = widest_axis(problem.mesh);
  add_warning(
      findings, given.line, "mould.closing_direction",
      "found " + given.text + ", along which " +
          as_square_metres(area_seen_along(problem.mesh, problem.mould->closing_direction)) +
          " are seen of the part's " + as_square_metres(surface_area(problem.mesh)) +
          ": hardly any opening force comes of it; expected the direction in which the "
          "mould halves part, across the part: along " +
          axis_text(widest) + " " + as_square_metres(area_seen_along(problem.mesh, widest)) +
          " are seen");
}

/// The highest pressure any pump or held gate may bring, gauge [Pa]; 0 without one.
double highest_cap(const FillProblem& problem) {
  double cap = problem.injector.pressure_cap.value_or(0);
  for (const Gate& gate : problem.gates) {
    cap = std::max(cap, gate.own_injector ? gate.own_injector->pressure_cap.value_or(0) : 0.0);
  }
  return cap;
}

/// Clamps that hold next to nothing of what the cap may bring: a slip of the unit.
void warn_of_weak_clamps(const RawCase& raw, const FillProblem& problem, Findings& findings) {
  if (!problem.mould || !raw.mould->clamp_force || is_seen_edge_on(problem)) {
    return;
  }
  const double held = problem.mould->hold_down_force;
  const double area = half_areas(problem.mesh, problem.mould->closing_direction).projected_area;
  const double cap = highest_cap(problem);
  constexpr double least = 0.01; // own choice
  if (held > 0 && held < least * cap * area) {
    add_warning(findings, raw.mould->clamp_force->line, "mould.clamp_force",
                "found " + quoted_text(raw.mould->clamp_force->text) + ", where a cap of " +
                    as_bar(cap) + " on the " + as_square_metres(area) +
                    " seen along mould.closing_direction is " + as_kilonewtons(cap * area) +
                    ": is the unit right (N, kN)?");
  }
}

/// A runner that takes more resin than the part: a slip of the unit of its cross-section.
void warn_of_wide_runners(const RawCase& raw, const FillProblem& problem, Findings& findings) {
  double pores = 0;
  for (const ElementId element : problem.mesh.elements.ids()) {
    const Reinforcement local = reinforcement_at(problem, element);
    pores += element_area(problem.mesh, element) * local.thickness * local.porosity;
  }
  for (const RawRunner& runner : raw.runners) {
    const auto channel = std::ranges::find_if(problem.channels, [&](const Channel& one) {
      return runner.name && one.name == runner.name->value;
    });
    if (channel == problem.channels.end()) {
      continue;
    }
    double volume = 0;
    for (std::size_t i = 0; i < channel->segments.size(); ++i) {
      const auto& [a, b] = channel->segments[i];
      volume += channel->area[i] * (problem.mesh.positions[a] - problem.mesh.positions[b]).norm();
    }
    if (pores > 0 && volume > pores) {
      add_warning(findings, runner.line, runner.key,
                  "found a runner that takes " + as_litres(volume) + " of resin, where the part " +
                      "takes " + as_litres(pores) + ": are the units of its cross-section right?");
    }
  }
}

/// is_sound: no error was found so far.
void put_values(const RawCase& raw, bool is_sound, FillProblem& problem) {
  problem.resin = is_sound ? make_resin(raw) : Resin{1, std::nullopt, std::nullopt};
  problem.ambient = raw.ambient ? raw.ambient->value : default_ambient;
  problem.cavity_pressure =
      value_or_zero(raw.cavity_pressure ? raw.cavity_pressure : lowest_vent_pressure(raw));
  problem.sealed_air = !raw.sealed_air || raw.sealed_air->value;
  problem.gravity = make_gravity(raw);
  problem.mould = make_mould(raw);
  problem.heat = make_heat(raw);
}

} // namespace

FillProblem build_problem(const RawCase& raw, ShellMesh mesh, Findings& findings) {
  FillProblem problem{};
  problem.mesh = std::move(mesh);
  put_values(raw, findings.errors.empty(), problem);
  if (!raw.mesh || !raw.mesh_unit || !has_usable_size(raw, problem.mesh, findings)) {
    return problem;
  }
  const MeshContext context{raw, problem.mesh, raw.mesh_unit->value, mesh_extent(problem.mesh),
                            findings};
  problem.element_region = assign_regions(context);
  for (const RawRegion& region : raw.regions) {
    problem.regions.push_back(make_region(raw, region));
  }
  put_varying_reinforcement(context, problem);
  check_projections(context, problem);
  warn_of_turned_elements(context, problem);
  put_ports(context, problem);
  put_channels(context, problem);
  warn_of_edge_on(raw, problem, findings);
  if (findings.errors.empty()) {
    warn_of_wide_runners(raw, problem, findings);
  }
  warn_of_weak_clamps(raw, problem, findings);
  return problem;
}

} // namespace tidemark
