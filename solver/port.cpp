#include "solver/port.hpp"

#include <Eigen/Geometry>
#include <Eigen/SparseCholesky>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>
#include <vector>

namespace tidemark {

namespace {

/// The surface round the middle of the port.
struct Surroundings {
  double angle_times_k = 0; // sum over triangles of (angle in the flow metric) sqrt(t1 t2) [m3]
  double k_1 = 0;           // h K1 and h K2, mean over the triangles
  double k_2 = 0;
  Vector3 direction = Vector3::Zero();
};

Surroundings surroundings(NodeId middle, const FlowTriangles& triangles, const PortSites& sites,
                          const PerNode<Vector3>& positions) {
  Surroundings result;
  for (const TriangleId id : sites.triangles_at(middle)) {
    const FlowTriangle& triangle = triangles.triangles[id];
    const auto at = std::ranges::find(triangle.corners, middle);
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

/// A patch of the network round the gate, for the discrete counterpart of the logarithm.
struct Patch {
  std::vector<NodeId> nodes;           // the gate's nodes first, then ring by ring
  std::vector<std::size_t> ring_begin; // of ring 1, 2, ...: where it starts in nodes; then the end
};

/// Rings of neighbours round the gate's nodes: up to most_rings, but, unless the port itself lies
/// on a border, no ring that touches one (a free edge or another region), where the pressure of a
/// single port in an endless sheet no longer holds. One ring at least.
Patch patch_round(const Gate& gate, const FlowNetwork& network, const PerNode<bool>& on_border,
                  bool is_on_border) {
  constexpr std::size_t most_rings = 4;
  Patch patch{gate.nodes, {gate.nodes.size()}};
  std::vector<NodeId> seen = gate.nodes;
  std::size_t begin = 0;
  while (patch.ring_begin.size() <= most_rings) {
    std::vector<NodeId> ring;
    for (std::size_t at = begin; at < patch.nodes.size(); ++at) {
      const std::size_t i = patch.nodes[at].position();
      for (std::size_t k = network.first[i]; k < network.first[i + 1]; ++k) {
        if (!std::ranges::binary_search(seen, network.neighbour[k])) {
          ring.push_back(network.neighbour[k]);
        }
      }
    }
    std::ranges::sort(ring);
    ring.erase(std::unique(ring.begin(), ring.end()), ring.end());
    const bool touches = std::ranges::any_of(ring, [&](NodeId node) { return on_border[node]; });
    if (ring.empty() || (touches && !is_on_border && patch.ring_begin.size() > 1)) {
      break;
    }
    begin = patch.nodes.size();
    patch.nodes.insert(patch.nodes.end(), ring.begin(), ring.end());
    patch.ring_begin.push_back(patch.nodes.size());
    seen = patch.nodes;
    std::ranges::sort(seen);
  }
  return patch;
}

/// Nodes on edges that do not join exactly two triangles of one region.
PerNode<bool> border_nodes(const FlowTriangles& triangles, std::size_t nodes) {
  std::vector<std::array<std::int32_t, 3>> sides; // low node, high node, region
  sides.reserve(3 * triangles.triangles.size());
  for (const FlowTriangle& triangle : triangles.triangles) {
    for (std::size_t i = 0; i < 3; ++i) {
      const auto [low, high] = std::minmax(triangle.corners[i], triangle.corners[(i + 1) % 3]);
      sides.push_back({low.value(), high.value(), triangle.region.value()});
    }
  }
  std::ranges::sort(sides);
  PerNode<bool> result(nodes, false);
  for (std::size_t k = 0; k < sides.size();) {
    std::size_t end = k + 1;
    while (end < sides.size() && sides[end][0] == sides[k][0] && sides[end][1] == sides[k][1]) {
      ++end;
    }
    if (end - k != 2 || sides[k][2] != sides[k + 1][2]) {
      result[NodeId(sides[k][0])] = true;
      result[NodeId(sides[k][1])] = true;
    }
    k = end;
  }
  return result;
}

/// Solves the network on the patch with the logarithm as pressure on the outermost ring and a
/// given outflow from the gate's nodes, whose links are scaled by factor; returns the pressure
/// there, the logarithm of the radius the nodes act like (over that of the port). logs: of all
/// nodes of the patch.
double log_of_acting_radius(const Patch& patch, const FlowNetwork& network,
                            const std::vector<double>& logs, double outflow, double factor) {
  const std::size_t rings = patch.ring_begin.size() - 1;
  const std::size_t outermost = patch.ring_begin[rings - 1];
  const std::size_t gate_nodes = patch.ring_begin[0];
  std::vector<std::pair<NodeId, std::size_t>> places;
  for (std::size_t at = 0; at < patch.nodes.size(); ++at) {
    places.emplace_back(patch.nodes[at], at);
  }
  std::ranges::sort(places);
  // Unknowns: the gate (0), then the inner rings.
  const auto unknown = [&](std::size_t at) { return at < gate_nodes ? 0 : at - gate_nodes + 1; };
  const auto size = static_cast<Eigen::Index>(unknown(outermost));
  std::vector<Eigen::Triplet<double>> entries;
  Eigen::VectorXd right = Eigen::VectorXd::Zero(size);
  right[0] = -outflow; // pressures rise outwards here
  for (std::size_t at = 0; at < outermost; ++at) {
    const auto row = static_cast<int>(unknown(at));
    const std::size_t i = patch.nodes[at].position();
    for (std::size_t k = network.first[i]; k < network.first[i + 1]; ++k) {
      const auto found = std::ranges::lower_bound(places, network.neighbour[k], {},
                                                  &std::pair<NodeId, std::size_t>::first);
      const std::size_t other = found->second; // inner nodes have all neighbours in the patch
      const bool is_gate_link = (at < gate_nodes) != (other < gate_nodes);
      const double c = network.conductance[k] * (is_gate_link ? factor : 1);
      if (other >= outermost) {
        entries.emplace_back(row, row, c);
        right[row] += c * logs[other];
      } else if (const auto column = static_cast<int>(unknown(other)); column != row) {
        entries.emplace_back(row, row, c);
        entries.emplace_back(row, column, -c);
      }
    }
  }
  Eigen::SparseMatrix<double> matrix(size, size);
  matrix.setFromTriplets(entries.begin(), entries.end());
  return Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>>(matrix).solve(right)[0];
}

} // namespace

PortSites port_sites(const FlowTriangles& triangles, std::size_t nodes) {
  PortSites sites{border_nodes(triangles, nodes), std::vector<std::size_t>(nodes + 1, 0), {}};
  for (const FlowTriangle& triangle : triangles.triangles) {
    for (const NodeId corner : triangle.corners) {
      ++sites.first[corner.position() + 1];
    }
  }
  std::partial_sum(sites.first.begin(), sites.first.end(), sites.first.begin());
  sites.triangle.resize(sites.first.back());
  std::vector<std::size_t> next = sites.first;
  for (const TriangleId id : triangles.triangles.ids()) {
    for (const NodeId corner : triangles.triangles[id].corners) {
      sites.triangle[next[corner.position()]++] = id;
    }
  }
  return sites;
}

double port_factor(const FillProblem& problem, const Gate& gate, const FlowTriangles& triangles,
                   const PortSites& sites, const FlowNetwork& network) {
  const auto& positions = problem.mesh.positions;
  const NodeId middle = *std::ranges::min_element(
      gate.nodes, {}, [&](NodeId node) { return (positions[node] - gate.centre).squaredNorm(); });
  const Surroundings around = surroundings(middle, triangles, sites, positions);
  const PerNode<bool>& on_border = sites.on_border;
  const Patch patch = patch_round(gate, network, on_border, on_border[middle]);
  if (patch.ring_begin.size() < 2) {
    return 1;
  }
  // A few nodes do not show where in their midst the port sits; they stand for it together.
  const Vector3 centre = gate.nodes.size() < 3 ? positions[middle] : gate.centre;
  std::vector<double> logs;
  for (const NodeId node : patch.nodes) {
    logs.push_back(log_distance(positions[node] - centre, *gate.radius, around));
  }
  // The radius acted like grows with the factor; sought is the factor at which it is the port's.
  double low = std::log(1e-3);
  double high = std::log(1e4);
  for (int halving = 0; halving < 50; ++halving) {
    const double middle_log = 0.5 * (low + high);
    const double acting =
        log_of_acting_radius(patch, network, logs, around.angle_times_k, std::exp(middle_log));
    (acting < 0 ? low : high) = middle_log;
  }
  return std::exp(0.5 * (low + high));
}

} // namespace tidemark
