// Any bytes as the text of a case file, checked against a small plate: either a case comes out or
// an InputError, never anything else.
#include "io/case_check.hpp"
#include "io/raw_case.hpp"
#include "mesh/error.hpp"

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>
#include <vector>

using namespace tidemark;

namespace {

/// 100 by 40 mesh units in four triangles, with the groups the seeds use.
ShellMesh plate(double unit) {
  ShellMesh mesh;
  for (int i = 0; i < 3; ++i) {
    for (int j = 0; j < 2; ++j) {
      mesh.positions.push_back(Vector3(50 * unit * i, 40 * unit * j, 0));
      mesh.node_labels.push_back(2 * i + j + 1);
    }
  }
  for (int i = 0; i < 2; ++i) {
    const int a = 2 * i;
    mesh.elements.push_back({{NodeId(a), NodeId(a + 2), NodeId(a + 3), NodeId()}});
    mesh.elements.push_back({{NodeId(a), NodeId(a + 3), NodeId(a + 1), NodeId()}});
    mesh.element_labels.push_back(2 * i + 1);
    mesh.element_labels.push_back(2 * i + 2);
  }
  mesh.node_sets = {{"port", {NodeId(4)}}};
  mesh.line_sets = {{"edge", {{NodeId(0), NodeId(1)}}}};
  mesh.element_sets = {{"skin", {ElementId(0), ElementId(1)}},
                       {"core", {ElementId(2), ElementId(3)}}};
  mesh.element_arrays = {{"thickness", 1, false, {4, 4.5, 5, 0}},
                         {"way", 3, false, {1, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 0}},
                         {"shear", 1, false, {0, 20, -20, 40}},
                         {"part", 1, true, {}}};
  return mesh;
}

void require(bool holds) {
  if (!holds) {
    std::abort();
  }
}

void require_sound_line(const std::vector<Hose>& line) {
  for (const Hose& hose : line) {
    require(hose.length > 0 && hose.bore > 0);
  }
}

void require_sound_drive(const Injector& injector) {
  require(injector.flow_rate.has_value() || injector.pressure_cap.has_value());
  require_sound_line(injector.line);
  for (const InjectorStage& stage : injector.stages) {
    require(stage.from_time.has_value() != stage.from_volume.has_value());
    require(stage.from_time.value_or(1) > 0 && stage.from_volume.value_or(1) > 0);
    require(stage.flow_rate.has_value() || stage.pressure_cap.has_value());
    require(stage.flow_rate.value_or(1) > 0);
  }
}

void require_sound_moment(const FillProblem& problem, const Moment& moment) {
  require(!moment.time || (!moment.reached && *moment.time >= 0));
  if (moment.reached) {
    const bool is_gate = moment.reached->kind == PortRef::Kind::gate;
    require(moment.reached->index < (is_gate ? problem.gates.size() : problem.vents.size()));
  }
}

void require_sound_ports(const FillProblem& problem) {
  for (const Gate& gate : problem.gates) {
    require(!gate.nodes.empty());
    require_sound_drive(gate.own_injector ? *gate.own_injector : problem.injector);
    require_sound_moment(problem, gate.opens);
    require_sound_moment(problem, gate.closes);
  }
  for (const Vent& vent : problem.vents) {
    require(!vent.nodes.empty() && vent.bleed >= 0 && vent.pressure >= -1.01 * problem.ambient);
    require_sound_line(vent.line);
  }
}

void require_sound_channels(const FillProblem& problem) {
  for (const Channel& channel : problem.channels) {
    const std::size_t count = channel.segments.size();
    require(count > 0 && channel.area.size() == count && channel.permeability.size() == count);
    for (std::size_t i = 0; i < count; ++i) {
      require(channel.area[i] > 0 && channel.permeability[i] > 0);
    }
  }
}

/// What the filling relies on once no error is left.
void require_sound(const FillProblem& problem) {
  require(!problem.gates.empty() && !problem.regions.empty());
  require(problem.element_region.size() == problem.mesh.elements.size());
  for (const RegionId region : problem.element_region) {
    require(region.valid() && region.position() < problem.regions.size());
  }
  for (const Region& region : problem.regions) {
    require(region.thickness > 0 && region.porosity > 0 && region.porosity <= 1);
    require(region.permeability_1 > 0 && region.permeability_2 > 0);
    require(region.direction.allFinite());
  }
  for (const Reinforcement& local : problem.reinforcement) {
    require(local.thickness > 0 && local.porosity > 0 && local.porosity <= 1);
    require(local.permeability_1 > 0 && local.permeability_2 > 0);
    require(local.direction.allFinite() && std::isfinite(local.angle));
  }
  require(problem.resin.viscosity > 0);
  require_sound_ports(problem);
  require_sound_channels(problem);
  require(!problem.gravity || (problem.gravity->allFinite() && problem.resin.density));
  require(!problem.mould || (std::abs(problem.mould->closing_direction.norm() - 1) < 1e-9 &&
                             problem.mould->hold_down_force >= 0));
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  Findings findings{"case.toml", {}, {}};
  try {
    const RawCase raw =
        parse_case(std::string_view(reinterpret_cast<const char*>(data), size), findings);
    check_values(raw, findings);
    const double unit = raw.mesh_unit ? raw.mesh_unit->value : 1;
    const FillProblem problem = build_problem(raw, plate(unit), findings);
    used_values(raw);
    texts_of(findings.warnings);
    throw_if_errors(findings);
    require_sound(problem);
  } catch (const InputError& error) {
    require(!error.findings().empty());
  }
  return 0;
}
