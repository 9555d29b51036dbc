#include "io/report_view.hpp"

#include "io/json_values.hpp"
#include "io/packed_array.hpp"
#include "io/port_place.hpp"
#include "io/spoken.hpp"
#include "mesh/triangulation.hpp"

#include <Eigen/Core>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

const std::size_t most_places = 9; // that are marked of each kind; the tables hold all

struct Box {
  Vector3 low;
  Vector3 high;
};

Box box_of(const ShellMesh& mesh) {
  Box box{mesh.positions[NodeId(0)], mesh.positions[NodeId(0)]};
  for (const Vector3& position : mesh.positions) {
    box.low = box.low.cwiseMin(position);
    box.high = box.high.cwiseMax(position);
  }
  return box;
}

Json positions_json(const ShellMesh& mesh) {
  Json axes = Json::array();
  for (int axis = 0; axis < 3; ++axis) {
    std::vector<double> values;
    values.reserve(mesh.positions.size());
    for (const Vector3& position : mesh.positions) {
      values.push_back(position[axis]);
    }
    axes.push_back(packed_numbers(values));
  }
  return axes;
}

/// Bit i: the side opposite to corner i is a diagonal of a quadrilateral, and no edge of the mesh.
std::uint32_t inner_sides(const ShellMesh& mesh, const Triangulation& triangulation,
                          TriangleId triangle) {
  const Element& element = mesh.elements[triangulation.element[triangle]];
  if (!element.is_quad()) {
    return 0;
  }
  const auto& corners = triangulation.corners[triangle];
  const auto place = [&](NodeId node) {
    return std::ranges::find(element.nodes, node) - element.nodes.begin();
  };
  std::uint32_t bits = 0;
  for (std::size_t i = 0; i < 3; ++i) {
    const auto apart = place(corners[(i + 1) % 3]) - place(corners[(i + 2) % 3]);
    bits |= std::abs(apart) == 2 ? 1U << i : 0U;
  }
  return bits;
}

Json mesh_json(const ShellMesh& mesh, const Triangulation& triangulation) {
  const Box box = box_of(mesh);
  std::vector<std::uint32_t> corners;
  std::vector<std::uint32_t> inner;
  corners.reserve(3 * triangulation.corners.size());
  for (const TriangleId triangle : triangulation.corners.ids()) {
    for (const NodeId node : triangulation.corners[triangle]) {
      corners.push_back(static_cast<std::uint32_t>(node.value()));
    }
    inner.push_back(inner_sides(mesh, triangulation, triangle));
  }
  Json data = {{"positions", positions_json(mesh)},
               {"middle", position_json((box.low + box.high) / 2)},
               {"extent", position_json(box.high - box.low)},
               {"corners", packed_whole_numbers(corners)}};
  if (std::ranges::any_of(inner, [](std::uint32_t bits) { return bits != 0; })) {
    data["inner_sides"] = packed_whole_numbers(inner);
  }
  return data;
}

Json field_json(const std::string& key, const std::string& label, const std::string& unit,
                const std::string& at, bool is_of_filling) {
  return {{"key", key}, {"label", label},    {"unit", unit},
          {"at", at},   {"kind", "numbers"}, {"is_of_filling", is_of_filling}};
}

void add_node_field(Json& fields, const ReportField& field) {
  const Json packed = packed_numbers(field.values.values());
  if (!packed.is_null()) {
    fields.push_back(field_json(field.key, field.label, field.unit, "node", true));
    fields.back()["packed"] = packed;
  }
}

Json region_field(const FillProblem& problem, const Triangulation& triangulation) {
  std::vector<std::uint32_t> numbers;
  numbers.reserve(triangulation.element.size());
  for (const ElementId element : triangulation.element) {
    numbers.push_back(static_cast<std::uint32_t>(problem.element_region[element].value()));
  }
  Json names = Json::array();
  for (const Region& region : problem.regions) {
    names.push_back(region.name);
  }
  Json field = field_json("region", "Region", "", "triangle", false);
  field["kind"] = "names";
  field["names"] = names;
  field["packed"] = packed_whole_numbers(numbers);
  return field;
}

