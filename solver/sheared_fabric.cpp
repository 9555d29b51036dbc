#include "solver/sheared_fabric.hpp"

#include <Eigen/Geometry>

#include <cmath>
#include <numbers>

namespace tidemark {

using std::numbers::pi;

double shear_angle(const Vector3& warp, const Vector3& weft) {
  return pi / 2 - std::atan2(warp.cross(weft).norm(), warp.dot(weft));
}

double sheared_volume_fraction(double volume_fraction, double shear) {
  return volume_fraction / std::cos(shear);
}

ShearedPermeability sheared_permeability(double permeability_1, double permeability_2,
                                         double warp_to_k1, double shear) {
  const Eigen::Rotation2Dd turn(warp_to_k1);
  const Eigen::Matrix2d unsheared =
      turn * Eigen::Vector2d(permeability_1, permeability_2).asDiagonal() * turn.inverse();
  Eigen::Matrix2d deformation;
  deformation << 1, std::sin(shear), 0, std::cos(shear);
  const Eigen::Matrix2d sheared =
      deformation * unsheared * deformation.transpose() / std::cos(shear);
  const double mean = 0.5 * sheared.trace();
  const Eigen::Vector2d deviator(0.5 * (sheared(0, 0) - sheared(1, 1)), sheared(0, 1));
  const double larger = mean + deviator.norm();
  return {larger, permeability_1 * permeability_2 / larger,
          deviator.norm() > 1e-14 * mean ? 0.5 * std::atan2(deviator.y(), deviator.x()) : 0.0};
}

Vector3 sheared_direction_1(const ShearedPermeability& permeability, const Vector3& warp,
                            const Vector3& weft) {
  const Vector3 across = (weft - weft.dot(warp) * warp).normalized();
  return std::cos(permeability.angle) * warp + std::sin(permeability.angle) * across;
}

} // namespace tidemark
