#include "solver/port.hpp"

#include <Eigen/Geometry>

#include <algorithm>
#include <cmath>

namespace tidemark {

namespace {

/// The surface round the middle of the port.
struct Surroundings {
  double angle_times_k = 0; // sum over triangles of (angle in the flow metric) sqrt(t1 t2) [m3]
  double k_1 = 0;           // h K1 and h K2, mean over the triangles
  double k_2 = 0;
  Vector3 direction = Vector3::Zero();
};

Surroundings surroundings(NodeId middle, const FlowTriangles& triangles,
                          const PerNode<Vector3>& positions) {
  Surroundings result;
  for (const FlowTriangle& triangle : triangles.triangles) {
    const auto at = std::ranges::find(triangle.corners, middle);
    if (at == triangle.corners.end()) {
      continue;
    }
    const auto corner = static_cast<std::size_t>(at - triangle.corners.begin());
    const double root = std::sqrt(triangle.transmissivity_1 * triangle.transmissivity_2);
    const double cotangent = 2 * edge_terms(triangle, positions)[corner] / root;
    result.angle_times_k += root * std::atan2(1.0, cotangent);
    result.k_1 += triangle.transmissivity_1;
    result.k_2 += triangle.transmissivity_2;
    const double sign = result.direction.dot(triangle.direction_1) < 0 ? -1 : 1;
    result.direction += sign * triangle.direction_1;
  }
  result.direction.normalize();
  return result;
}

/// ln(s / (A + B)) at a point given from the middle of the port.
double log_distance(const Vector3& offset, double radius, const Surroundings& around) {
  const double stretch = std::pow(around.k_2 / around.k_1, 0.25);
  const double along = offset.dot(around.direction);
  const double across = std::sqrt(std::max(0.0, offset.squaredNorm() - along * along));
  double x = along * stretch;
  double y = across / stretch;
  double longer = radius * stretch;
  double shorter = radius / stretch;
  if (longer < shorter) {
    std::swap(longer, shorter);
    std::swap(x, y);
  }
  const double focus = std::sqrt(longer * longer - shorter * shorter);
  const double d = 0.5 * (std::hypot(x - focus, y) + std::hypot(x + focus, y));
  const double s = d + std::sqrt(std::max(0.0, d * d - focus * focus));
  return std::log(s / (longer + shorter));
}

} // namespace

double port_factor(const FillProblem& problem, const Gate& gate, const FlowTriangles& triangles,
                   const FlowNetwork& network) {
  const auto& positions = problem.mesh.positions;
  const NodeId middle = *std::ranges::min_element(
      gate.nodes, {}, [&](NodeId node) { return (positions[node] - gate.centre).squaredNorm(); });
  const Surroundings around = surroundings(middle, triangles, positions);
  // A few nodes do not show where in their midst the port sits; they stand for it together.
  const Vector3 centre = gate.nodes.size() < 3 ? positions[middle] : gate.centre;
  double sum = 0;
  for (const NodeId node : gate.nodes) {
    for (std::size_t k = network.first[node.position()]; k < network.first[node.position() + 1];
         ++k) {
      const NodeId other = network.neighbour[k];
      if (!std::ranges::binary_search(gate.nodes, other)) {
        // A neighbour just outside the rim is as good as on it; below this the factor means
        // nothing.
        const double least = 1e-3;
        const double distance = log_distance(positions[other] - centre, *gate.radius, around);
        sum += network.conductance[k] * std::max(distance, least);
      }
    }
  }
  return sum > 0 ? around.angle_times_k / sum : 1;
}

} // namespace tidemark
