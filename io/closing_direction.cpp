#include "io/closing_direction.hpp"

#include "io/wording.hpp"
#include "mesh/triangulation.hpp"
#include "solver/mould_load.hpp"

#include <algorithm>

namespace tidemark {

Vector3 widest_axis(const ShellMesh& mesh) {
  Vector3 widest = Vector3::UnitZ();
  double most = area_seen_along(mesh, widest);
  for (const Vector3& axis : {Vector3(Vector3::UnitY()), Vector3(Vector3::UnitX())}) {
    const double area = area_seen_along(mesh, axis);
    if (area > most * (1 + 1e-9)) { // else alike, to rounding
      widest = axis;
      most = area;
    }
  }
  return widest;
}

std::string axis_text(const Vector3& axis) {
  return "[" + shortest(axis.x()) + ", " + shortest(axis.y()) + ", " + shortest(axis.z()) + "]";
}

bool is_seen_edge_on(const FillProblem& problem) {
  constexpr double least = 0.02;
  return problem.mould && area_seen_along(problem.mesh, problem.mould->closing_direction) <
                              least * surface_area(problem.mesh);
}

std::string why_not_opened(const FillProblem& problem, const FibrePush& fibres) {
  const double lowest = std::min(front_pressure(problem), problem.cavity_pressure);
  const bool have_push = fibres.force > 0;
  return lowest < 0 ? std::string("the vacuum in the cavity outweighs the resin") +
                          (have_push ? " and the fibres" : "")
                    : "the pressure in the cavity does not rise above that of the outer air";
}

} // namespace tidemark