/// The gate whose resin came first; where none did, a number after the last name.
void add_gate_field(Json& fields, const FillProblem& problem, const FillResult& result) {
  if (problem.gates.size() < 2 || result.gate_index.empty()) {
    return;
  }
  Json names = Json::array();
  for (const Gate& gate : problem.gates) {
    names.push_back(gate.name);
  }
  std::vector<std::uint32_t> numbers;
  for (const std::int32_t gate : result.gate_index) {
    numbers.push_back(static_cast<std::uint32_t>(
        gate < 0 ? static_cast<std::int32_t>(problem.gates.size()) : gate));
  }
  Json field = field_json("gate", "Gate of origin", "", "node", true);
  field["kind"] = "names";
  field["names"] = names;
  field["packed"] = packed_whole_numbers(numbers);
  fields.push_back(field);
}

struct ElementProperty {
  const char* key;
  const char* label;
  const char* unit;
  double (*of)(const Reinforcement& local);
};

const std::array<ElementProperty, 5> element_properties = {{
    {"thickness", "Cavity thickness", "length",
     [](const Reinforcement& local) { return local.thickness; }},
    {"fibre_volume_fraction", "Fibre volume fraction", "share",
     [](const Reinforcement& local) { return local.fibre_volume_fraction; }},
    {"permeability_1", "Permeability K1", "area",
     [](const Reinforcement& local) { return local.permeability_1; }},
    {"permeability_2", "Permeability K2", "area",
     [](const Reinforcement& local) { return local.permeability_2; }},
    {"shear", "Shear of the fabric", "angle",
     [](const Reinforcement& local) { return local.shear; }},
}};

/// Where nothing varies within a region, a number for each region does.
void add_by_region(Json& fields, const FillProblem& problem, const ElementProperty& property) {
  std::vector<double> values(problem.regions.size(), std::numeric_limits<double>::quiet_NaN());
  for (const ElementId element : problem.element_region.ids()) {
    double& value = values[problem.element_region[element].position()];
    if (std::isnan(value)) {
      value = property.of(reinforcement_at(problem, element));
    }
  }
  Json range = packed_numbers(values);
  range.erase("values");
  Json field = field_json(property.key, property.label, property.unit, "region", false);
  field["by_region"] = values;
  field["packed"] = range;
  fields.push_back(field);
}

void add_by_triangle(Json& fields, const FillProblem& problem, const Triangulation& triangulation,
                     const ElementProperty& property) {
  std::vector<double> values;
  values.reserve(triangulation.element.size());
  for (const ElementId element : triangulation.element) {
    values.push_back(property.of(reinforcement_at(problem, element)));
  }
  Json field = field_json(property.key, property.label, property.unit, "triangle", false);
  field["packed"] = packed_numbers(values);
  fields.push_back(field);
}

void add_part_fields(Json& fields, const FillProblem& problem, const Triangulation& triangulation) {
  fields.push_back(region_field(problem, triangulation));
  const bool is_sheared = std::ranges::any_of(
      problem.reinforcement, [](const Reinforcement& local) { return local.shear != 0; });
  for (const ElementProperty& property : element_properties) {
    if (property.key == std::string("shear") && !is_sheared) {
      continue;
    }
    if (problem.reinforcement.empty()) {
      add_by_region(fields, problem, property);
    } else {
      add_by_triangle(fields, problem, triangulation, property);
    }
  }
}

Json mark_json(const char* kind, const std::string& label, const Vector3& position) {
  return {{"kind", kind}, {"label", label}, {"at", position_json(position)}};
}

void add_ports(Json& marks, const FillProblem& problem) {
  for (const Gate& gate : problem.gates) {
    marks.push_back(mark_json("gate", gate.name, place_of_gate(problem.mesh, gate)));
  }
  for (const Vent& vent : problem.vents) {
    marks.push_back(mark_json("vent", vent.name, middle_of(problem.mesh, vent.nodes)));
  }
}

