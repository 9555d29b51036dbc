#include "solver/element_permeability.hpp"

#include "mesh/error.hpp"
#include "mesh/triangulation.hpp"

#include <Eigen/Geometry>

#include <cmath>
#include <numbers>

namespace tidemark {

namespace {

std::string perpendicular_text(const FillProblem& problem, ElementId id) {
  const Vector3 centre = element_centre(problem.mesh, id) * 1e3;
  const auto number = [](double value) {
    std::string text = std::to_string(value);
    return text.substr(0, text.find('.') + 2);
  };
  return "region \"" + problem.regions[problem.element_region[id].position()].name +
         "\": its direction is perpendicular to the surface at element " +
         std::to_string(problem.mesh.element_labels[id]) + " (" + number(centre.x()) + ", " +
         number(centre.y()) + ", " + number(centre.z()) +
         ") mm; expected a direction that can be projected on every element of the region";
}

Vector3 any_tangent(const Vector3& normal) {
  Vector3 axis = Vector3::Zero();
  Eigen::Index smallest;
  normal.cwiseAbs().minCoeff(&smallest);
  axis[smallest] = 1;
  return (axis - axis.dot(normal) * normal).normalized();
}

} // namespace

PerElement<Vector3> direction_1(const FillProblem& problem) {
  static const double least_sine = std::sin(std::numbers::pi / 180);
  PerElement<Vector3> directions(problem.mesh.elements.size(), Vector3::Zero());
  for (const ElementId id : problem.mesh.elements.ids()) {
    const Reinforcement local = reinforcement_at(problem, id);
    const Vector3 normal = element_normal(problem.mesh, id);
    const double length = local.direction.norm();
    if (length == 0) {
      directions[id] = any_tangent(normal);
      continue;
    }
    const Vector3 given = local.direction / length;
    const Vector3 projected = given - given.dot(normal) * normal;
    if (!(projected.norm() > least_sine)) {
      throw InputError(perpendicular_text(problem, id));
    }
    directions[id] = Eigen::AngleAxisd(local.angle, normal) * projected.normalized();
  }
  return directions;
}

PerElement<Vector3> darcy_velocity(const FillProblem& problem, const PerNode<double>& pressure) {
  const PerElement<Vector3> directions = direction_1(problem);
  const Triangulation triangles = triangulate(problem.mesh);
  PerElement<Vector3> velocity(problem.mesh.elements.size(), Vector3::Zero());
  PerElement<double> area(problem.mesh.elements.size(), 0);
  for (const TriangleId id : triangles.corners.ids()) {
    const auto& corners = triangles.corners[id];
    const ElementId element = triangles.element[id];
    const Reinforcement local = reinforcement_at(problem, element);
    const auto& positions = problem.mesh.positions;
    const std::array<Vector3, 3> at{positions[corners[0]], positions[corners[1]],
                                    positions[corners[2]]};
    const Vector3 twice_area = 2 * area_vector(at[0], at[1], at[2]);
    const Vector3 normal = twice_area.normalized();
    Vector3 gradient = Vector3::Zero(); // times twice the area
    for (std::size_t i = 0; i < 3; ++i) {
      gradient += pressure[corners[i]] * normal.cross(at[(i + 2) % 3] - at[(i + 1) % 3]);
    }
    const Vector3 along =
        (directions[element] - directions[element].dot(normal) * normal).normalized();
    const Vector3 across = normal.cross(along);
    velocity[element] -= 0.5 / problem.resin.viscosity *
                         (local.permeability_1 * along.dot(gradient) * along +
                          local.permeability_2 * across.dot(gradient) * across);
    area[element] += 0.5 * twice_area.norm();
  }
  for (const ElementId id : velocity.ids()) {
    velocity[id] /= area[id];
  }
  return velocity;
}

} // namespace tidemark
