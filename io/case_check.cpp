#include "io/case_check.hpp"

#include "io/wording.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <map>

namespace tidemark {

namespace {

constexpr double default_ambient = 101325;

/// What the checks against the mesh need at hand.
struct MeshContext {
  const RawCase& raw;
  const ShellMesh& mesh;
  double unit;   // of the mesh's coordinates [m]
  double extent; // [m]
  Findings& findings;
};

std::string short_number(double value) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%.6g", value);
  return text.data();
}

/// A length in the user's mesh units, as in at = [...].
std::string in_mesh_units(const MeshContext& context, double metres) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%.4g", metres / context.unit);
  return std::string(text.data()) + " " + context.raw.mesh_unit->text;
}

std::string node_text(const MeshContext& context, NodeId node) {
  const Vector3 at = context.mesh.positions[node] / context.unit;
  return "node " + std::to_string(context.mesh.node_labels[node]) + " at [" + short_number(at.x()) +
         ", " + short_number(at.y()) + ", " + short_number(at.z()) + "]";
}

/// "skin, core (nearest: core)"
std::string list_with_nearest(const std::string& word, const std::vector<std::string>& words) {
  const std::string nearest = nearest_word(word, words);
  return list_of(words) + (nearest.empty() ? "" : " (nearest: " + nearest + ")");
}

std::vector<std::string> surface_names(const ShellMesh& mesh) {
  std::vector<std::string> names;
  for (const ElementSet& set : mesh.element_sets) {
    if (std::ranges::find(names, set.name) == names.end()) {
      names.push_back(set.name);
    }
  }
  return names;
}

// --- regions -----------------------------------------------------------------------------------

void report_unknown_surface(const MeshContext& context, const RawRegion& region,
                            const std::string& group) {
  const std::vector<std::string> all = group_names(context.mesh);
  const bool is_no_surface = std::ranges::find(all, group) != all.end();
  add_error(context.findings, region.groups->line, region.key + ".groups",
            "found " + quoted_text(group) + (is_no_surface ? ", which has no surface," : ",") +
                " expected a group of surfaces of the mesh: " +
                list_with_nearest(group, surface_names(context.mesh)));
}

/// Gives the elements of a group that no region has yet to this one; returns how many.
std::size_t take_group(const ShellMesh& mesh, const std::string& group, RegionId region,
                       PerElement<RegionId>& owner) {
  std::size_t taken = 0;
  for (const ElementSet& set : mesh.element_sets) {
    for (const ElementId element : set.elements) {
      if (set.name == group && !owner[element].valid()) {
        owner[element] = region;
        ++taken;
      }
    }
  }
  return taken;
}

/// The first region that names a group takes it. Whether all of the groups are known is said by
/// the return value, so that an unknown one is not reported again as an empty region.
bool take_groups(const MeshContext& context, RegionId id, PerElement<RegionId>& owner) {
  const RawRegion& region = context.raw.regions[id.position()];
  const std::vector<std::string> known = surface_names(context.mesh);
  bool all_known = true;
  for (const std::string& group : region.groups->value) {
    if (std::ranges::find(known, group) == known.end()) {
      report_unknown_surface(context, region, group);
      all_known = false;
    } else {
      take_group(context.mesh, group, id, owner);
    }
  }
  return all_known;
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
  const char* const why =
      region.takes_rest ? "the regions before it and those with groups" : "regions before it";
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
                    "without groups, which takes the rest");
    }
  }
}