void add_places(Json& marks, const FillProblem& problem, const FillResult& result) {
  const auto count = [](const auto& places) { return std::min(places.size(), most_places); };
  for (std::size_t i = 0; i < count(result.last_filled); ++i) {
    marks.push_back(mark_json("last", std::to_string(i + 1),
                              problem.mesh.positions[result.last_filled[i].node]));
  }
  for (std::size_t i = 0; i < count(result.dry_spots); ++i) {
    marks.push_back(mark_json("dry", letter_name(i), result.dry_spots[i].position));
  }
  for (std::size_t i = 0; i < count(result.suspect_zones); ++i) {
    marks.push_back(mark_json("suspect", letter_name(result.dry_spots.size() + i),
                              result.suspect_zones[i].position));
  }
}

Json channels_json(const FillProblem& problem) {
  Json channels = Json::array();
  for (const Channel& channel : problem.channels) {
    std::vector<std::uint32_t> nodes;
    for (const auto& segment : channel.segments) {
      for (const NodeId node : segment) {
        nodes.push_back(static_cast<std::uint32_t>(node.value()));
      }
    }
    channels.push_back({{"name", channel.name}, {"nodes", packed_whole_numbers(nodes)}});
  }
  return channels;
}

/// Nodes of gates and vents that lie along a line or over a surface, beside the sign in their
/// middle.
Json port_nodes_json(const FillProblem& problem) {
  Json ports = Json::array();
  const auto add = [&](const char* kind, const std::vector<NodeId>& nodes) {
    if (nodes.size() > 1) {
      std::vector<std::uint32_t> numbers;
      numbers.reserve(nodes.size());
      for (const NodeId node : nodes) {
        numbers.push_back(static_cast<std::uint32_t>(node.value()));
      }
      ports.push_back({{"kind", kind}, {"nodes", packed_whole_numbers(numbers)}});
    }
  };
  for (const Gate& gate : problem.gates) {
    add("gate", gate.nodes);
  }
  for (const Vent& vent : problem.vents) {
    add("vent", vent.nodes);
  }
  return ports;
}

Json course_json(const FillResult& result) {
  Json times = Json::array({0});
  Json filled = Json::array({0});
  for (const HistoryRow& row : result.history) {
    times.push_back(row.time);
    filled.push_back(row.filled_fraction);
  }
  return {{"time", times}, {"filled", filled}};
}

} // namespace

Json part_view(const Case& input, const std::vector<ReportField>& fields) {
  const FillProblem& problem = input.problem;
  const Triangulation triangulation = triangulate(problem.mesh);
  Json all = Json::array();
  for (const ReportField& field : fields) {
    add_node_field(all, field);
  }
  add_part_fields(all, problem, triangulation);
  Json marks = Json::array();
  add_ports(marks, problem);
  return {{"title", input.title},
          {"caption", ""},
          {"mesh", mesh_json(problem.mesh, triangulation)},
          {"fields", all},
          {"marks", marks},
          {"channels", channels_json(problem)},
          {"port_nodes", port_nodes_json(problem)},
          {"has_no_front", true},
          {"has_never", false},
          {"is_short", false},
          {"end_time", 0}};
}

Json filling_view(const Case& input, const FillResult& result, const std::string& title,
                  const std::string& caption) {
  Json view = part_view(
      input, {{"fill_time", "Fill time", "time", result.fill_time_field},
              {"pressure", "Pressure at the end", "pressure", result.pressure},
              {"resin_age", "Age of the resin at the end", "time", result.resin_age},
              {"viscosity", "Viscosity at the end", "viscosity", result.viscosity},
              {"temperature", "Temperature at the end", "temperature", result.temperature},
              {"conversion", "Cure at the end", "share", result.conversion}});
  view["title"] = title;
  view["caption"] = caption;
  view["has_no_front"] = false;
  view["has_never"] =
      std::ranges::any_of(result.fill_time_field, [](double time) { return std::isnan(time); });
  view["is_short"] = result.verdict != Verdict::filled;
  view["end_time"] = result.end_time;
  view["course"] = course_json(result);
  add_gate_field(view["fields"], input.problem, result);
  add_places(view["marks"], input.problem, result);
  return view;
}

} // namespace tidemark
