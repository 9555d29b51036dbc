#include "solver/layup.hpp"

#include "solver/channel_law.hpp"
#include "solver/sheared_fabric.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace tidemark {

namespace {

double areal_weight(const Layup& layup, const FabricPlies& plies) {
  return plies.count * layup.fabrics[plies.fabric].areal_weight / std::cos(plies.shear);
}

double solid_thickness(const Layup& layup, const FabricPlies& plies) {
  return areal_weight(layup, plies) / layup.fabrics[plies.fabric].fibre_density;
}

/// Adds up f(plies) over the fabrics of the layup.
template <class Function> double sum_over_fabrics(const Layup& layup, Function f) {
  double sum = 0;
  for (const LayupEntry& entry : layup.entries) {
    if (const auto* plies = std::get_if<FabricPlies>(&entry)) {
      sum += f(*plies);
    }
  }
  return sum;
}

bool all_have_compaction(const Layup& layup) {
  return std::ranges::all_of(layup.entries, [&](const LayupEntry& entry) {
    const auto* plies = std::get_if<FabricPlies>(&entry);
    return plies == nullptr || layup.fabrics[plies->fabric].compaction.has_value();
  });
}

double fraction_under(const Layup& layup, const FabricPlies& plies, double pressure) {
  return compacted_fraction(*layup.fabrics[plies.fabric].compaction, pressure);
}

/// The one pressure under which the fabrics share a thickness [Pa], by bisection of its logarithm:
/// the thickness falls with it. None beyond what a number can hold.
std::optional<double> common_pressure(const Layup& layup, double thickness) {
  const auto is_too_thick = [&](double log_pressure) {
    return sum_over_fabrics(layup, [&](const FabricPlies& plies) {
             return solid_thickness(layup, plies) /
                    fraction_under(layup, plies, std::exp(log_pressure));
           }) > thickness;
  };
  double low = -690; // e^690 = 1e300
  double high = 690;
  if (!is_too_thick(low) || is_too_thick(high)) {
    return std::nullopt;
  }
  while (high - low > 1e-15 * std::max(1.0, std::abs(low))) {
    const double middle = 0.5 * (low + high);
    if (middle <= low || middle >= high) {
      break; // neighbours: no number lies between
    }
    (is_too_thick(middle) ? low : high) = middle;
  }
  return std::exp(0.5 * (low + high));
}

Layer layer_of(const Layup& layup, const FabricPlies& plies, double vf) {
  const Fabric& fabric = layup.fabrics[plies.fabric];
  ShearedPermeability k{permeability(fabric.along, vf), permeability(fabric.across, vf),
                        fabric.warp_to_k1};
  if (plies.shear != 0) {
    k = sheared_permeability(k.permeability_1, k.permeability_2, k.angle, plies.shear);
  }
  return {solid_thickness(layup, plies) / vf,
          vf,
          1 - vf,
          k.permeability_1,
          k.permeability_2,
          plies.angle + k.angle,
          areal_weight(layup, plies)};
}

Layer layer_of(const FixedLayer& fixed) {
  return {fixed.thickness, 0, fixed.porosity, fixed.permeability_1, fixed.permeability_2,
          fixed.angle,     0};
}

/// A symmetric tensor in the plane as mean, and deviator along and at 45 degrees.
struct PlaneTensor {
  double mean = 0;
  double along = 0;
  double diagonal = 0;
};

void add_turned(const Layer& layer, double weight, PlaneTensor& sum) {
  const double half = 0.5 * (layer.permeability_1 - layer.permeability_2);
  sum.mean += weight * 0.5 * (layer.permeability_1 + layer.permeability_2);
  sum.along += weight * half * std::cos(2 * layer.angle);
  sum.diagonal += weight * half * std::sin(2 * layer.angle);
}

void put_principal_values(const PlaneTensor& tensor, ClosedStack& stack) {
  const double radius = std::hypot(tensor.along, tensor.diagonal);
  if (radius <= 1e-13 * tensor.mean) {
    stack.permeability_1 = stack.permeability_2 = tensor.mean;
    return;
  }
  stack.permeability_1 = tensor.mean + radius;
  stack.permeability_2 = std::max(0.0, tensor.mean - radius);
  stack.angle = 0.5 * std::atan2(tensor.diagonal, tensor.along);
}

void average(ClosedStack& stack) {
  PlaneTensor tensor;
  double solid = 0;
  double ply_thickness = 0;
  for (const Layer& layer : stack.layers) {
    const double weight = layer.thickness / stack.thickness;
    add_turned(layer, weight, tensor);
    stack.porosity += weight * layer.porosity;
    stack.areal_weight += layer.areal_weight;
    solid += layer.fibre_volume_fraction * layer.thickness;
    ply_thickness += layer.fibre_volume_fraction > 0 ? layer.thickness : 0;
  }
  stack.fibre_volume_fraction = solid / stack.thickness;
  stack.ply_volume_fraction = ply_thickness > 0 ? solid / ply_thickness : 0;
  put_principal_values(tensor, stack);
}

} // namespace

FixedLayer open_gap(double thickness) {
  const double k = slot_permeability(thickness);
  return {thickness, 1, k, k, 0};
}

FixedLayer grooved_core(double thickness, const Grooves& grooves, double angle) {
  const auto& [width, depth, spacing, is_crossed] = grooves;
  assert(depth <= thickness && width < spacing);
  const double share = width / spacing;
  const double k = share * depth / thickness * rectangle_permeability(grooves.width, grooves.depth);
  const double covered = is_crossed ? share * (2 - share) : share;
  return {thickness, covered * depth / thickness, k, is_crossed ? k : 0, angle};
}

double solid_thickness(const Layup& layup) {
  return sum_over_fabrics(layup,
                          [&](const FabricPlies& plies) { return solid_thickness(layup, plies); });
}

double fixed_thickness(const Layup& layup) {
  double sum = 0;
  for (const LayupEntry& entry : layup.entries) {
    const auto* fixed = std::get_if<FixedLayer>(&entry);
    sum += fixed == nullptr ? 0 : fixed->thickness;
  }
  return sum;
}

double thickness_for(const Layup& layup, double ply_volume_fraction) {
  return fixed_thickness(layup) + solid_thickness(layup) / ply_volume_fraction;
}

std::optional<ClosedStack> close_stack(const Layup& layup, double thickness) {
  ClosedStack stack;
  stack.thickness = thickness;
  const double solid = solid_thickness(layup);
  const double room = thickness - fixed_thickness(layup);
  const bool has_fabrics = solid > 0;
  const bool share_pressure = has_fabrics && all_have_compaction(layup);
  if (share_pressure) {
    stack.closing_pressure = common_pressure(layup, room);
    if (!stack.closing_pressure) {
      return std::nullopt;
    }
  }
  for (const LayupEntry& entry : layup.entries) {
    if (const auto* plies = std::get_if<FabricPlies>(&entry)) {
      const double vf =
          share_pressure ? fraction_under(layup, *plies, *stack.closing_pressure) : solid / room;
      stack.layers.push_back(layer_of(layup, *plies, vf));
    } else {
      stack.layers.push_back(layer_of(std::get<FixedLayer>(entry)));
    }
  }
  average(stack);
  return stack;
}

} // namespace tidemark