PerElement<RegionId> assign_regions(const MeshContext& context) {
  const std::vector<RawRegion>& regions = context.raw.regions;
  PerElement<RegionId> owner(context.mesh.elements.size());
  std::vector<bool> in_order(regions.size(), true); // nothing wrong with it was reported
  bool all_in_order = !regions.empty();
  for (std::size_t i = 0; i < regions.size(); ++i) {
    in_order[i] =
        regions[i].takes_rest || (regions[i].groups && take_groups(context, RegionId(i), owner));
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

/// Length 1, without overflow on the way; zero stays zero.
Vector3 unit_vector(const Vector3& vector) {
  const double largest = vector.cwiseAbs().maxCoeff();
  return largest > 0 ? Vector3((vector / largest).normalized()) : Vector3(Vector3::Zero());
}

double value_or_zero(const Maybe<double>& given) {
  return given ? given->value : 0;
}

void put_reinforcement(const DirectPermeability& direct, Region& region) {
  region.porosity = value_or_zero(direct.porosity);
  if (direct.permeability) {
    region.permeability_1 = direct.permeability->value.front();
    region.permeability_2 = direct.permeability->value.back();
  }
}

Region make_region(const RawRegion& raw) {
  Region region{
      raw.name ? raw.name->value : "", value_or_zero(raw.thickness), 0, 0, 0, Vector3::Zero(),
      value_or_zero(raw.angle)};
  if (const auto* direct = std::get_if<DirectPermeability>(&raw.reinforcement)) {
    put_reinforcement(*direct, region);
  }
  // An isotropic region has no use for a direction, which might be perpendicular to it somewhere.
  if (raw.direction && region.permeability_1 != region.permeability_2) {
    region.direction = unit_vector(raw.direction->value);
  }
  return region;
}

// --- gates and vents ---------------------------------------------------------------------------

double longest_edge_at(const ShellMesh& mesh, NodeId node) {
  double longest = 0;
  for (const Element& element : mesh.elements) {
    const auto corners = element.corners();
    for (std::size_t i = 0; i < corners.size(); ++i) {
      const NodeId next = corners[(i + 1) % corners.size()];
      if (corners[i] == node || next == node) {
        const double length = (mesh.positions[corners[i]] - mesh.positions[next]).norm();
        longest = std::max(longest, length);
      }
    }
  }
  return longest;
}

/// The node nearest to a port's point; none, with an error, if the point is off the part.
NodeId node_near(const MeshContext& context, const RawPort& port) {
  const Vector3 point = port.at->value * context.unit;
  const std::string key = port.key + ".at";
  constexpr double far_away = 1e9; // [m]; beyond, squares of distances might overflow
  if (!(point.cwiseAbs().maxCoeff() < far_away)) {
    add_error(context.findings, port.at->line, key,
              "found " + port.at->text + ", expected a point on the part");
    return {};
  }
  const NodeId node = nearest_node(context.mesh, point);
  const double distance = (context.mesh.positions[node] - point).norm();
  const double allowed = std::max(0.02 * context.extent, 3 * longest_edge_at(context.mesh, node));
  if (distance > allowed) {
    add_error(context.findings, port.at->line, key,
              "found " + port.at->text + ", which is " + in_mesh_units(context, distance) +
                  " from the nearest node of the mesh (" + node_text(context, node) +
                  "), expected a point within " + in_mesh_units(context, allowed) + " of the part");
    return {};
  }
  return node;
}

std::vector<NodeId> nodes_at_point(const MeshContext& context, const RawPort& port) {
  if (port.radius && port.radius->value > context.extent / 2) {
    add_error(context.findings, port.radius->line, port.key + ".radius",
              "found " + quoted_text(port.radius->text) + ", expected at most half the part (" +
                  in_mesh_units(context, context.extent / 2) + ")");
    return {};
  }
  const NodeId nearest = node_near(context, port);
  if (!nearest.valid()) {
    return {};
  }
  std::vector<NodeId> nodes;
  if (port.radius) {
    nodes = nodes_within(context.mesh, port.at->value * context.unit, port.radius->value);
  }
  if (std::ranges::find(nodes, nearest) == nodes.end()) {
    nodes.insert(std::ranges::upper_bound(nodes, nearest), nearest);
  }
  return nodes;
}

std::vector<NodeId> nodes_in_group(const MeshContext& context, const RawPort& port) {
  std::vector<NodeId> nodes = nodes_of_group(context.mesh, port.group->value);
  if (nodes.empty()) {
    const std::vector<std::string> known = group_names(context.mesh);
    const bool is_known = std::ranges::find(known, port.group->value) != known.end();
    add_error(context.findings, port.group->line, port.key + ".group",
              "found " + quoted_text(port.group->value) +
                  (is_known ? ", which has no node on the part, expected a group that has some"
                            : ", expected a group of the mesh: " +
                                  list_with_nearest(port.group->value, known)));
  }
  return nodes;
}

std::vector<NodeId> nodes_of_port(const MeshContext& context, const RawPort& port) {
  if (port.at && !port.group) {
    return nodes_at_point(context, port);
  }
  return port.group && !port.at ? nodes_in_group(context, port) : std::vector<NodeId>{};
}

Gate make_gate(const MeshContext& context, const RawPort& port) {
  Gate gate{port.name ? port.name->value : "", nodes_of_port(context, port), Vector3::Zero(),
            std::nullopt};
  if (port.at) {
    gate.centre = port.at->value * context.unit;
    gate.radius = port.radius ? std::optional(port.radius->value) : std::nullopt;
  }
  return gate;
}

/// The pressure is the first vent's: they agree to rounding, or an error was reported.
Vent make_vent(const MeshContext& context, const RawPort& port) {
  return {port.name ? port.name->value : "", nodes_of_port(context, port),
          value_or_zero(context.raw.vents.front().pressure)};
}

/// One node, one gate or vent: one finding for each port that takes a node of an earlier one.
void refuse_shared_nodes(const MeshContext& context, const FillProblem& problem) {
  PerNode<const RawPort*> owner(context.mesh.positions.size(), nullptr);
  const auto take = [&](const RawPort& port, const std::vector<NodeId>& nodes) {
    bool is_reported = false;
    for (const NodeId node : nodes) {
      if (owner[node] != nullptr && !is_reported) {
        add_error(context.findings, port.line, port.key,
                  "found " + node_text(context, node) + ", which " + owner[node]->key +
                      " has too, expected gates and vents without a common node");
        is_reported = true;
      }
      owner[node] = owner[node] == nullptr ? &port : owner[node];
    }
  };
  for (std::size_t i = 0; i < problem.gates.size(); ++i) {
    take(context.raw.gates[i], problem.gates[i].nodes);
  }
  for (std::size_t i = 0; i < problem.vents.size(); ++i) {
    take(context.raw.vents[i], problem.vents[i].nodes);
  }
}

// --- the whole ---------------------------------------------------------------------------------

bool has_usable_size(const RawCase& raw, const ShellMesh& mesh, Findings& findings) {
  const double extent = mesh_extent(mesh);
  constexpr double largest = 1e6; // [m]
  if (!mesh.elements.empty() && extent > 0 && extent < largest) {
    if (extent < 1e-3 || extent > 100) {
      add_warning(findings, raw.mesh_unit->line, "part.mesh_unit",
                  "found " + quoted_text(raw.mesh_unit->text) + ", which makes the part " +
                      short_number(extent) +
                      " m in its largest extent: is it the unit of the mesh's coordinates?");
    }
    return true;
  }
  add_error(findings, raw.mesh->line, "part.mesh",
            "found a mesh of " + std::to_string(mesh.elements.size()) + " elements and " +
                short_number(extent) + " m in its largest extent, expected a part");
  return false;
}

void put_values(const RawCase& raw, FillProblem& problem) {
  const auto optional_value = [](const Maybe<double>& given) {
    return given ? std::optional(given->value) : std::nullopt;
  };
  problem.resin = {value_or_zero(raw.viscosity), optional_value(raw.density),
                   optional_value(raw.gel_time)};
  problem.injector = {optional_value(raw.flow_rate), optional_value(raw.pressure_cap)};
  problem.ambient = raw.ambient ? raw.ambient->value : default_ambient;
  const Maybe<double> vent = raw.vents.empty() ? Maybe<double>{} : raw.vents.front().pressure;
  problem.cavity_pressure = value_or_zero(raw.cavity_pressure ? raw.cavity_pressure : vent);
}

void add_given(std::vector<UsedValue>& values, const std::string& key, const auto& given) {
  if (given) {
    values.push_back({key, given->text, true});
  }
}

void add_region_values(std::vector<UsedValue>& values, const RawRegion& region) {
  const auto given = [&](const char* name, const auto& value) {
    add_given(values, region.key + "." + name, value);
  };
  given("groups", region.groups);
  if (region.takes_rest) {
    values.push_back({region.key + ".groups", "all that no other region takes", false});
  }
  given("thickness", region.thickness);
  const auto* direct = std::get_if<DirectPermeability>(&region.reinforcement);
  if (direct != nullptr) {
    given("permeability", direct->permeability);
    given("porosity", direct->porosity);
  }
  const Region made = make_region(region);
  const bool is_isotropic = made.permeability_1 == made.permeability_2;
  if (is_isotropic && region.direction) {
    values.push_back({region.key + ".direction",
                      region.direction->text + " (not used: K1 and K2 are equal)", true});
    return;
  }
  given("direction", region.direction);
  given("angle", region.angle);
  if (!is_isotropic && !region.angle) {
    values.push_back({region.key + ".angle", "0 deg", false});
  }
}

void add_port_values(std::vector<UsedValue>& values, const RawPort& port) {
  add_given(values, port.key + ".at", port.at);
  add_given(values, port.key + ".group", port.group);
  add_given(values, port.key + ".radius", port.radius);
  add_given(values, port.key + ".pressure", port.pressure);
}

void add_air_values(std::vector<UsedValue>& values, const RawCase& raw) {
  add_given(values, "cavity.pressure", raw.cavity_pressure);
  if (!raw.cavity_pressure && !raw.vents.empty() && raw.vents.front().pressure) {
    values.push_back(
        {"cavity.pressure", raw.vents.front().pressure->text + " (that of the vents)", false});
  }
  values.push_back({"cavity.sealed_air", "false: air is vented everywhere, this version's model",
                    raw.sealed_air && !raw.sealed_air->value});
}

} // namespace

FillProblem build_problem(const RawCase& raw, ShellMesh mesh, Findings& findings) {
  FillProblem problem{};
  problem.mesh = std::move(mesh);
  put_values(raw, problem);
  if (!raw.mesh || !raw.mesh_unit || !has_usable_size(raw, problem.mesh, findings)) {
    return problem;
  }
  const MeshContext context{raw, problem.mesh, raw.mesh_unit->value, mesh_extent(problem.mesh),
                            findings};
  problem.element_region = assign_regions(context);
  for (const RawRegion& region : raw.regions) {
    problem.regions.push_back(make_region(region));
  }
  for (const RawPort& gate : raw.gates) {
    problem.gates.push_back(make_gate(context, gate));
  }
  for (const RawPort& vent : raw.vents) {
    problem.vents.push_back(make_vent(context, vent));
  }
  refuse_shared_nodes(context, problem);
  return problem;
}

std::vector<UsedValue> used_values(const RawCase& raw) {
  std::vector<UsedValue> values;
  add_given(values, "ambient", raw.ambient);
  if (!raw.ambient) {
    values.push_back({"ambient", "1013.25 hPa", false});
  }
  if (raw.temperature) {
    values.push_back({"temperature",
                      raw.temperature->text + " (for the record: the viscosity is used as given)",
                      true});
  }
  add_given(values, "part.mesh", raw.mesh);
  add_given(values, "part.mesh_unit", raw.mesh_unit);
  for (const RawRegion& region : raw.regions) {
    add_region_values(values, region);
  }
  add_given(values, "resin.viscosity", raw.viscosity);
  add_given(values, "resin.density", raw.density);
  add_given(values, "resin.gel_time", raw.gel_time);
  add_given(values, "injector.flow_rate", raw.flow_rate);
  add_given(values, "injector.pressure_cap", raw.pressure_cap);
  for (const RawPort& gate : raw.gates) {
    add_port_values(values, gate);
  }
  for (const RawPort& vent : raw.vents) {
    add_port_values(values, vent);
  }
  add_air_values(values, raw);
  add_given(values, "run.time_limit", raw.time_limit);
  return values;
}

} // namespace tidemark
