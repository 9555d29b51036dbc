// The list of every value a run uses, given or default.
#include "io/case_check.hpp"
#include "io/laid_stack.hpp"
#include "io/layup_check.hpp"
#include "io/number_text.hpp"
#include "io/raw_lookup.hpp"
#include "io/region_check.hpp"
#include "io/wording.hpp"

#include <algorithm>

namespace tidemark {

namespace {

void add_given(std::vector<UsedValue>& values, const std::string& key, const auto& given) {
  if (given) {
    values.push_back({key, given->text, true});
  }
}

void add_default(std::vector<UsedValue>& values, const std::string& key, const std::string& text) {
  values.push_back({key, text, false});
}

void add_ply_values(std::vector<UsedValue>& values, const RawPly& ply) {
  const auto given = [&](const char* name, const auto& value) {
    add_given(values, ply.key + "." + name, value);
  };
  given("fabric", ply.fabric);
  given("count", ply.count);
  if (ply.fabric && !ply.count) {
    add_default(values, ply.key + ".count", "1");
  }
  given("gap", ply.gap);
  given("core", ply.core);
  given("angle", ply.angle);
  if (!ply.angle && !ply.gap) {
    add_default(values, ply.key + ".angle", "0 deg");
  }
  given("permeability", ply.permeability);
  given("porosity", ply.porosity);
  given("density", ply.density);
  given("price", ply.price);
  if (ply.grooves) {
    given("grooves.width", ply.grooves->width);
    given("grooves.depth", ply.grooves->depth);
    given("grooves.spacing", ply.grooves->spacing);
    given("grooves.crossed", ply.grooves->crossed);
    if (!ply.grooves->crossed) {
      add_default(values, ply.key + ".grooves.crossed", "false");
    }
  } else if (ply.core && !ply.permeability) {
    add_default(values, ply.key + ".permeability", "0: no channels");
  }
}

void add_reinforcement_values(std::vector<UsedValue>& values, const RawCase& raw,
                              const RawRegion& region) {
  if (const auto* direct = std::get_if<DirectPermeability>(&region.reinforcement)) {
    add_given(values, region.key + ".permeability", direct->permeability);
    add_given(values, region.key + ".porosity", direct->porosity);
    return;
  }
  const RawLayup& layup = std::get<RawLayup>(region.reinforcement);
  add_given(values, region.key + ".fibre_volume_fraction", layup.fibre_volume_fraction);
  if (const auto stack = layup.fibre_volume_fraction ? stack_of(raw, region) : std::nullopt) {
    add_default(values, region.key + ".thickness",
                plain_number(1e3 * stack->thickness) + " mm (from fibre_volume_fraction)");
  }
  for (const RawPly& ply : layup.plies) {
    add_ply_values(values, ply);
  }
}

void add_array(std::vector<UsedValue>& values, const std::optional<RawArray>& array) {
  if (array) {
    values.push_back({array->key, array->text, true});
  }
}

void add_drape_values(std::vector<UsedValue>& values, const RawRegion& region) {
  const RawDrape& drape = *region.drape;
  add_given(values, drape.key + ".start", drape.start);
  add_given(values, drape.key + ".direction", drape.direction);
  add_given(values, drape.key + ".step", drape.step);
  if (!drape.step) {
    add_default(values, drape.key + ".step",
                "half the side of a square as large as two triangles of mean area");
  }
  add_given(values, region.key + ".angle", region.angle);
  if (!region.angle) {
    add_default(values, region.key + ".angle", "0 deg");
  }
}

void add_region_values(std::vector<UsedValue>& values, const RawCase& raw,
                       const RawRegion& region) {
  const auto given = [&](const char* name, const auto& value) {
    add_given(values, region.key + "." + name, value);
  };
  given("groups", region.groups);
  given("box", region.box);
  if (region.sphere) {
    given("sphere.centre", region.sphere->centre);
    given("sphere.radius", region.sphere->radius);
  }
  if (region.takes_rest) {
    add_default(values, region.key + ".groups", "all that no other region takes");
  }
  given("thickness", region.thickness);
  add_array(values, region.fields.thickness);
  add_array(values, region.fields.fibre_volume_fraction);
  add_reinforcement_values(values, raw, region);
  add_array(values, region.fields.shear);
  if (region.drape) {
    add_drape_values(values, region);
    return;
  }
  const Region made = make_region(raw, region);
  const bool is_isotropic = made.permeability_1 == made.permeability_2 &&
                            (layup_of(region) == nullptr || !varies(region));
  add_array(values, region.fields.direction);
  add_array(values, region.fields.angle);
  if (is_isotropic && region.direction) {
    values.push_back({region.key + ".direction",
                      region.direction->text + " (not used: K1 and K2 are equal)", true});
    return;
  }
  given("direction", region.direction);
  given("angle", region.angle);
  if (!is_isotropic && !region.angle && !region.fields.angle) {
    add_default(values, region.key + ".angle", "0 deg");
  }
}

void add_law_values(std::vector<UsedValue>& values, const RawPermeabilityLaw& law) {
  const auto given = [&](const char* name, const auto& value) {
    add_given(values, law.key + "." + name, value);
  };
  given("law", law.law);
  given("value", law.value);
  given("factor", law.factor);
  given("exponent", law.exponent);
  given("constant", law.constant);
  given("fibre_radius", law.fibre_radius);
  given("kozeny_constant", law.kozeny_constant);
  given("packing", law.packing);
  given("fibre_volume_fraction", law.fibre_volume_fraction);
  given("k1", law.k1);
  given("k2", law.k2);
  if (law.k1 && !law.k2) {
    add_default(values, law.key + ".k2", "as k1");
  }
  given("valid", law.valid);
}

/// is_sheared: whether the case has shear at all.
void add_fabric_values(std::vector<UsedValue>& values, const RawFabric& fabric, bool is_sheared) {
  add_given(values, fabric.key + ".areal_weight", fabric.areal_weight);
  add_given(values, fabric.key + ".fibre_density", fabric.fibre_density);
  add_given(values, fabric.key + ".price", fabric.price);
  add_given(values, fabric.key + ".warp_to_k1", fabric.warp_to_k1);
  if (!fabric.warp_to_k1) {
    add_default(values, fabric.key + ".warp_to_k1", "0 deg");
  }
  add_given(values, fabric.key + ".woven", fabric.woven);
  add_given(values, fabric.key + ".locking_angle", fabric.locking_angle);
  if (is_sheared && !fabric.woven) {
    add_default(values, fabric.key + ".woven", "true: it shears like a net of yarns");
  }
  if (is_sheared && !fabric.locking_angle && !(fabric.woven && !fabric.woven->value)) {
    add_default(values, fabric.key + ".locking_angle", "not known: nothing is said of wrinkles");
  }
  add_law_values(values, fabric.permeability);
  if (!fabric.compaction) {
    add_default(values, fabric.key + ".compaction", "not known");
    return;
  }
  const RawCompactionLaw& law = *fabric.compaction;
  add_given(values, law.key + ".law", law.law);
  add_given(values, law.key + ".pressure", law.pressure);
  add_given(values, law.key + ".fibre_volume_fraction", law.fibre_volume_fraction);
  add_given(values, law.key + ".exponent", law.exponent);
  add_given(values, law.key + ".valid", law.valid);
}

/// Of a file of fabrics only those that are laid up.
void add_used_fabrics(std::vector<UsedValue>& values, const RawCase& raw) {
  add_given(values, "fabrics", raw.fabrics_file);
  const std::set<std::string> used = names_of_used_fabrics(raw);
  const bool is_sheared = std::ranges::any_of(
      raw.regions, [](const RawRegion& region) { return region.drape || region.fields.shear; });
  for (const RawFabric& fabric : raw.fabrics) {
    if (used.contains(fabric.name)) {
      add_fabric_values(values, fabric, is_sheared);
    }
  }
}

void add_hose_values(std::vector<UsedValue>& values, const std::vector<RawHose>& hoses) {
  for (const RawHose& hose : hoses) {
    add_given(values, hose.key + ".length", hose.length);
    add_given(values, hose.key + ".bore", hose.bore);
  }
}

void add_injector_values(std::vector<UsedValue>& values, const RawInjector& injector) {
  add_given(values, injector.key + ".flow_rate", injector.flow_rate);
  add_given(values, injector.key + ".pressure", injector.pressure);
  add_given(values, injector.key + ".pressure_cap", injector.pressure_cap);
  add_hose_values(values, injector.hoses);
  for (const RawStage& stage : injector.stages) {
    add_given(values, stage.key + ".from_time", stage.from_time);
    add_given(values, stage.key + ".from_volume", stage.from_volume);
    add_given(values, stage.key + ".flow_rate", stage.flow_rate);
    add_given(values, stage.key + ".pressure_cap", stage.pressure_cap);
  }
}

void add_machine_values(std::vector<UsedValue>& values, const RawInjector& injector) {
  add_given(values, "injector.mixing", injector.mixing);
  add_given(values, "injector.mixed_before", injector.mixed_before);
  if (injector.mixing && injector.mixing->value == "batch" && !injector.mixed_before) {
    add_default(values, "injector.mixed_before", "0 s: mixed as the injection starts");
  }
  add_given(values, "injector.stroke_volume", injector.stroke_volume);
  add_given(values, "injector.max_flow_rate", injector.max_flow_rate);
  add_given(values, "injector.max_pressure", injector.max_pressure);
  add_given(values, "injector.pressure_ratio", injector.pressure_ratio);
  add_given(values, "injector.air_pressure", injector.air_pressure);
}

void add_place_values(std::vector<UsedValue>& values, const RawPort& port) {
  add_given(values, port.key + ".at", port.at);
  add_given(values, port.key + ".group", port.group);
  add_given(values, port.key + ".radius", port.radius);
}

void add_moment_values(std::vector<UsedValue>& values, const RawMoment& moment,
                       const std::string& key, const char* otherwise) {
  add_given(values, key + "_at", moment.time);
  add_given(values, key, moment.reached);
  if (!moment.is_given) {
    add_default(values, key, otherwise);
  }
}

void add_gate_values(std::vector<UsedValue>& values, const RawGate& gate) {
  add_place_values(values, gate.port);
  if (gate.own_injector) {
    add_injector_values(values, *gate.own_injector);
  }
  add_moment_values(values, gate.opens, gate.port.key + ".opens", "from the start");
  add_moment_values(values, gate.closes, gate.port.key + ".closes", "never");
}

void add_vent_values(std::vector<UsedValue>& values, const RawVent& vent) {
  add_place_values(values, vent.port);
  add_given(values, vent.port.key + ".pressure", vent.pressure);
  add_given(values, vent.port.key + ".closes", vent.closes);
  add_given(values, vent.port.key + ".bleed", vent.bleed);
  if (!vent.closes && !vent.bleed) {
    add_default(values, vent.port.key + ".closes", "on arrival");
  }
  add_hose_values(values, vent.hoses);
}

void add_runner_values(std::vector<UsedValue>& values, const RawRunner& runner) {
  add_given(values, runner.key + ".group", runner.group);
  add_given(values, runner.key + ".path", runner.path);
  add_given(values, runner.key + ".width", runner.width);
  add_given(values, runner.key + ".depth", runner.depth);
  add_given(values, runner.key + ".bore", runner.bore);
}

void add_track_values(std::vector<UsedValue>& values, const RawRaceTrack& track) {
  add_given(values, track.key + ".group", track.group);
  add_given(values, track.key + ".path", track.path);
  add_given(values, track.key + ".along", track.along);
  add_given(values, track.key + ".between", track.between);
  add_given(values, track.key + ".gap", track.gap);
  add_given(values, track.key + ".permeability", track.permeability);
  if (!track.permeability) {
    add_default(values, track.key + ".permeability",
                "that of a slot: the narrower of gap and cavity, squared, / 12");
  }
}

void add_air_values(std::vector<UsedValue>& values, const RawCase& raw) {
  add_given(values, "cavity.pressure", raw.cavity_pressure);
  const Maybe<double> vent = lowest_vent_pressure(raw);
  if (!raw.cavity_pressure && vent) {
    add_default(values, "cavity.pressure", vent->text + " (that of the vents)");
  }
  const bool is_sealed = !raw.sealed_air || raw.sealed_air->value;
  values.push_back({"cavity.sealed_air",
                    is_sealed ? "true: air without an open vent is shut in"
                              : "false: every dry place stays vented",
                    raw.sealed_air.has_value()});
}

void add_gravity_values(std::vector<UsedValue>& values, const RawGravity& gravity) {
  add_given(values, "gravity.direction", gravity.direction);
  add_given(values, "gravity.acceleration", gravity.acceleration);
  if (!gravity.acceleration) {
    add_default(values, "gravity.acceleration", shortest(standard_gravity) + " m/s2");
  }
}

void add_mould_values(std::vector<UsedValue>& values, const RawMould& mould) {
  add_given(values, "mould.closing_direction", mould.closing_direction);
  add_given(values, "mould.flange_pressure", mould.flange_pressure);
  add_given(values, "mould.flange_area", mould.flange_area);
  add_given(values, "mould.clamp_force", mould.clamp_force);
  if (!mould.flange_pressure) {
    add_default(values, "mould.flange_pressure", "none: no vacuum on the flange");
  }
  if (!mould.clamp_force) {
    add_default(values, "mould.clamp_force", "none");
  }
}

void add_heat_values(std::vector<UsedValue>& values, const RawHeat& heat) {
  add_given(values, "heat.mould_temperature", heat.mould_temperature);
  add_given(values, "heat.wall_coefficient", heat.wall_coefficient);
  add_given(values, "heat.resin_specific_heat", heat.resin_specific_heat);
  add_given(values, "heat.fibre_specific_heat", heat.fibre_specific_heat);
  add_given(values, "heat.fibre_density", heat.fibre_density);
  add_given(values, "heat.heat_of_cure", heat.heat_of_cure);
  add_given(values, "heat.highest_temperature", heat.highest_temperature);
  if (!heat.highest_temperature) {
    add_default(values, "heat.highest_temperature", "none: no warning");
  }
}

void add_variation_values(std::vector<UsedValue>& values,
                          const std::optional<RawVariation>& variation) {
  if (variation) {
    add_given(values, variation->key + ".law", variation->law);
    add_given(values, variation->key + ".variation", variation->variation);
    add_given(values, variation->key + ".correlation_length", variation->correlation_length);
  }
}

void add_scatter_values(std::vector<UsedValue>& values, const RawScatter& scatter) {
  add_given(values, "scatter.samples", scatter.samples);
  add_given(values, "scatter.seed", scatter.seed);
  for (const auto* variation : {&scatter.permeability, &scatter.fibre_volume_fraction,
                                &scatter.viscosity, &scatter.race_track_gap}) {
    add_variation_values(values, *variation);
  }
  for (const auto* deviation : {&scatter.temperature, &scatter.mould_temperature}) {
    if (*deviation) {
      add_given(values, (*deviation)->key + ".deviation", (*deviation)->deviation);
    }
  }
  for (const RawRegionScatter& region : scatter.regions) {
    add_variation_values(values, region.permeability);
    add_variation_values(values, region.fibre_volume_fraction);
  }
}

void add_viscosity_values(std::vector<UsedValue>& values, const RawViscosityLaw& law) {
  const auto given = [&](const char* name, const auto& value) {
    add_given(values, law.key + "." + name, value);
  };
  given("law", law.law);
  given("temperature", law.temperature);
  given("age", law.age);
  given("viscosity", law.viscosity);
  given("at", law.at);
  given("activation_energy", law.activation_energy);
  given("valid", law.valid);
  given("initial", law.initial);
  for (const RawViscosityLaw& initial : law.initial_law) {
    add_viscosity_values(values, initial);
  }
  given("time_constant", law.time_constant);
  given(law.law && law.law->value == "cure" ? "exponents" : "exponent", law.exponent);
}

void add_cure_values(std::vector<UsedValue>& values, const RawCure& cure) {
  add_given(values, cure.key + ".law", cure.law);
  for (const RawRate& rate : cure.rates) {
    add_given(values, rate.key, rate.value);
    add_given(values, rate.key + ".factor", rate.factor);
    add_given(values, rate.key + ".activation_energy", rate.activation_energy);
  }
  add_given(values, cure.key + ".exponents", cure.exponents);
  add_given(values, cure.key + ".gel_conversion", cure.gel_conversion);
}

void add_resin_values(std::vector<UsedValue>& values, const RawResin& resin) {
  add_given(values, "resin.viscosity", resin.viscosity);
  if (resin.law) {
    add_viscosity_values(values, *resin.law);
  }
  add_given(values, "resin.density", resin.density);
  add_given(values, "resin.gel_time", resin.gel_time);
  if (resin.gel_table) {
    add_given(values, resin.gel_table->key + ".temperature", resin.gel_table->temperature);
    add_given(values, resin.gel_table->key + ".catalyst", resin.gel_table->catalyst);
    add_given(values, resin.gel_table->key + ".time", resin.gel_table->time);
  }
  if (resin.cure) {
    add_cure_values(values, *resin.cure);
  }
  add_given(values, "resin.catalyst", resin.catalyst);
  add_given(values, "resin.catalyst_range", resin.catalyst_range);
  add_given(values, "resin.catalyst_density", resin.catalyst_density);
  add_given(values, "resin.gel_safety", resin.gel_safety);
  add_given(values, "resin.waste", resin.waste);
  add_given(values, "resin.price", resin.price);
}

/// Title apart, what stands above the gates.
void add_head_values(std::vector<UsedValue>& values, const RawCase& raw) {
  add_given(values, "currency", raw.currency);
  add_given(values, "ambient", raw.ambient);
  if (!raw.ambient) {
    add_default(values, "ambient", "1013.25 hPa");
  }
  if (raw.temperature) {
    const bool is_used = raw.heat || !what_needs_temperature(raw.resin).empty();
    values.push_back({"temperature",
                      raw.temperature->text +
                          (is_used ? "" : " (for the record: the viscosity is used as given)"),
                      true});
  }
  add_given(values, "part.mesh", raw.mesh);
  add_given(values, "part.mesh_unit", raw.mesh_unit);
  for (const RawRegion& region : raw.regions) {
    add_region_values(values, raw, region);
  }
  add_used_fabrics(values, raw);
  add_resin_values(values, raw.resin);
}

void add_way_values(std::vector<UsedValue>& values, const RawCase& raw) {
  if (raw.injector) {
    add_injector_values(values, *raw.injector);
    add_machine_values(values, *raw.injector);
  }
  for (const RawGate& gate : raw.gates) {
    add_gate_values(values, gate);
  }
  for (const RawVent& vent : raw.vents) {
    add_vent_values(values, vent);
  }
  for (const RawRunner& runner : raw.runners) {
    add_runner_values(values, runner);
  }
  for (const RawRaceTrack& track : raw.race_tracks) {
    add_track_values(values, track);
  }
}

} // namespace

std::vector<UsedValue> used_values(const RawCase& raw) {
  std::vector<UsedValue> values;
  add_head_values(values, raw);
  add_way_values(values, raw);
  add_air_values(values, raw);
  if (raw.gravity) {
    add_gravity_values(values, *raw.gravity);
  }
  if (raw.mould) {
    add_mould_values(values, *raw.mould);
  }
  if (raw.heat) {
    add_heat_values(values, *raw.heat);
  }
  if (raw.scatter) {
    add_scatter_values(values, *raw.scatter);
  }
  add_given(values, "run.time_limit", raw.time_limit);
  return values;
}

} // namespace tidemark
