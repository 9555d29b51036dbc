#include "io/laid_stack.hpp"

#include "io/fabric_value_check.hpp"
#include "io/raw_lookup.hpp"

#include <algorithm>
#include <cmath>

namespace tidemark {

const RawFabric* fabric_named(const RawCase& raw, const std::string& name) {
  const auto found = std::ranges::find(raw.fabrics, name, &RawFabric::name);
  return found == raw.fabrics.end() ? nullptr : &*found;
}

const RawLayup* layup_of(const RawRegion& region) {
  return std::get_if<RawLayup>(&region.reinforcement);
}

bool varies(const RawRegion& region) {
  const RawFields& fields = region.fields;
  return fields.thickness || fields.fibre_volume_fraction || fields.direction || fields.angle ||
         fields.shear || region.drape;
}

namespace {

/// The position of a fabric among those of a layup, to which it is added if it is new.
std::size_t place_of(const Fabric& fabric, Layup& layup) {
  const auto known = std::ranges::find(layup.fabrics, fabric.name, &Fabric::name);
  const auto position = static_cast<std::size_t>(known - layup.fabrics.begin());
  if (known == layup.fabrics.end()) {
    layup.fabrics.push_back(fabric);
  }
  return position;
}

bool is_sound(const RawGrooves& grooves, double core) {
  return grooves.width && grooves.depth && grooves.spacing && grooves.width->value > 0 &&
         grooves.depth->value > 0 && grooves.depth->value <= core &&
         grooves.width->value < grooves.spacing->value;
}

std::optional<FixedLayer> make_core(const RawPly& ply) {
  const double thickness = ply.core->value;
  const double angle = value_or_zero(ply.angle);
  if (ply.grooves) {
    const RawGrooves& raw = *ply.grooves;
    const bool is_crossed = raw.crossed && raw.crossed->value;
    return is_sound(raw, thickness)
               ? std::optional(grooved_core(
                     thickness,
                     {raw.width->value, raw.depth->value, raw.spacing->value, is_crossed}, angle))
               : std::nullopt;
  }
  if (!ply.permeability || !ply.porosity) {
    return FixedLayer{thickness, 0, 0, 0, angle};
  }
  const FixedLayer core{thickness, ply.porosity->value, ply.permeability->value.front(),
                        ply.permeability->value.back(), angle};
  const bool is_good =
      core.porosity > 0 && core.porosity <= 1 && core.permeability_1 > 0 && core.permeability_2 > 0;
  return is_good ? std::optional(core) : std::nullopt;
}

std::optional<LayupEntry> make_entry(const RawCase& raw, const RawPly& ply, Layup& layup) {
  if (ply.fabric) {
    const RawFabric* fabric = fabric_named(raw, ply.fabric->value);
    if (fabric == nullptr || !fabric->is_sound) {
      return std::nullopt;
    }
    return FabricPlies{place_of(make_fabric(*fabric), layup), ply.count ? ply.count->value : 1,
                       value_or_zero(ply.angle)};
  }
  if (ply.gap && ply.gap->value > 0) {
    return open_gap(ply.gap->value);
  }
  const auto core = ply.core && ply.core->value > 0 ? make_core(ply) : std::nullopt;
  return core ? std::optional<LayupEntry>(*core) : std::nullopt;
}

std::string layer_name(const RawPly& ply) {
  if (ply.fabric) {
    return std::to_string(ply.count ? ply.count->value : 1) + " x " + ply.fabric->value;
  }
  if (ply.gap) {
    return "gap";
  }
  return ply.grooves ? "core with grooves" : ply.permeability ? "core with channels" : "core";
}

/// What a price makes of an area, given what that area weighs or holds; none without a price.
std::optional<double> cost_per_area(const Maybe<Price>& price, double mass, double volume) {
  if (!price) {
    return std::nullopt;
  }
  const Price& given = price->value;
  return given.amount * (given.per == Dimension::mass     ? mass
                         : given.per == Dimension::volume ? volume
                                                          : 1);
}

LayerMaterial material_of(const RawCase& raw, const RawPly& ply, const Layer& layer) {
  if (ply.fabric) {
    const int count = ply.count ? ply.count->value : 1;
    const RawFabric& fabric = *fabric_named(raw, ply.fabric->value);
    const double ply_mass = fabric.areal_weight->value;
    const auto cost = cost_per_area(fabric.price, ply_mass, 0);
    return {LayerMaterial::Kind::fabric, fabric.name, count * ply_mass,
            cost ? std::optional(count * *cost) : std::nullopt};
  }
  if (ply.gap) {
    return {LayerMaterial::Kind::gap, "gap", 0.0, 0.0};
  }
  const auto mass = ply.density
                        ? std::optional(ply.density->value * layer.thickness * (1 - layer.porosity))
                        : std::nullopt;
  // Grooves are cut into what was bought.
  return {LayerMaterial::Kind::core, "core", mass, cost_per_area(ply.price, 0, layer.thickness)};
}

} // namespace

std::optional<Layup> make_layup(const RawCase& raw, const RawLayup& written) {
  Layup layup;
  for (const RawPly& ply : written.plies) {
    const auto entry = ply.is_readable ? make_entry(raw, ply, layup) : std::nullopt;
    if (!entry) {
      return std::nullopt;
    }
    layup.entries.push_back(*entry);
  }
  return layup.entries.empty() ? std::nullopt : std::optional(layup);
}

std::optional<double> cavity_thickness(const RawRegion& region, const RawLayup& written,
                                       const Layup& layup) {
  const Maybe<double>& wanted = written.fibre_volume_fraction;
  if (wanted && wanted->value > 0) {
    return thickness_for(layup, wanted->value);
  }
  return region.thickness && region.thickness->value > 0 ? value_or_none(region.thickness)
                                                         : std::nullopt;
}

double room_for_fabrics(const Layup& layup, double thickness) {
  return thickness - fixed_thickness(layup);
}

bool fits(const Layup& layup, double thickness) {
  const double solid = solid_thickness(layup);
  const double room = room_for_fabrics(layup, thickness);
  return solid > 0 ? solid < closest_packing(Packing::hexagonal) * room
                   : std::abs(room) < 1e-6 * thickness;
}

bool conducts(const ClosedStack& stack) {
  return stack.permeability_1 > 0 && std::isfinite(stack.permeability_1) && stack.porosity > 0 &&
         stack.permeability_2 > 1e-12 * stack.permeability_1; // less is nothing but rounding
}

bool is_packed_too_closely(const Layer& layer) {
  return !(layer.fibre_volume_fraction < closest_packing(Packing::hexagonal));
}

std::optional<ClosedStack> stack_of(const RawCase& raw, const RawRegion& region) {
  const RawLayup* written = layup_of(region);
  const auto layup = written == nullptr ? std::nullopt : make_layup(raw, *written);
  const auto thickness = layup ? cavity_thickness(region, *written, *layup) : std::nullopt;
  if (!thickness || !fits(*layup, *thickness)) {
    return std::nullopt;
  }
  auto stack = close_stack(*layup, *thickness);
  const bool is_possible =
      stack && conducts(*stack) && std::ranges::none_of(stack->layers, is_packed_too_closely);
  return is_possible ? stack : std::nullopt;
}

namespace {

std::optional<ClosedStack> mean_stack(const RawCase& raw, const RawRegion& region,
                                      double thickness) {
  const RawLayup* written = layup_of(region);
  const auto layup = written == nullptr ? std::nullopt : make_layup(raw, *written);
  return layup && fits(*layup, thickness) ? close_stack(*layup, thickness) : std::nullopt;
}

} // namespace

std::vector<std::optional<LaidRegion>> laid_regions(const RawCase& raw,
                                                    const FillProblem& problem) {
  std::vector<std::optional<LaidRegion>> layups;
  for (std::size_t r = 0; r < raw.regions.size(); ++r) {
    const RawRegion& region = raw.regions[r];
    const auto stack = varies(region) ? mean_stack(raw, region, problem.regions[r].thickness)
                                      : stack_of(raw, region);
    layups.emplace_back(stack ? std::optional(LaidRegion{{}, {}, *stack, varies(region)})
                              : std::nullopt);
    for (std::size_t i = 0; stack && i < stack->layers.size(); ++i) {
      const RawPly& ply = layup_of(region)->plies[i];
      layups.back()->names.push_back(layer_name(ply));
      layups.back()->materials.push_back(material_of(raw, ply, stack->layers[i]));
    }
  }
  return layups;
}

} // namespace tidemark
