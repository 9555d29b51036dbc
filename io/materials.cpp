#include "io/materials.hpp"

#include "io/wording.hpp"
#include "mesh/triangulation.hpp"

#include <algorithm>

namespace tidemark {

namespace {

using Kind = LayerMaterial::Kind;

void add_once(std::vector<std::string>& texts, const std::string& text) {
  if (std::ranges::find(texts, text) == texts.end()) {
    texts.push_back(text);
  }
}

/// Fibres in a region over those of the flat stack: a sheared fabric puts more on the same area.
double excess_of_fabric(const Case& input, std::size_t region) {
  const FillProblem& problem = input.problem;
  const ClosedStack& stack = input.layups[region]->stack;
  double laid = 0;
  double flat = 0;
  for (const ElementId element : IdRange<ElementId>(problem.mesh.elements.size())) {
    if (problem.element_region[element].position() == region) {
      const Reinforcement reinforcement = reinforcement_at(problem, element);
      const double area = element_area(problem.mesh, element);
      laid += area * reinforcement.thickness * reinforcement.fibre_volume_fraction;
      flat += area * stack.thickness * stack.fibre_volume_fraction;
    }
  }
  return flat > 0 ? laid / flat : 1;
}

/// Sums what each layer brings to a square metre. what: "density", "price".
void add_layers(MaterialSum& sum, double& total, const Case& input, const FillResult& result,
                std::optional<double> LayerMaterial::*figure, const std::string& what) {
  for (std::size_t r = 0; r < result.regions.size(); ++r) {
    const std::string region = "region " + result.regions[r].name;
    if (!input.layups[r]) {
      continue;
    }
    const double area = result.regions[r].area;
    const double fabric_area = area * (input.layups[r]->varies ? excess_of_fabric(input, r) : 1);
    for (const LayerMaterial& layer : input.layups[r]->materials) {
      if (layer.*figure) {
        total += (layer.kind == Kind::fabric ? fabric_area : area) * *(layer.*figure);
      } else if (layer.kind == Kind::core) {
        add_once(sum.left_out, "no " + what + " of the core in " + region);
      } else {
        add_once(sum.not_known, "no " + what + " of fabric " + layer.name);
      }
    }
  }
}

/// Regions given by permeability and porosity alone.
void report_missing_layups(MaterialSum& sum, const Case& input) {
  std::vector<std::string> names;
  for (std::size_t r = 0; r < input.layups.size(); ++r) {
    if (!input.layups[r]) {
      names.push_back(input.problem.regions[r].name);
    }
  }
  if (names.size() == 1) {
    sum.not_known.push_back("region " + names[0] +
                            " has no layup, so that its fibres are not known");
  } else if (!names.empty()) {
    sum.not_known.push_back("regions " + list_of(names) +
                            " have no layup, so that their fibres are not known");
  }
}

MaterialSum closed(MaterialSum sum, double total) {
  if (sum.not_known.empty()) {
    sum.value = total;
  } else {
    sum.left_out.clear();
  }
  return sum;
}

} // namespace

MaterialSum part_mass(const Case& input, const FillResult& result) {
  MaterialSum sum;
  double total = 0;
  report_missing_layups(sum, input);
  add_layers(sum, total, input, result, &LayerMaterial::mass, "density");
  if (const auto density = input.problem.resin.density) {
    for (const RegionFacts& region : result.regions) {
      total += *density * region.pore_volume;
    }
  } else {
    sum.not_known.emplace_back("no density of the resin");
  }
  return closed(sum, total);
}

bool has_prices(const Case& input) {
  return input.resin_price ||
         std::ranges::any_of(input.layups, [](const std::optional<LaidRegion>& laid) {
           return laid && std::ranges::any_of(laid->materials, [](const LayerMaterial& layer) {
                    return layer.kind != Kind::gap && layer.cost;
                  });
         });
}

MaterialSum part_cost(const Case& input, const FillResult& result) {
  MaterialSum sum;
  double total = 0;
  if (!has_prices(input)) {
    sum.not_known.emplace_back("no prices");
    return sum;
  }
  report_missing_layups(sum, input);
  add_layers(sum, total, input, result, &LayerMaterial::cost, "price");
  if (input.resin_price) {
    total += *input.resin_price * (result.pore_volume + result.bled);
  } else {
    sum.not_known.emplace_back("no price of the resin");
  }
  return closed(sum, total);
}

} // namespace tidemark
