#include "io/first_case.hpp"

#include "io/closing_direction.hpp"
#include "io/number_text.hpp"
#include "io/spoken.hpp"
#include "io/toml_text.hpp"
#include "io/wording.hpp"
#include "mesh/edge_lines.hpp"
#include "mesh/error.hpp"
#include "mesh/triangulation.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <set>
#include <vector>

namespace tidemark {

namespace {

constexpr std::size_t most_listed = 20;   // groups and rims, in comments
constexpr std::size_t most_regions = 100; // of a case somebody fills in by hand
constexpr std::size_t comment_column = 36;
constexpr std::size_t longest_shown = 40; // letters of a name that must be changed

struct LengthUnit {
  const char* name;
  double size; // [m]
};

/// What the lengths of the mesh file are told in: they have no unit yet.
struct Survey {
  const ShellMesh& mesh;
  double unit; // [m]
  double extent;
  LengthUnit likely;
};

/// Units in which the part would have a size that parts have.
std::vector<LengthUnit> likely_units(double extent) {
  constexpr std::array<LengthUnit, 4> units{
      {{"mm", 1e-3}, {"cm", 1e-2}, {"m", 1}, {"inch", 0.0254}}};
  constexpr double smallest = 0.05; // [m]
  constexpr double largest = 30;    // [m]
  std::vector<LengthUnit> likely;
  for (const LengthUnit& unit : units) {
    if (extent * unit.size >= smallest && extent * unit.size <= largest) {
      likely.push_back(unit);
    }
  }
  return likely.empty() ? std::vector{units[0], units[2]} : likely;
}

/// A length or area in mesh units; what is nothing against the part is rounding.
std::string size_text(double value, double of) {
  if (std::abs(value) < 1e-9 * of) {
    return "0";
  }
  std::array<char, 40> text{};
  const bool is_long = std::abs(value) >= 1e5 && std::abs(value) < 1e12;
  std::snprintf(text.data(), text.size(), is_long ? "%.0f" : "%.6g", value);
  return text.data();
}

std::string point_text(const Survey& survey, const Vector3& point) {
  std::string text = "[";
  for (Eigen::Index i = 0; i < 3; ++i) {
    text += (i > 0 ? ", " : "") + size_text(point[i] / survey.unit, survey.extent);
  }
  return text + "]";
}

/// "at [0, 0, 0]", or the corners of a box round the nodes. Precondition: there are nodes.
std::string place_of(const Survey& survey, const std::vector<NodeId>& nodes) {
  Vector3 lowest = survey.mesh.positions[nodes.front()];
  Vector3 highest = lowest;
  for (const NodeId node : nodes) {
    lowest = lowest.cwiseMin(survey.mesh.positions[node]);
    highest = highest.cwiseMax(survey.mesh.positions[node]);
  }
  return nodes.size() == 1
             ? "at " + point_text(survey, lowest)
             : "in the box " + point_text(survey, lowest) + " to " + point_text(survey, highest);
}

std::string area_text(const Survey& survey, double area) {
  const double in_units = area / (survey.unit * survey.unit);
  return size_text(in_units, survey.extent * survey.extent) + " square units (" +
         rough_number(in_units * survey.likely.size * survey.likely.size) + " m2 if the unit is " +
         survey.likely.name + ")";
}

/// "12 lines, 600 units long, in the box [0, 0, 0] to [600, 0, 0]".
std::string lines_text(const Survey& survey, const std::vector<std::array<NodeId, 2>>& lines) {
  double length = 0;
  std::vector<NodeId> nodes;
  for (const auto& [a, b] : lines) {
    length += (survey.mesh.positions[a] - survey.mesh.positions[b]).norm();
    nodes.insert(nodes.end(), {a, b});
  }
  return counted(lines.size(), "line", "lines") + ", " +
         size_text(length / survey.unit, survey.extent) + " units long, " + place_of(survey, nodes);
}

/// "?" stands for what is still to be filled in, and bytes that are not UTF-8 cannot stand in TOML;
/// a hundred dots in a line are refused.
bool can_be_named(const std::string& group) {
  return is_utf8(group) && group != "?" && std::ranges::count(group, '.') <= 20;
}

/// A group in a comment.
std::string group_text(const std::string& group) {
  if (can_be_named(group)) {
    return toml_string(group);
  }
  std::string letters;
  for (const char letter : group.substr(0, longest_shown)) {
    letters += static_cast<unsigned char>(letter) < 0x80 ? letter : '?';
  }
  return toml_string(letters) + " (no case file can name it: give it another name in the mesh)";
}

struct PlannedRegion {
  std::string name;
  std::string group; // empty: what no other region takes
  std::size_t elements = 0;
  double area = 0; // [m2]
};

/// A region's name heads columns and titles: no comma, semicolon, quotes or control characters.
std::string region_name_for(const std::string& group, std::set<std::string>& used) {
  std::string name;
  for (const char letter : group) {
    const auto code = static_cast<unsigned char>(letter);
    const bool is_clean = letter != ',' && letter != ';' && letter != '"' && code >= 0x20;
    name += is_clean && code != 0x7F ? letter : '_';
  }
  const std::string wanted = name.empty() || name == "?" ? "region" : name;
  name = wanted;
  for (int number = 2; !used.insert(name).second; ++number) {
    name = wanted + " " + std::to_string(number);
  }
  return name;
}

struct Plan {
  std::vector<PlannedRegion> regions;
  std::vector<std::string> left_out; // others have all their elements, or they are too many
};

/// What the region of a group takes, in the order in which `check` gives elements away: the first
/// region that names an element's group takes it.
PlannedRegion take(const ShellMesh& mesh, const std::vector<ElementId>& elements,
                   PerElement<bool>& taken) {
  PlannedRegion region;
  for (const ElementId element : elements) {
    if (!taken[element]) {
      taken[element] = true;
      ++region.elements;
      region.area += element_area(mesh, element);
    }
  }
  return region;
}

std::vector<ElementId> all_elements(const ShellMesh& mesh) {
  std::vector<ElementId> elements;
  for (const ElementId element : mesh.elements.ids()) {
    elements.push_back(element);
  }
  return elements;
}

Plan plan_regions(const ShellMesh& mesh) {
  Plan plan;
  PerElement<bool> taken(mesh.elements.size(), false);
  std::set<std::string> used;
  for (const ElementSet& set : mesh.element_sets) {
    if (set.elements.empty()) {
      continue;
    }
    const bool may_be = can_be_named(set.name) && plan.regions.size() < most_regions;
    PlannedRegion region = may_be ? take(mesh, set.elements, taken) : PlannedRegion{};
    if (region.elements == 0) {
      plan.left_out.push_back(set.name);
      continue;
    }
    region.group = set.name;
    region.name = region_name_for(set.name, used);
    plan.regions.push_back(region);
  }
  PlannedRegion rest = take(mesh, all_elements(mesh), taken);
  if (rest.elements > 0) {
    rest.name = region_name_for(plan.regions.empty() ? "part" : "rest", used);
    plan.regions.push_back(rest);
  }
  return plan;
}

/// A line of the case with a comment that begins in the usual column.
std::string commented(std::string line, const std::string& comment) {
  line.resize(std::max(line.size() + 1, comment_column), ' ');
  return line + "# " + comment + "\n";
}

/// "#   TEXT" for each of the first few, and how many more there are.
std::string comment_list(const std::vector<std::string>& texts) {
  std::string list;
  for (std::size_t i = 0; i < std::min(texts.size(), most_listed); ++i) {
    list += "#   " + texts[i] + "\n";
  }
  if (texts.size() > most_listed) {
    list += "#   and " + std::to_string(texts.size() - most_listed) + " more\n";
  }
  return list;
}

std::string head_text(const std::string& title) {
  return "# A first case file, written by tidemark start. Each \"?\" is a value still to be filled "
         "in;\n"
         "# tidemark check lists them. Physical numbers are texts with a unit, such as \"4 mm\".\n"
         "# Pressures are gauge: \"0 bar\" is the atmosphere, \"-0.5 bar\" half vacuum. There is "
         "no "
         "default\n# for physical data. README, \"All keys\", has more than stands here.\n\n"
         "title = " +
         toml_string(title) + "\n\n";
}

/// The unit is asked for, never guessed: only what each would mean is told.
std::string unit_question(const Survey& survey) {
  std::string text = "# ";
  const std::vector<LengthUnit> units = likely_units(survey.extent);
  for (std::size_t i = 0; i < units.size(); ++i) {
    text += (i == 0 ? "In " : ", in ") + std::string(units[i].name) +
            (i == 0 ? " the part would be " : " ") + rough_number(survey.extent * units[i].size) +
            " m" + (i == 0 ? " in its largest extent" : "");
  }
  return text + ". Which unit is it?\n";
}

std::string part_text(const Survey& survey, const std::string& mesh_name) {
  const ShellMesh& mesh = survey.mesh;
  std::vector<NodeId> nodes;
  for (const NodeId node : mesh.positions.ids()) {
    nodes.push_back(node);
  }
  return "[part]\nmesh = " + toml_string(mesh_name) + "\n# " +
         counted(mesh.elements.size(), "element", "elements") + " and " +
         counted(mesh.positions.size(), "node", "nodes") + " " + place_of(survey, nodes) +
         ";\n# area " + area_text(survey, surface_area(mesh)) + ".\n" + unit_question(survey) +
         commented("mesh_unit = \"?\"", "unit of the mesh's coordinates, such as \"mm\"") + "\n";
}

std::string region_text(const Survey& survey, const PlannedRegion& region) {
  std::string text = "[[region]]\nname = " + toml_string(region.name) + "\n";
  const std::string size =
      counted(region.elements, "element", "elements") + ", area " + area_text(survey, region.area);
  if (region.group.empty()) {
    text += "# No groups: all that no other region takes, " + size + "\n";
  } else {
    text += "# " + size + "\ngroups = [" + toml_string(region.group) + "]\n";
  }
  return text + commented("thickness = \"?\"", "of the cavity, such as \"4 mm\"") +
         commented("permeability = \"?\"",
                   "such as \"3e-9 m2\"; or a list of K1 and K2, with direction = [1, 0, 0]") +
         commented("porosity = \"?\"", "1 - fibre volume fraction, such as 0.8") + "\n";
}

std::string regions_text(const Survey& survey) {
  const Plan plan = plan_regions(survey.mesh);
  std::string text =
      "# Regions: one per kind of reinforcement or thickness; the first that names a group takes "
      "it.\n# Instead of permeability and porosity a region takes a layup of fabrics, such as\n"
      "# layup = [{ fabric = \"mat\", count = 2 }]: README, \"Layups and fabrics\".\n";
  if (!plan.left_out.empty()) {
    text += "# Surfaces of the mesh without a region of their own here:\n";
    std::vector<std::string> names;
    std::ranges::transform(plan.left_out, std::back_inserter(names), group_text);
    text += comment_list(names);
  }
  text += "\n";
  for (const PlannedRegion& region : plan.regions) {
    text += region_text(survey, region);
  }
  return text;
}

std::string resin_and_injector_text() {
  return "[resin]\n" +
         commented("viscosity = \"?\"", "at the temperature of injection, such as \"180 mPa.s\"") +
         commented("density = \"?\"",
                   "such as \"1100 kg/m3\"; or delete the line: no kilograms then") +
         commented("gel_time = \"?\"",
                   "from the start of injection, such as \"25 min\"; or delete the line: never") +
         "\n[injector]\n" +
         commented("flow_rate = \"?\"", "set point of the pump, such as \"1.5 L/min\"; either of "
                                        "these two lines may be deleted") +
         commented("pressure_cap = \"?\"", "limit at the mixing head, such as \"1.2 bar\"") +
         "# line = { length = \"?\", bore = \"?\" } # hose from head to gate\n\n";
}

/// Named points and lines, each with its size and place.
std::vector<std::string> candidates(const Survey& survey) {
  std::vector<std::string> texts;
  for (const NodeSet& set : survey.mesh.node_sets) {
    if (set.nodes.empty()) {
      continue;
    }
    texts.push_back(group_text(set.name) + ": " + counted(set.nodes.size(), "point", "points") +
                    " " + place_of(survey, set.nodes));
  }
  for (const LineSet& set : survey.mesh.line_sets) {
    if (!set.segments.empty()) {
      texts.push_back(group_text(set.name) + ": " + lines_text(survey, set.segments));
    }
  }
  return texts;
}

std::string port_place(bool by_group, const std::string& which) {
  if (by_group) {
    return commented("group = \"?\"", which + "; or at = [x, y, z] in mesh units, with a radius");
  }
  return commented("at = \"?\"", "a point on the part in mesh units, such as [120, 300, 0]") +
         commented("radius = \"?\"", "of the port, such as \"6 mm\"");
}

std::string ports_text(const Survey& survey) {
  const std::vector<std::string> named = candidates(survey);
  const bool by_group = !named.empty();
  return (by_group
              ? "# Named points and lines of the mesh, for gates, vents, runners and race "
                "tracks:\n" +
                    comment_list(named)
              : "# The mesh names no points or lines: gates and vents are given by a point.\n") +
         "\n# Gates let resin in. One table each.\n[[gate]]\nname = \"gate 1\"\n" +
         port_place(by_group, "one of those above") +
         "\n# Vents let air out, best where the front arrives last: the verdict tells where.\n"
         "[[vent]]\nname = \"vent 1\"\n" +
         port_place(by_group, "another of them") +
         commented("pressure = \"?\"", "gauge, such as \"-0.5 bar\"; \"0 bar\" for open air");
}

std::string free_edges_text(const Survey& survey) {
  const std::vector<std::array<NodeId, 2>> edges = free_edges(survey.mesh);
  if (edges.empty()) {
    return "\n# The mesh has no free edges: its surface is closed.\n";
  }
  std::vector<std::string> rims;
  for (const JoinedEdges& rim : joined_edges(edges)) {
    rims.push_back((rim.is_closed ? "closed rim: " : "open or branched: ") +
                   lines_text(survey, rim.edges));
  }
  return "\n# Free edges of the mesh, " + counted(edges.size(), "line", "lines") + " in " +
         counted(rims.size(), "piece", "pieces") + ":\n" + comment_list(rims) +
         "# Where the reinforcement ends short of the mould resin runs ahead in the gap:\n"
         "# [[race_track]]\n# name = \"rim\"\n# along = \"free edges\"            # all of them; "
         "or "
         "group = \"name\" of lines, or path = [[0, 0, 0], [800, 0, 0]]\n# gap = \"?\"             "
         "          # such as \"2 mm\"\n";
}

std::string optional_text(const Survey& survey) {
  return "\n# A channel that feeds along its length:\n# [[runner]]\n# name = \"runner\"\n"
         "# group = \"?\"                     # lines of the mesh; or path = [[0, 0, 0], [800, 0, "
         "0]]\n# width = \"?\"                     # such as \"10 mm\"\n# depth = \"?\"\n"
         "\n# For the load on the mould:\n# [mould]\n# closing_direction = " +
         axis_text(widest_axis(survey.mesh)) +
         "   # along what the halves part; this is the axis that shows most of the part\n"
         "# flange_pressure = \"?\"           # such as \"-0.9 bar\"\n"
         "# flange_area = \"?\"               # such as \"0.25 m2\"\n";
}

} // namespace

std::string first_case_text(const ShellMesh& mesh, double unit, const std::string& title,
                            const std::string& mesh_name) {
  const double extent = mesh_extent(mesh) / unit;
  if (mesh.elements.empty() || !(extent > 0)) {
    throw InputError(mesh_name + ": found a mesh of " + std::to_string(mesh.elements.size()) +
                     " elements and " + plain_number(extent) +
                     " in its largest extent, expected a part");
  }
  const Survey survey{mesh, unit, extent, likely_units(extent).front()};
  return head_text(title) + part_text(survey, mesh_name) + regions_text(survey) +
         resin_and_injector_text() + ports_text(survey) + free_edges_text(survey) +
         optional_text(survey);
}

} // namespace tidemark
