// A triangulation of the same nodes on which the flow conductances have the right sign.
//
// With linear shape functions the conductance of edge ab is the sum over its triangles of
//     1/2 h det(K) (u . K^-1 v) / |u x v|,    u = a - c, v = b - c, c the opposite corner,
// which is h sqrt(det K) / 2 times the cotangent of the angle at c measured in the metric K^-1.
// A negative sum would let a dry node be drained by a full neighbour. In the triangulation that is
// Delaunay in that metric no edge inside a region has a negative sum (the lifted-paraboloid
// argument of the isotropic case after a linear map).
#pragma once

#include "mesh/triangulation.hpp"
#include "solver/fill_problem.hpp"

namespace tidemark {

/// A triangle the flow is computed on.
struct FlowTriangle {
  std::array<NodeId, 3> corners;
  RegionId region;
  double transmissivity_1; // h K1 [m3]
  double transmissivity_2; // h K2 [m3]
  Vector3 direction_1;     // unit vector of K1 in the triangle's plane
};

struct FlowTriangles {
  PerTriangle<FlowTriangle> triangles;
  std::size_t edges = 0;   // of the triangulation
  std::size_t flipped = 0; // exchanges made
};

/// The three terms 1/2 h det(K) (u . K^-1 v) / |u x v| of a triangle [m3], the i-th for the edge
/// opposite corner i.
std::array<double, 3> edge_terms(const FlowTriangle& triangle, const PerNode<Vector3>& positions);

/// Flips edges inside regions, between triangles that are nearly in one plane, until the
/// triangulation is Delaunay in the flow metric. Edges on region borders, free edges, edges where
/// more than two triangles meet and creases stay; so do edges inside a region between triangles
/// whose h K1 or h K2 differ by more than a quarter or whose K1 point apart by more than 20 degrees
/// (unless K1 and K2 are nearly the same).
FlowTriangles flow_triangles(const FillProblem& problem, const Triangulation& triangulation);

} // namespace tidemark
