// Meshes for the tests, made in memory.
#pragma once

#include "solver/fill_problem.hpp"

#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

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

/// The part of a polar grid between two radii and 0 .. angle, radii in geometric progression. Nodes
/// off the edges are shifted at random by up to jitter times the cell.
ShellMesh annulus(double inner, double outer, int radial, int around, double angle,
                  double jitter = 0, std::uint32_t seed = 0);

/// An equilateral triangle with a corner at the origin and a side along x, cut into divisions^2
/// triangles.
ShellMesh triangle_plate(double side, int divisions, double jitter = 0, std::uint32_t seed = 0);

/// Three plates of length x width that meet in an edge: one from x = -length to 0, the others
/// beyond it, turned up and down by 60 degrees.
ShellMesh t_joint(double length, double width, int columns, int rows);

/// Parts put together; nodes within 1e-9 m of each other become one.
ShellMesh welded(const std::vector<ShellMesh>& parts);

/// The same mesh with nodes and elements in random order and the corners of each element turned.
struct Renumbered {
  ShellMesh mesh;
  PerNode<NodeId> node;          // new id of each old node
  PerElement<ElementId> element; // new id of each old element
};
Renumbered renumbered(const ShellMesh& mesh, std::uint32_t seed);

/// Puts a flat mesh round the origin on a sphere, the distance from the origin becoming the arc
/// from the pole (0, 0, radius).
void wrap_on_sphere(ShellMesh& mesh, double radius);

/// Puts a flat mesh round the origin on a cone with its tip there: the distance from the origin
/// becomes the slant distance, the angle round it the angle round the axis.
void wrap_on_cone(ShellMesh& mesh, double half_angle);

/// Rolls a plate on a cylinder along y: x becomes the arc.
void roll_on_cylinder(ShellMesh& mesh, double radius);

/// Folds at x = at: what lies beyond is turned up by an angle. Further folds go inwards.
void fold_at(ShellMesh& mesh, double at, double angle);

/// Turns about an axis through the origin and shifts.
void move_rigidly(ShellMesh& mesh, const Vector3& axis, double angle, const Vector3& shift);

/// Moves the node nearest to a point to it.
NodeId move_node_to(ShellMesh& mesh, const Vector3& point);

/// Moves the nodes within a distance of the line x = at on it.
void straighten(ShellMesh& mesh, double at, double within);

/// Moves every node.
void deform(ShellMesh& mesh, const std::function<Vector3(const Vector3&)>& map);

/// Nodes where the test is true.
std::vector<NodeId> nodes_where(const ShellMesh& mesh,
                                const std::function<bool(const Vector3&)>& test);

/// How values at the nodes scatter about zero.
struct Scatter {
  double mean = 0;
  double rms = 0;
  double worst = 0; // largest |value|
  std::size_t count = 0;
};
/// Over the nodes for which there is a value; a NaN makes all of it NaN.
Scatter scatter_of(const ShellMesh& mesh,
                   const std::function<std::optional<double>(NodeId, const Vector3&)>& value);

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
