#include "io/port_check.hpp"

#include "io/raw_lookup.hpp"
#include "io/value_range.hpp"
#include "io/wording.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace tidemark {

namespace {

/// A point next to the origin at no node, whose thousandfold is on the part: written in metres for
/// millimetres. Near the origin of the part it passes otherwise.
void warn_of_metres(const MeshContext& context, const RawPort& port) {
  const Vector3 point = port.at->value * context.unit;
  const Vector3 larger = 1000 * point;
  const auto distance = [&](const Vector3& place) {
    return (context.mesh.positions[nearest_node(context.mesh, place)] - place).norm();
  };
  const bool is_next_to_origin = point.norm() > 0 && point.norm() < 2e-3 * context.extent;
  if (is_next_to_origin && distance(point) > 1e-6 * context.extent &&
      distance(larger) < 0.02 * context.extent) {
    add_warning(context.findings, port.at->line, port.key + ".at",
                "found " + port.at->text + " in " + context.raw.mesh_unit->text +
                    ", next to the origin; a thousand times that is on the part too: are these "
                    "numbers in another unit (m, mm)?");
  }
}

std::vector<NodeId> nodes_at_point(const MeshContext& context, const RawPort& port) {
  if (port.radius && port.radius->value > context.extent / 2) {
    add_error(context.findings, port.radius->line, port.key + ".radius",
              "found " + quoted_text(port.radius->text) + ", expected at most half the part (" +
                  in_mesh_units(context, context.extent / 2) + "); is part.mesh_unit right?");
    return {};
  }
  const NodeId nearest = node_near(context, port.at->value, port.at->line, port.key + ".at",
                                   port.at->text, port.radius ? port.radius->value : 0);
  if (!nearest.valid()) {
    return {};
  }
  warn_of_metres(context, port);
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

std::string name_or_empty(const RawPort& port) {
  return port.name ? port.name->value : "";
}

std::vector<Hose> make_line(const std::vector<RawHose>& hoses) {
  std::vector<Hose> line;
  line.reserve(hoses.size());
  for (const RawHose& hose : hoses) {
    line.push_back({value_or_zero(hose.length), value_or_zero(hose.bore)});
  }
  return line;
}

/// A pressure that is held is a cap without a flow rate.
Injector make_injector(const RawInjector& raw) {
  Injector injector{value_or_none(raw.flow_rate),
                    value_or_none(raw.pressure ? raw.pressure : raw.pressure_cap),
                    make_line(raw.hoses)};
  for (const RawStage& stage : raw.stages) {
    injector.stages.push_back({value_or_none(stage.from_time), value_or_none(stage.from_volume),
                               value_or_none(stage.flow_rate), value_or_none(stage.pressure_cap)});
  }
  return injector;
}

/// A name that only one gate or vent has; otherwise an error was reported.
Moment make_moment(const RawCase& raw, const RawMoment& moment, std::size_t own_index) {
  Moment made{value_or_none(moment.time)};
  if (moment.reached && moment.reached->value.empty()) {
    made.reached = PortRef{PortRef::Kind::gate, own_index};
  } else if (moment.reached) {
    const std::vector<PortRef> ports = ports_named(raw, moment.reached->value);
    made.reached = ports.size() == 1 ? std::optional(ports.front()) : std::nullopt;
  }
  return made;
}

Gate make_gate(const MeshContext& context, std::size_t index) {
  const RawGate& raw = context.raw.gates[index];
  Gate gate{name_or_empty(raw.port), nodes_of_port(context, raw.port), Vector3::Zero(),
            std::nullopt};
  if (raw.port.at) {
    gate.centre = raw.port.at->value * context.unit;
    gate.radius = value_or_none(raw.port.radius);
  }
  if (raw.own_injector) {
    gate.own_injector = make_injector(*raw.own_injector);
  }
  gate.opens = make_moment(context.raw, raw.opens, index);
  gate.closes = make_moment(context.raw, raw.closes, index);
  return gate;
}

/// Of vents that agree to rounding the first one's pressure, so that air knows no difference
/// between -0.5 bar and -500 mbar.
double pressure_of(const RawCase& raw, const RawVent& vent) {
  const double own = value_or_zero(vent.pressure);
  for (const RawVent& other : raw.vents) {
    if (other.pressure && std::abs(other.pressure->value - own) <= 1e-9 * ambient_of(raw)) {
      return other.pressure->value;
    }
  }
  return own;
}

double bleed_of(const RawVent& vent) {
  const bool stays_open = vent.closes && !vent.closes->value;
  return stays_open ? std::numeric_limits<double>::infinity() : value_or_zero(vent.bleed);
}

Vent make_vent(const MeshContext& context, const RawVent& vent) {
  return {name_or_empty(vent.port), nodes_of_port(context, vent.port),
          pressure_of(context.raw, vent), bleed_of(vent), make_line(vent.hoses)};
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
    take(context.raw.gates[i].port, problem.gates[i].nodes);
  }
  for (std::size_t i = 0; i < problem.vents.size(); ++i) {
    take(context.raw.vents[i].port, problem.vents[i].nodes);
  }
}

} // namespace

void put_ports(const MeshContext& context, FillProblem& problem) {
  if (context.raw.injector) {
    problem.injector = make_injector(*context.raw.injector);
  }
  for (std::size_t i = 0; i < context.raw.gates.size(); ++i) {
    problem.gates.push_back(make_gate(context, i));
  }
  for (const RawVent& vent : context.raw.vents) {
    problem.vents.push_back(make_vent(context, vent));
  }
  refuse_shared_nodes(context, problem);
}

} // namespace tidemark
