#include "io/facing_check.hpp"

#include "io/wording.hpp"
#include "mesh/facing.hpp"
#include "mesh/triangulation.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <numbers>

namespace tidemark {

namespace {

/// Whether K is another one if the angle is counted the other way round: not at 0 and 90 degrees.
bool bears_on_flow(const Reinforcement& local) {
  constexpr double least_ratio = 1.01;                      // of K1 to K2; own choice
  constexpr double least_angle = std::numbers::pi / 2 / 90; // 1 degree; own choice
  const double ratio = local.permeability_1 / local.permeability_2;
  const double quarters = local.angle / (std::numbers::pi / 2);
  return local.direction.norm() > 0 && std::max(ratio, 1 / ratio) > least_ratio &&
         std::abs(quarters - std::round(quarters)) * std::numbers::pi / 2 > least_angle;
}

PerElement<bool> angled_part(const RawRegion& raw, RegionId region, const FillProblem& problem) {
  PerElement<bool> is_part(problem.mesh.elements.size(), false);
  for (const ElementId element : is_part.ids()) {
    is_part[element] = !raw.drape && problem.element_region[element] == region &&
                       bears_on_flow(reinforcement_at(problem, element));
  }
  return is_part;
}

/// The sum of the area vectors over that of the areas: of length 1 if all face one way.
Vector3 mean_normal(const ShellMesh& mesh, const PerElement<bool>& is_part) {
  Vector3 sum = Vector3::Zero();
  double area = 0;
  for (const ElementId element : is_part.ids()) {
    if (is_part[element]) {
      sum += element_area(mesh, element) * element_normal(mesh, element);
      area += element_area(mesh, element);
    }
  }
  return area > 0 ? Vector3(sum / area) : sum;
}

/// "+z", or "[0.71, 0, 0.71]" if it is more than some 25 degrees off the axes.
std::string towards(const Vector3& normal) {
  const Vector3 unit = normal.normalized();
  constexpr double nearly = 0.9;
  for (Eigen::Index axis = 0; axis < 3; ++axis) {
    if (std::abs(unit[axis]) > nearly) {
      return std::string(unit[axis] > 0 ? "+" : "-") + "xyz"[axis];
    }
  }
  std::array<char, 64> text{};
  // Adding 0 makes a negative zero a positive one.
  const auto rounded = [&](Eigen::Index axis) { return std::round(100 * unit[axis]) / 100 + 0.0; };
  std::snprintf(text.data(), text.size(), "[%g, %g, %g]", rounded(0), rounded(1), rounded(2));
  return text.data();
}

} // namespace

void warn_of_turned_elements(const MeshContext& context, const FillProblem& problem) {
  for (std::size_t i = 0; i < problem.regions.size(); ++i) {
    const RawRegion& raw = context.raw.regions[i];
    const PerElement<bool> is_part = angled_part(raw, RegionId(i), problem);
    const std::vector<ElementId> turned = turned_over(context.mesh, is_part);
    if (turned.empty()) {
      continue;
    }
    add_warning(context.findings, raw.line, raw.key,
                "found " + std::to_string(turned.size()) + " of " +
                    counted(static_cast<std::size_t>(std::ranges::count(is_part.values(), true)),
                            "element", "elements") +
                    " that " + (turned.size() == 1 ? "faces" : "face") +
                    " the other way than their neighbours, the first " +
                    element_text(context, turned.front()) +
                    ": there K1 is turned by its angle to the other side, since that is counted "
                    "about the element's normal; expected corners in the same order round all "
                    "elements of the region");
  }
}

std::vector<std::string> facing_notes(const RawCase& raw, const FillProblem& problem) {
  constexpr double one_way = 0.5; // of the area, what faces back counted off; own choice
  std::vector<std::string> notes;
  for (std::size_t i = 0; i < problem.regions.size(); ++i) {
    const Vector3 normal =
        mean_normal(problem.mesh, angled_part(raw.regions[i], RegionId(i), problem));
    if (normal.norm() > one_way) {
      notes.push_back("Angles in the region " + quoted_text(problem.regions[i].name) +
                      " count counter-clockwise as seen from " + towards(normal) +
                      ", the side its elements face.");
    }
  }
  return notes;
}

} // namespace tidemark
