#include "io/port_place.hpp"

#include <algorithm>

namespace tidemark {

Vector3 place_of_gate(const ShellMesh& mesh, const Gate& gate) {
  if (!gate.radius) {
    return middle_of(mesh, gate.nodes);
  }
  const NodeId nearest = *std::ranges::min_element(gate.nodes, {}, [&](NodeId node) {
    return (mesh.positions[node] - gate.centre).squaredNorm();
  });
  return mesh.positions[nearest];
}

} // namespace tidemark
