#include "io/region_check.hpp"

#include "io/laid_stack.hpp"
#include "io/raw_lookup.hpp"
#include "io/wording.hpp"
#include "mesh/triangulation.hpp"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>
#include <optional>

namespace tidemark {

namespace {

std::vector<std::string> surface_names(const ShellMesh& mesh) {
  std::vector<std::string> names;
  for (const ElementSet& set : mesh.element_sets) {
    if (!set.elements.empty() && std::ranges::find(names, set.name) == names.end()) {
      names.push_back(set.name);
    }
  }
  return names;
}

void report_unknown_surface(const MeshContext& context, const RawRegion& region,
                            const std::string& group) {
  const std::vector<std::string> all = group_names(context.mesh);
  const bool is_no_surface = std::ranges::find(all, group) != all.end();
  const bool is_empty = std::ranges::find(context.mesh.element_sets, group, &ElementSet::name) !=
                        context.mesh.element_sets.end();
  const char* const why = is_empty        ? ", a group of the mesh that has no elements,"
                          : is_no_surface ? ", which has no surface,"
                                          : ",";
  add_error(context.findings, region.groups->line, region.key + ".groups",
            "found " + quoted_text(group) + why + " expected a group of surfaces of the mesh: " +
                list_with_nearest(group, surface_names(context.mesh)));
}

/// False, with an error each, if the mesh lacks one of the region's groups.
bool knows_groups(const MeshContext& context, const RawRegion& region) {
  const std::vector<std::string> known = surface_names(context.mesh);
  bool all_known = true;
  for (const std::string& group : region.groups->value) {
    if (std::ranges::find(known, group) == known.end()) {
      report_unknown_surface(context, region, group);
      all_known = false;
    }
  }
  return all_known;
}

/// Whether each element is in one of the region's groups; all are if it has none.
PerElement<bool> in_groups(const ShellMesh& mesh, const RawRegion& region) {
  PerElement<bool> inside(mesh.elements.size(), !region.groups);
  for (const ElementSet& set : mesh.element_sets) {
    if (region.groups && std::ranges::count(region.groups->value, set.name) > 0) {
      for (const ElementId element : set.elements) {
        inside[element] = true;
      }
    }
  }
  return inside;
}

/// How far a point lies outside the region's box and sphere, 0 inside or without them [m].
double distance_outside(const MeshContext& context, const RawRegion& region, const Vector3& point) {
  double distance = 0;
  if (region.box) {
    const Vector3 one = region.box->value[0] * context.unit;
    const Vector3 other = region.box->value[1] * context.unit;
    const Vector3 nearest = point.cwiseMax(one.cwiseMin(other)).cwiseMin(one.cwiseMax(other));
    distance = (point - nearest).norm();
  }
  if (region.sphere) {
    const double from_centre = (point - region.sphere->centre->value * context.unit).norm();
    distance = std::max(distance, from_centre - region.sphere->radius->value);
  }
  return distance;
}

void report_empty_place(const MeshContext& context, const RawRegion& region, ElementId nearest,
                        double distance) {
  const char* const what = region.box && region.sphere ? "box and sphere"
                           : region.box                ? "box"
                                                       : "sphere";
  const int line = region.box ? region.box->line : region.sphere->line;
  add_error(context.findings, line, region.key + (region.box ? ".box" : ".sphere"),
            "found no element " + std::string(region.groups ? "of its groups " : "") +
                "whose middle lies in the " + what + ", expected at least one; the nearest, " +
                element_text(context, nearest) + ", is " + in_mesh_units(context, distance) +
                " away");
}

/// Gives the region the elements of its groups, box and sphere that no region has yet. False if
/// something was wrong and has been reported, so that it is not reported again as an empty region.
bool take_place(const MeshContext& context, RegionId id, PerElement<RegionId>& owner) {
  const RawRegion& region = context.raw.regions[id.position()];
  const bool has_size =
      !region.sphere || !region.sphere->radius || region.sphere->radius->value > 0;
  if (!region.is_place_read || !has_size || (region.groups && !knows_groups(context, region))) {
    return false;
  }
  const PerElement<bool> in_group = in_groups(context.mesh, region);
  const double rounding = 1e-9 * context.extent;
  const bool has_bounds = region.box || region.sphere;
  bool has_any = false;
  ElementId nearest;
  double least = std::numeric_limits<double>::infinity();
  for (const ElementId element : owner.ids()) {
    if (!in_group[element]) {
      continue;
    }
    const double distance =
        has_bounds ? distance_outside(context, region, element_centre(context.mesh, element)) : 0;
    if (distance <= rounding) {
      has_any = true;
      owner[element] = owner[element].valid() ? owner[element] : id;
    } else if (distance < least || !nearest.valid()) {
      least = distance;
      nearest = element;
    }
  }
  if (!has_any && nearest.valid()) {
    report_empty_place(context, region, nearest, least);
  }
  return has_any || !nearest.valid();
}

std::size_t take_rest(RegionId region, PerElement<RegionId>& owner) {
  std::size_t taken = 0;
  for (const ElementId element : owner.ids()) {
    if (!owner[element].valid()) {
      owner[element] = region;
      ++taken;
    }
  }
  return taken;
}

void report_empty_region(const MeshContext& context, const RawRegion& region) {
  const char* const why = region.takes_rest
                              ? "the regions before it and those with groups, box or sphere"
                              : "regions before it";
  add_error(context.findings, region.line, region.key,
            std::string("found no element left for it, expected at least one: ") + why +
                " take them all");
}

void report_elements_left(const MeshContext& context, const PerElement<RegionId>& owner) {
  PerElement<std::string> group(owner.size());
  for (auto set = context.mesh.element_sets.rbegin(); set != context.mesh.element_sets.rend();
       ++set) {
    for (const ElementId element : set->elements) {
      group[element] = set->name;
    }
  }
  std::map<std::string, std::size_t> left;
  for (const ElementId element : owner.ids()) {
    left[group[element]] += owner[element].valid() ? 0 : 1;
  }
  for (const auto& [name, count] : left) {
    if (count > 0) {
      const std::string where = name.empty() ? "in no group" : "of the group " + quoted_text(name);
      add_error(context.findings, context.raw.regions.front().line, "region",
                "found " + std::to_string(count) + " elements " + where +
                    " that no region takes, expected a region that names the group or a region "
                    "without groups, box and sphere, which takes the rest");
    }
  }
}

void put_reinforcement(const DirectPermeability& direct, Region& region) {
  region.porosity = value_or_zero(direct.porosity);
  if (direct.permeability) {
    region.permeability_1 = direct.permeability->value.front();
    region.permeability_2 = direct.permeability->value.back();
  }
}

void put_stack(const ClosedStack& stack, Region& region) {
  region.thickness = stack.thickness;
  region.porosity = stack.porosity;
  region.permeability_1 = stack.permeability_1;
  region.permeability_2 = stack.permeability_2;
  region.angle += stack.angle;
  region.fibre_volume_fraction = stack.fibre_volume_fraction;
  region.fibre_pressure = stack.closing_pressure.value_or(0);
  const double solid = stack.thickness * stack.fibre_volume_fraction;
  if (solid > 0) {
    region.fibre_density = stack.areal_weight / solid;
  }
}

/// Elements of a region that its direction stands upright on.
struct Upright {
  ElementId first;
  std::size_t count = 0;
};

void report_upright(const MeshContext& context, const RawRegion& region, const Upright& upright) {
  const std::optional<RawArray>& array = region.fields.direction;
  const std::string more =
      upright.count > 1 ? " and " + counted(upright.count - 1, "other", "others") : "";
  add_error(context.findings,
            array              ? array->line
            : region.direction ? region.direction->line
                               : region.line,
            region.key + ".direction",
            "found " +
                (array              ? array->text
                 : region.direction ? region.direction->text
                                    : "one") +
                ", which is perpendicular to the surface at " +
                element_text(context, upright.first) + more +
                ", expected a direction that can be projected on every element of the region");
}

} // namespace

void check_projections(const MeshContext& context, const FillProblem& problem) {
  static const double least_sine = std::sin(std::numbers::pi / 180);
  std::vector<Upright> upright(problem.regions.size());
  for (const ElementId element : problem.element_region.ids()) {
    if (!problem.element_region[element].valid()) {
      continue;
    }
    const Vector3 direction = reinforcement_at(problem, element).direction;
    const double sine = direction.normalized().cross(element_normal(problem.mesh, element)).norm();
    if (!direction.isZero(0) && sine <= least_sine) {
      Upright& of_region = upright[problem.element_region[element].position()];
      of_region.first = of_region.count == 0 ? element : of_region.first;
      ++of_region.count;
    }
  }
  for (std::size_t r = 0; r < upright.size(); ++r) {
    if (upright[r].count > 0) {
      report_upright(context, context.raw.regions[r], upright[r]);
    }
  }
}

PerElement<RegionId> assign_regions(const MeshContext& context) {
  const std::vector<RawRegion>& regions = context.raw.regions;
  PerElement<RegionId> owner(context.mesh.elements.size());
  std::vector<bool> in_order(regions.size(), true); // nothing wrong with it was reported
  bool all_in_order = !regions.empty();
  for (std::size_t i = 0; i < regions.size(); ++i) {
    in_order[i] = regions[i].takes_rest || take_place(context, RegionId(i), owner);
    all_in_order = all_in_order && in_order[i];
  }
  for (std::size_t i = 0; i < regions.size(); ++i) {
    if (regions[i].takes_rest) {
      take_rest(RegionId(i), owner);
    }
  }
  std::vector<std::size_t> count(regions.size(), 0);
  for (const RegionId region : owner) {
    if (region.valid()) {
      ++count[region.position()];
    }
  }
  for (std::size_t i = 0; i < regions.size(); ++i) {
    if (in_order[i] && count[i] == 0) {
      report_empty_region(context, regions[i]);
    }
  }
  if (all_in_order) {
    report_elements_left(context, owner);
  }
  return owner;
}

Region make_region(const RawCase& raw, const RawRegion& given) {
  Region region{.name = given.name ? given.name->value : "",
                .thickness = value_or_zero(given.thickness),
                .porosity = 0,
                .permeability_1 = 0,
                .permeability_2 = 0,
                .direction = Vector3::Zero(),
                .angle = value_or_zero(given.angle)};
  if (const auto* direct = std::get_if<DirectPermeability>(&given.reinforcement)) {
    put_reinforcement(*direct, region);
    region.fibre_density = raw.heat ? value_or_none(raw.heat->fibre_density) : std::nullopt;
  } else if (const auto stack = stack_of(raw, given)) {
    put_stack(*stack, region);
  }
  // An isotropic region has no use for a direction, which might be perpendicular to it somewhere.
  if (given.direction && region.permeability_1 != region.permeability_2) {
    region.direction = unit_vector(given.direction->value);
  }
  return region;
}

} // namespace tidemark
