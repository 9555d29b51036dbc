// Ranges of the values of a case, one by one and against each other, without the mesh.
#include "io/case_check.hpp"
#include "io/channel_value_check.hpp"
#include "io/heat_value_check.hpp"
#include "io/laid_stack.hpp"
#include "io/layup_check.hpp"
#include "io/port_value_check.hpp"
#include "io/resin_value_check.hpp"
#include "io/scatter_value_check.hpp"
#include "io/value_range.hpp"
#include "io/wording.hpp"

namespace tidemark {

namespace {

constexpr Limits ambient_limits{
    1,
    1e7,
    5e4,
    1.1e5,
    "an absolute pressure above 0 (from 1 Pa to 100 bar)",
    "500 hPa to 1100 hPa are usual; ambient is the absolute pressure of the air around the mould"};
constexpr Limits acceleration_limits{1e-6,
                                     1e6,
                                     0.1,
                                     100,
                                     "an acceleration above 0 (from 1e-6 m/s2 to 1e6 m/s2)",
                                     "0.1 m/s2 to 100 m/s2 are usual; on Earth it is 9.81 m/s2"};
constexpr Limits flange_area_limits{1e-8,
                                    1e4,
                                    1e-4,
                                    100,
                                    "an area above 0 (from 1e-8 m2 to 1e4 m2)",
                                    "1 cm2 to 100 m2 are usual; is the unit right (cm2, m2)?"};
constexpr Limits clamp_force_limits{0,
                                    1e12,
                                    0,
                                    1e8,
                                    "a force of 0 or more (up to 1e12 N)",
                                    "up to 100 MN are usual; is the unit right (N, kN)?"};
constexpr Limits sphere_limits{1e-6,
                               1e6,
                               1e-3,
                               100,
                               "a radius above 0 (from 1e-6 m to 1e6 m)",
                               "1 mm to 100 m are usual; is the unit right (mm, cm, m)?"};
constexpr Limits step_limits{1e-6,
                             100,
                             1e-4,
                             1,
                             "a length above 0 (from 1e-6 m to 100 m)",
                             "0.1 mm to 1 m are usual; is the unit right (mm, cm, m)?"};
constexpr Limits time_limit_limits{1e-6, 1e9, 1e-6, 1e9, "a time above 0 (from 1e-6 s to 1e9 s)",
                                   ""};
constexpr Limits mesh_unit_limits{1e-9,
                                  1e3,
                                  1e-6,
                                  1,
                                  "the unit of a length from 1e-9 m to 1000 m such as \"mm\"",
                                  "mm, cm, m, inch or foot are usual"};

void check_directions(const RawRegion& region, bool is_anisotropic, Findings& findings) {
  check_direction(region.direction, region.key + ".direction", findings);
  if (is_anisotropic && !region.has_direction) {
    add_error(findings, region.line, region.key + ".direction",
              "found no such key, expected where K1 points such as [1, 0, 0], since K1 and K2 "
              "differ");
  }
}

void check_reinforcement(const RawRegion& region, const DirectPermeability& direct,
                         Findings& findings) {
  if (direct.permeability) {
    const std::vector<double>& k = direct.permeability->value;
    check_principal_values(*direct.permeability, region.key + ".permeability", findings);
    check_directions(region, k.front() != k.back(), findings);
  }
  if (direct.porosity) {
    check_number(direct.porosity->value, direct.porosity->line, region.key + ".porosity",
                 direct.porosity->text, porosity_limits, findings);
  }
}

void check_region(const RawCase& raw, const RawRegion& region, Findings& findings) {
  if (region.sphere) {
    check_range(region.sphere->radius, region.sphere->key + ".radius", sphere_limits, findings);
  }
  check_range(region.thickness, region.key + ".thickness", thickness_limits, findings);
  check_range(region.angle, region.key + ".angle", angle_limits, findings);
  if (const auto* direct = std::get_if<DirectPermeability>(&region.reinforcement)) {
    check_reinforcement(region, *direct, findings);
    return;
  }
  check_layup(raw, region, findings);
  if (region.drape) {
    check_direction(region.drape->direction, region.drape->key + ".direction", findings);
    check_range(region.drape->step, region.drape->key + ".step", step_limits, findings);
    return;
  }
  const auto stack = stack_of(raw, region);
  check_directions(region, stack && stack->permeability_1 != stack->permeability_2, findings);
}

void check_gravity(const RawCase& raw, Findings& findings) {
  check_direction(raw.gravity->direction, "gravity.direction", findings);
  check_range(raw.gravity->acceleration, "gravity.acceleration", acceleration_limits, findings);
  if (!raw.resin.has_density) {
    add_error(findings, raw.gravity->line, "resin.density",
              "found no such key, expected a density such as \"1100 kg/m3\", since [gravity] "
              "needs the weight of the resin");
  }
}

void check_flange_pressure(const RawCase& raw, Findings& findings) {
  const Maybe<double>& pressure = raw.mould->flange_pressure;
  if (pressure && !(pressure->value < 0)) {
    add_error(findings, pressure->line, "mould.flange_pressure",
              "found " + quoted_text(pressure->text) +
                  ", expected a gauge pressure below 0, a vacuum that holds the flange shut");
  } else {
    check_pressure(raw, pressure, "mould.flange_pressure", findings);
  }
}

void check_mould(const RawCase& raw, Findings& findings) {
  check_direction(raw.mould->closing_direction, "mould.closing_direction", findings);
  check_flange_pressure(raw, findings);
  check_range(raw.mould->flange_area, "mould.flange_area", flange_area_limits, findings);
  check_range(raw.mould->clamp_force, "mould.clamp_force", clamp_force_limits, findings);
}

} // namespace

void check_values(const RawCase& raw, Findings& findings) {
  check_range(raw.ambient, "ambient", ambient_limits, findings);
  check_range(raw.temperature, "temperature", temperature_limits, findings);
  check_range(raw.mesh_unit, "part.mesh_unit", mesh_unit_limits, findings);
  for (const RawRegion& region : raw.regions) {
    check_region(raw, region, findings);
  }
  warn_of_unused_fabrics(raw, findings);
  check_resin(raw, findings);
  check_heat(raw, findings);
  check_scatter(raw, findings);
  check_port_values(raw, findings);
  check_channel_values(raw, findings);
  check_pressure(raw, raw.cavity_pressure, "cavity.pressure", findings);
  if (raw.gravity) {
    check_gravity(raw, findings);
  }
  if (raw.mould) {
    check_mould(raw, findings);
  }
  check_range(raw.time_limit, "run.time_limit", time_limit_limits, findings);
}

} // namespace tidemark
