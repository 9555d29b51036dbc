// Meshes for the tests, made in memory.
#pragma once

#include "solver/fill_problem.hpp"

#include <cstdint>
#include <functional>

namespace tidemark::test {

/// Makes a mesh from positions and elements; labels count from 1.
ShellMesh mesh_of(std::vector<Vector3> positions, std::vector<Element> elements);

/// A length x width plate in the xy plane, along x from 0, cut into columns x rows squares of two
/// triangles (or left as quadrilaterals). Inner nodes are shifted at random by up to jitter times
/// the square's side and the diagonals drawn at random: seed 0 leaves both regular.
struct PlateShape {
  double length = 1;
  double width = 1;
  int columns = 20;
  int rows = 20;
  double jitter = 0;
  std::uint32_t seed = 0;
  bool quads = false;
};
ShellMesh plate(const PlateShape& shape);

/// A disc of rings of near-equilateral triangles: ring k has 6 k nodes; rings^2 * 6 triangles.
/// Ring radii are radius * k / rings. The angle turns the mesh about z.
ShellMesh disc(double radius, int rings, double jitter = 0, std::uint32_t seed = 0);

/// The part of a polar grid between two radii and 0 .. angle, radii in geometric progression.
ShellMesh annulus(double inner, double outer, int radial, int around, double angle);

/// Moves every node.
void deform(ShellMesh& mesh, const std::function<Vector3(const Vector3&)>& map);

/// Nodes where the test is true.
std::vector<NodeId> nodes_where(const ShellMesh& mesh,
                                const std::function<bool(const Vector3&)>& test);

/// The common data of the closed forms: K = 2e-9 m2, mu = 0.2 Pa s, phi = 0.8, h = 4 mm, front at
/// 0 Pa gauge, one region over the whole mesh, one gate at the given nodes.
FillProblem problem_on(ShellMesh mesh, std::vector<NodeId> gate);

/// With a constant gate pressure of 1e5 Pa: front diffusivity K dp / (phi mu) = 1.25e-3 m2/s.
FillProblem with_pressure(FillProblem problem, double cap = 1e5);
FillProblem with_flow(FillProblem problem, double flow_rate);
FillProblem with_flow_and_cap(FillProblem problem, double flow_rate, double cap = 1e5);

/// Regions by position: the region of each element is chosen by its centre.
void set_regions(FillProblem& problem, std::vector<Region> regions,
                 const std::function<int(const Vector3&)>& choose);

} // namespace tidemark::test
